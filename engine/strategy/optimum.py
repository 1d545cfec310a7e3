"""The plan of least expected minutes, exact as long as the problem fits the budget of the programme."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from lapwise.engine.strategy.arrays import Arrays, Floats, arrays_of, sequence_end
from lapwise.engine.strategy.lattice import OutOfTime, Sets, Values, never, sets_of, solve, state_count, stop_at
from lapwise.engine.strategy.layout import steps_of, with_the_rest
from lapwise.engine.strategy.model import DecisionProblem, LookValue, Plan, RunnerUp
from lapwise.engine.strategy.reduced import Reduced
from lapwise.engine.strategy.reduction import MOST_REMEDIES, MOST_STATES, keep, useful, weights
from lapwise.engine.strategy.rollout import quick
from lapwise.engine.strategy.runs import greedy_runs

FIRST_SIZES = (150_000,)
"""Smaller programmes run first, so that a problem beyond the budget has an answer early on a slow machine."""
LookValues = dict[int, tuple[float, int]]
"""Look number to (minutes saved by that look alone, places before it)."""
WORTH_MINUTES = 1e-6
"""A look that saves less than this saves nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class _Path:
    """The way through the tables while every remedy fails. ``look``: (number, places before it) of the first look."""

    order: list[int]
    tail: int
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
            return _Path(order, int(table.tail[state]), first, float(table.end[0]), look)
        order.append(best)
        state |= 1 << best


def _look_values(
    a: Arrays, sets: Sets, looks: Sequence[int], tails: Sequence[Floats], base: Values, stop: Callable[[], bool]
) -> LookValues:
    """Per look alone: (minutes saved against no look, places before it)."""
    out: LookValues = {}
    for k in looks:
        alone = solve(a, sets, (k,), tails, stop)
        saved = float(base.root[0] - alone.root[0])
        path = _path(a, sets, alone, base)
        out[k] = (max(0.0, saved), path.look[1] if path.look else 0)
    return out


def _subset(a: Arrays, remedies: Sequence[int]) -> Arrays:
    rows = np.asarray(remedies, dtype=np.int64)
    return Arrays(
        a.p, a.fix[rows], a.base[rows], a.setup[rows], a.group[rows], a.paid, a.look_minutes, a.likelihood, a.end
    )


def tail_order(a: Arrays, kept: Sequence[int]) -> list[int]:
    """The order of the remedies that do not fit, once those that do have failed."""
    mass = a.p.copy()
    done = np.zeros((1, a.fix.shape[0]), dtype=bool)
    for r in kept:
        mass = mass * (1.0 - a.fix[r])
        done[0, r] = True
    if float(mass.sum()) <= 0:
        return []
    return greedy_runs(a, mass[None, :], done, a.paid[None, :]).order(0)


@dataclass(frozen=True, slots=True, eq=False)
class _Choice:
    remedies: list[int]
    looks: list[int]
    lossless: bool


def _choose(a: Arrays, ranked: Sequence[int], looks: Sequence[int], states: int) -> _Choice:
    """As many of the ranked remedies as fit with these looks."""
    results = [a.likelihood[k].shape[0] for k in looks]
    count = min(len(ranked), MOST_REMEDIES)
    while count > 1 and state_count(count, results) > states:
        count -= 1
    return _Choice(sorted(ranked[:count]), sorted(looks), count == len(ranked))


def _pick_looks(a: Arrays, values: LookValues, states: int, remedies: int) -> list[int]:
    """The looks worth most alone that leave room for ten remedies (or all, if fewer)."""
    chosen: list[int] = []
    for k in sorted(values, key=lambda k: (-values[k][0], k)):
        results = [a.likelihood[j].shape[0] for j in (*chosen, k)]
        if state_count(min(remedies, 10), results) <= states and (values[k][0] > 0 or len(chosen) < 4):
            chosen.append(k)
    return chosen


def _fits(a: Arrays, states: int) -> bool:
    """Whether everything that counts goes into a programme of so many states."""
    remedies, looks = useful(a)
    if len(remedies) > MOST_REMEDIES:
        return False
    return state_count(len(remedies), [a.likelihood[k].shape[0] for k in looks]) <= states


def _first_values(a: Arrays, stop: Callable[[], bool]) -> LookValues:
    """A first value of each look alone, with the nine remedies that cure most."""
    remedies, looks = useful(a)
    small = sorted(_ranked(a, remedies)[:9])
    part = _subset(a, small)
    sets = sets_of(part)
    tails = [a.end, sequence_end(a, tail_order(a, small))]
    base = solve(part, sets, (), tails, stop)
    return _look_values(part, sets, looks, tails, base, stop)


