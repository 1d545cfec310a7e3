"""The plan of least expected minutes: what the quick order is held against."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from tests.strategy_oracle.lattice import Sets, Values, sets_of, solve, state_count

from lapwise.engine.strategy import DecisionProblem, LookValue, Plan, RunnerUp
from lapwise.engine.strategy.arrays import Arrays, arrays_of
from lapwise.engine.strategy.layout import NEGLIGIBLE, steps_of, with_the_rest
from lapwise.engine.strategy.runs import greedy_order

MOST_STATES = 1_400_000
"""10 remedies with 4 looks of 5 results are 1,327,104."""
MOST_REMEDIES = 16
"""The tables over sets of remedies hold a row of all causes for each set: 2**16 rows of 46 are 24 MB."""
LookValues = dict[int, tuple[float, int]]
"""Look number to (minutes saved by that look alone, places before it)."""
WORTH_MINUTES = 1e-6
"""A look that saves less than this saves nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class _Path:
    """The way through the tables while every remedy fails. ``look``: (number, places before it) of the first look."""

    order: list[int]
    first: dict[int, float]
    """Expected minutes by first remedy."""
    start: float
    """Expected minutes of going to the end at once."""
    look: tuple[int, int] | None


def _path(a: Arrays, sets: Sets, with_looks: Values, without: Values) -> _Path:
    order: list[int] = []
    state, look = 0, None
    table = with_looks
    first: dict[int, float] = {}
    remedies = a.fix.shape[0]
    while True:
        mass = float(table.mass[state])
        after = {
            r: float(sets.cost[state, r]) * mass + float(table.root[state | 1 << r])
            for r in range(remedies)
            if not state >> r & 1
        }
        best = min(after, key=lambda r: (after[r], r)) if after else None
        value = float(table.end[state])
        if best is not None:
            value = min(value, after[best])
        if look is None:
            looked = {k: float(a.look_minutes[k]) * mass + float(rows[state].sum()) for k, rows in table.one.items()}
            chosen = min(looked, key=lambda k: (looked[k], k)) if looked else None
            if chosen is not None and looked[chosen] < value - WORTH_MINUTES * max(mass, 1e-12):
                look = (chosen, len(order))
                table = without
                continue
        if state == 0:
            first = after
        if best is None or float(table.end[state]) < after[best] - 1e-12:
            return _Path(order, first, float(table.end[0]), look)
        order.append(best)
        state |= 1 << best


def _look_values(a: Arrays, sets: Sets, looks: Sequence[int], base: Values) -> LookValues:
    """Per look alone: (minutes saved against no look, places before it)."""
    out: LookValues = {}
    for k in looks:
        alone = solve(a, sets, (k,))
        saved = float(base.root[0] - alone.root[0])
        path = _path(a, sets, alone, base)
        out[k] = (max(0.0, saved), path.look[1] if path.look else 0)
    return out


def _subset(a: Arrays, remedies: Sequence[int]) -> Arrays:
    rows = np.asarray(remedies, dtype=np.int64)
    return Arrays(
        a.p, a.fix[rows], a.base[rows], a.setup[rows], a.group[rows], a.paid, a.look_minutes, a.likelihood, a.end
    )


def useful(a: Arrays) -> tuple[list[int], list[int]]:
    """Numbers of the remedies with any chance and of the looks that can tell any two likely causes apart.

    What is left out here cannot change the answer.
    """
    chance = a.fix @ a.p
    remedies = [int(r) for r in np.nonzero(chance > NEGLIGIBLE)[0]]
    live = a.p > 0
    looks = [k for k, rows in enumerate(a.likelihood) if float(np.ptp(rows[:, live], axis=1).max()) > 1e-12]
    return remedies, looks


def fits(problem: DecisionProblem) -> bool:
    """Whether all that counts in the problem goes into the programme."""
    a = arrays_of(problem)
    remedies, looks = useful(a)
    results = [a.likelihood[k].shape[0] for k in looks]
    return len(remedies) <= MOST_REMEDIES and state_count(len(remedies), results) <= MOST_STATES


def exact(problem: DecisionProblem) -> Plan:
    """The order and look of least expected minutes. Raises ValueError for a problem that does not fit."""
    if not fits(problem):
        raise ValueError("more remedies and looks than the programme holds")
    a = arrays_of(problem)
    remedies, usable = useful(a)
    part = _subset(a, remedies)
    sets = sets_of(part)
    base = solve(part, sets, ())
    values = _look_values(part, sets, usable, base)
    full = solve(part, sets, usable) if usable else base
    path = _path(part, sets, full, base)
    order = with_the_rest(a, [remedies[r] for r in path.order], last=problem.last_resort is not None)
    looks = tuple(
        LookValue(look.id, look.minutes, values.get(k, (0.0, 0))[0], values.get(k, (0.0, 0))[1] + 1)
        for k, look in enumerate(problem.looks)
    )
    look = None
    if path.look is not None:
        number, before = path.look
        saved = values[number][0]
        if saved <= WORTH_MINUTES:  # worth something only together with another look
            saved = float(base.root[0] - full.root[0])
        look = LookValue(problem.looks[number].id, problem.looks[number].minutes, saved, before + 1)
        looks = tuple(look if entry.id == look.id else entry for entry in looks)
    return Plan(steps_of(problem, a, order), look, looks, float(full.root[0]), _runner_up(problem, remedies, path))


def greedy(problem: DecisionProblem) -> Plan:
    """The plain order by chance per minute, chances updated, without looks: the yardstick."""
    a = arrays_of(problem)
    order, minutes = greedy_order(a)
    steps = steps_of(problem, a, with_the_rest(a, order, last=problem.last_resort is not None))
    return Plan(steps, None, (), minutes, None)


def _runner_up(problem: DecisionProblem, remedies: Sequence[int], path: _Path) -> RunnerUp | None:
    lead = path.order[0] if path.order else None
    others = {r: v for r, v in path.first.items() if r != lead}
    if not others:
        return None
    second = min(others, key=lambda r: (others[r], r))
    best = path.start if lead is None else path.first[lead]
    return RunnerUp(problem.remedies[remedies[second]].id, max(0.0, others[second] - best))
