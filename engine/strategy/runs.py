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
    """B greedy runs. ``minutes``: (B,) expected minutes, times the run's mass. ``picks``: (steps, B) remedy numbers.

    ``stops``: (B,) how many of the picks come before the last resort.
    """

    minutes: Floats
    picks: Ints
    stops: Ints

    def order(self, run: int) -> list[int]:
        """Remedy numbers of one run up to the last resort."""
        return [int(r) for r in self.picks[: int(self.stops[run]), run]]


def greedy_runs(a: Arrays, mass: Floats, done: Bools, paid: Bools, *, to_the_end: bool = False) -> Runs:
    """Greedy orders from B states: ``mass`` (B, C) unnormalised, ``done`` (B, R), ``paid`` (B, G).

    A run ends when no remedy saves more than it costs against the last resort, or with ``to_the_end`` only when
    every remedy is done; its value is that of the best place to stop.
    """
    count, remedies = done.shape
    mass, done, paid = mass.copy(), done.copy(), paid.copy()
    rows = np.arange(count)
    spent = np.zeros(count)
    best = mass @ a.end
    stops = np.zeros(count, dtype=np.int64)
    picks: list[Ints] = []
    top = float(a.end.max())
    fix_t = np.ascontiguousarray(a.fix.T)
    blocked = np.where(done, -np.inf, 0.0)
    tie = ties(a)
    cost = a.base + np.where(paid[:, a.group], 0.0, a.setup)
    shared = bool((np.bincount(a.group, minlength=1) > 1).any()) if remedies else False
    for step in range(remedies):
        total = mass.sum(axis=1)
        rate = (mass @ fix_t) * tie / cost + blocked
        pick = rate.argmax(axis=1)
        gain = rate[rows, pick]
        if not (gain > 0).any() or (not to_the_end and not (gain * top > total).any()):
            break
        spent = spent + np.where(gain > -np.inf, cost[rows, pick] * total, 0.0)
        mass = np.where((gain > -np.inf)[:, None], mass * (1.0 - a.fix[pick]), mass)
        blocked[rows, pick] = -np.inf
        if shared:
            group = a.group[pick]
            paid[rows, group] = True
            cost = a.base + np.where(paid[:, a.group], 0.0, a.setup)
        picks.append(pick)
        here = spent + mass @ a.end
        better = here < best - 1e-12
        best = np.where(better, here, best)
        stops = np.where(better, step + 1, stops)
    table = np.array(picks, dtype=np.int64).reshape(len(picks), count)
    return Runs(best, table, stops)


def ties(a: Arrays) -> Floats:
    """(R,) factors a hair above 1: among equal rates the remedy with the greater chance from the start comes first."""
    return 1.0 + 1e-12 * (a.fix @ a.p)


def greedy_order(a: Arrays, *, to_the_end: bool = False) -> tuple[list[int], float]:
    """(remedy numbers before the last resort, expected minutes) of the greedy order from the start."""
    start = np.zeros((1, a.fix.shape[0]), dtype=bool)
    runs = greedy_runs(a, a.p[None, :], start, a.paid[None, :], to_the_end=to_the_end)
    return runs.order(0), float(runs.minutes[0])
