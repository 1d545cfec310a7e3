"""A good plan at once: the better of one-step rollout and a look now or after the best remedy.

Rollout tries each likely first remedy and goes on greedily; the greedy order is among what it compares, so it is
never worse than that (Bertsekas, Tsitsiklis and Wu 1997, J. Heuristics 3: rollout never falls behind its base; from
memory). A look is taken where its minutes and the greedy orders after each result come out below that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapwise.engine.strategy.arrays import Arrays, Bools, Floats, arrays_of
from lapwise.engine.strategy.layout import NEGLIGIBLE, steps_of, with_the_rest
from lapwise.engine.strategy.model import DecisionProblem, LookValue, Plan, RunnerUp
from lapwise.engine.strategy.runs import Runs, greedy_runs

FIRST_REMEDIES = 10
"""How many first remedies the rollout tries."""


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    """Where the search stands: unnormalised masses (C,), done (R,), paid (G,)."""

    mass: Floats
    done: Bools
    paid: Bools

    def after(self, a: Arrays, r: int) -> _State:
        done, paid = self.done.copy(), self.paid.copy()
        done[r] = True
        paid[a.group[r]] = True
        return _State(self.mass * (1.0 - a.fix[r]), done, paid)

    def minutes(self, a: Arrays, r: int) -> float:
        return float(a.base[r] + (0.0 if self.paid[a.group[r]] else a.setup[r])) * float(self.mass.sum())


def _runs(a: Arrays, states: list[_State]) -> Runs:
    return greedy_runs(
        a, np.array([s.mass for s in states]), np.array([s.done for s in states]), np.array([s.paid for s in states])
    )


def _seen(a: Arrays, state: _State) -> list[_State]:
    """The states after each result of each look, look by look."""
    return [_State(state.mass * row, state.done, state.paid) for rows in a.likelihood for row in rows]


def _per_look(a: Arrays, minutes: Floats, mass: float) -> Floats:
    """(looks,) expected minutes of taking each look, from the minutes after each of its results."""
    sizes = [rows.shape[0] for rows in a.likelihood]
    if not sizes:
        return np.zeros(0)
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    return np.add.reduceat(minutes, starts) + a.look_minutes * mass


def _likely(a: Arrays, state: _State, count: int) -> list[int]:
    """The remedies with most chance per minute now, best first."""
    cost = a.base + np.where(state.paid[a.group], 0.0, a.setup)
    rate = np.where(state.done, -1.0, (a.fix @ state.mass) / cost)
    return [int(r) for r in np.argsort(-rate, kind="stable")[:count] if rate[r] > 0]


def quick(problem: DecisionProblem) -> Plan:
    """A plan in about a millisecond or two; its expected minutes never exceed those of the greedy order.

    They are those of the orders compared (rollout, or one look and then greedy), an upper bound on what planning
    afresh after every outcome comes to.
    """
    a = arrays_of(problem)
    start = _State(a.p, ~(a.fix @ a.p > NEGLIGIBLE), a.paid)
    firsts = _likely(a, start, FIRST_REMEDIES)
    tried = [start.after(a, r) for r in firsts]
    runs = _runs(a, [start, *tried, *_seen(a, start)])
    n = len(firsts)
    by_first = {r: start.minutes(a, r) + float(runs.minutes[1 + i]) for i, r in enumerate(firsts)}
    order, best = runs.order(0), float(runs.minutes[0])
    for i, r in enumerate(firsts):
        if by_first[r] < best - 1e-12:
            order, best = [r, *runs.order(1 + i)], by_first[r]
    now = _per_look(a, runs.minutes[1 + n :], 1.0)
    later = np.full(now.shape, np.inf)
    if order and now.size:
        after = start.after(a, order[0])
        seen = _runs(a, _seen(a, after))
        later = _per_look(a, seen.minutes, float(after.mass.sum())) + start.minutes(a, order[0])
    looks = tuple(
        LookValue(look.id, look.minutes, max(0.0, best - float(min(now[k], later[k]))), 1 if now[k] <= later[k] else 2)
        for k, look in enumerate(problem.looks)
    )
    look = max(looks, key=lambda entry: entry.value_minutes, default=None)
    if look is not None and look.value_minutes <= 1e-9:
        look = None
    steps = steps_of(problem, a, with_the_rest(a, order, last=problem.last_resort is not None))
    minutes = best - (look.value_minutes if look else 0.0)
    return Plan(steps, look, looks, minutes, _runner_up(problem, by_first, order, best))


def _runner_up(problem: DecisionProblem, by_first: dict[int, float], order: list[int], best: float) -> RunnerUp | None:
    others = {r: v for r, v in by_first.items() if not order or r != order[0]}
    if not others:
        return None
    second = min(others, key=lambda r: (others[r], r))
    return RunnerUp(problem.remedies[second].id, max(0.0, others[second] - best))