def _ranked(a: Arrays, remedies: Sequence[int]) -> list[int]:
    standing = set(remedies)
    return [int(r) for r in weights(a)[0] if int(r) in standing]


def _prepare(a: Arrays, states: int, values: LookValues) -> _Choice:
    """What goes into a programme of so many states, the looks chosen by their first ``values``."""
    remedies, looks = useful(a)
    if _fits(a, states):
        return _Choice(remedies, looks, True)
    chosen = _pick_looks(a, values, states, len(remedies))
    choice = _choose(a, _ranked(a, remedies), chosen, states)
    return _Choice(choice.remedies, choice.looks, choice.lossless and len(chosen) == len(looks))


def reduce(problem: DecisionProblem, states: int = MOST_STATES) -> Reduced:
    """The part of the problem that the exact programme would take on, and whether anything that counts is left out."""
    a = arrays_of(problem)
    choice = _prepare(a, states, {} if _fits(a, states) else _first_values(a, never))
    return keep(problem, choice.remedies, choice.looks, lossless=choice.lossless)


def exact(
    problem: DecisionProblem,
    deadline_seconds: float | None = None,
    *,
    cancelled: Callable[[], bool] = never,
    states: int = MOST_STATES,
) -> Plan | None:
    """The order and look of least expected minutes, or None if the deadline passes or ``cancelled()`` is true first.

    ``Plan.exact`` is true if everything with any chance went into the programme. Beyond the budget the remedies that
    cure most and the looks that save most go in, and the other remedies stand ready as one fixed tail before the
    last resort: the expected minutes are then those of a real policy, and ``exact`` is false. So are they if the
    quick plan comes out lower, which then stands instead.
    """
    stop = stop_at(deadline_seconds, cancelled)
    a = arrays_of(problem)
    found: Plan | None = None
    try:
        if _fits(a, states):
            return _exact(problem, a, _prepare(a, states, {}), {}, stop)
        values = _first_values(a, stop)
        for size in (*(s for s in FIRST_SIZES if s < states), states):
            plan = _exact(problem, a, _prepare(a, size, values), values, stop)
            if found is None or plan.expected_minutes < found.expected_minutes:
                found = plan
    except OutOfTime:
        if found is None or cancelled():
            return None
    assert found is not None
    at_once = quick(problem)
    return at_once if at_once.expected_minutes < found.expected_minutes else found


def _exact(problem: DecisionProblem, a: Arrays, choice: _Choice, values: LookValues, stop: Callable[[], bool]) -> Plan:
    part = _subset(a, choice.remedies)
    sets = sets_of(part)
    rest = [] if len(choice.remedies) == a.fix.shape[0] else tail_order(a, choice.remedies)
    tails = [a.end] + ([sequence_end(a, rest)] if rest else [])
    base = solve(part, sets, (), tails, stop)
    if not values:
        values = _look_values(part, sets, choice.looks, tails, base, stop)
    full = solve(part, sets, choice.looks, tails, stop) if choice.looks else base
    path = _path(part, sets, full, base)
    numbers = [choice.remedies[r] for r in path.order] + (rest if path.tail else [])
    steps = steps_of(problem, a, with_the_rest(a, numbers, last=problem.last_resort is not None))
    looks = tuple(
        LookValue(look.id, look.minutes, values.get(k, (0.0, 0))[0], values.get(k, (0.0, 0))[1] + 1)
        for k, look in enumerate(problem.looks)
    )
    look = None
    if path.look is not None:
        number, before = path.look
        saved = values.get(number, (0.0, 0))[0]
        if saved <= WORTH_MINUTES:  # worth something only together with another look
            saved = float(base.root[0] - full.root[0])
        look = LookValue(problem.looks[number].id, problem.looks[number].minutes, saved, before + 1)
        looks = tuple(look if entry.id == look.id else entry for entry in looks)
    return Plan(steps, look, looks, float(full.root[0]), choice.lossless, _runner_up(problem, choice, path))


def _runner_up(problem: DecisionProblem, choice: _Choice, path: _Path) -> RunnerUp | None:
    lead = path.order[0] if path.order else None
    others = {r: v for r, v in path.first.items() if r != lead}
    if not others:
        return None
    second = min(others, key=lambda r: (others[r], r))
    best = path.start if lead is None else path.first[lead]
    return RunnerUp(problem.remedies[choice.remedies[second]].id, max(0.0, others[second] - best))
