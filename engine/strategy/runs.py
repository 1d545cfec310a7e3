"""Greedy orders for many states at once: the remedy with the best chance per minute next, chances updated.

Source of the bound: greedy with updating costs at most four times the optimum (Lin 2014, Int. J. Approximate
Reasoning 55). Where no remedy earns its minutes against the last resort any more, the last resort is taken.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapwise.engine.strategy.arrays import Arrays, Bools, Floats, Ints


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """B greedy runs. ``minutes``: (B,) expected minutes, times the run's mass.

    ``picks``: (steps, B) remedy numbers, -1 once a run has ended.
    ``stops``: (B,) how many of the picks come before the last resort.
    """

    minutes: Floats
    picks: Ints
    stops: Ints

    def order(self, run: int) -> list[int]:
        """Remedy numbers of one run up to the last resort."""
        return [int(r) for r in self.picks[: int(self.stops[run]), run]]


def greedy_runs(a: Arrays, mass: Floats, done: Bools, paid: Bools) -> Runs:
    """Greedy orders from B states: ``mass`` (B, C) unnormalised, ``done`` (B, R), ``paid`` (B, G).

    A run ends when the best remedy saves less than it costs against the last resort; its value is that of the best
    place to stop on the way. Each run is independent of the others.
    """
    count, remedies = done.shape
    best = mass @ a.end
    stops = np.zeros(count, dtype=np.int64)
    picks: list[Ints] = []
    top = float(a.end.max())
    fix_t = np.ascontiguousarray((a.fix * ties(a)[:, None]).T)
    keep = 1.0 - a.fix
    shared = bool((np.bincount(a.group, minlength=1) > 1).any()) if remedies else False
    shares = np.zeros(a.paid.size)  # the dearest set-up of each group: one that is free may spare another its own
    np.maximum.at(shares, a.group, a.setup)
    running = np.arange(count)
    spent = np.zeros(count)
    blocked = np.where(done, -np.inf, 0.0)
    cost = a.base + np.where(paid[:, a.group], 0.0, a.setup)
    for step in range(remedies):
        total = mass.sum(axis=1)
        rate = mass @ fix_t
        rate /= cost
        rate += blocked
        pick = rate.argmax(axis=1)
        alive = rate[np.arange(pick.size), pick] * top > total
        if not alive.all():
            if not alive.any():
                break
            running, mass, spent, blocked = running[alive], mass[alive], spent[alive], blocked[alive]
            cost, paid, total, pick = cost[alive], paid[alive], total[alive], pick[alive]
        rows = np.arange(pick.size)
        spent = spent + cost[rows, pick] * total
        mass = mass * keep[pick]
        blocked[rows, pick] = -np.inf
        if shared:
            if step == 0:
                paid = paid.copy()
            paid[rows, a.group[pick]] = True
            due = shares[a.group[pick]] > 0
            if due.any():
                cost[due] = a.base + np.where(paid[due][:, a.group], 0.0, a.setup)
        chosen = np.full(count, -1, dtype=np.int64)
        chosen[running] = pick
        picks.append(chosen)
        here = spent + mass @ a.end
        better = here < best[running] - 1e-12
        best[running[better]] = here[better]
        stops[running[better]] = step + 1
    table = np.array(picks, dtype=np.int64).reshape(len(picks), count)
    return Runs(best, table, stops)


def ties(a: Arrays) -> Floats:
    """(R,) factors a hair above 1: among equal rates the remedy with the greater chance from the start comes first."""
    return 1.0 + 1e-12 * (a.fix @ a.p)


def greedy_order(a: Arrays) -> tuple[list[int], float]:
    """(remedy numbers before the last resort, expected minutes) of the greedy order from the start."""
    start = np.zeros((1, a.fix.shape[0]), dtype=bool)
    runs = greedy_runs(a, a.p[None, :], start, a.paid[None, :])
    return runs.order(0), float(runs.minutes[0])
