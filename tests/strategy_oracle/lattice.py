"""The exact answer: a dynamic programme over which remedies are done and what the looks showed.

Given the cause all outcomes are independent, so the belief in a state depends only on the set S of remedies that
failed and on the results L seen, in whatever order they came. On masses m(S, L) = sum over causes of
P(c) * product over S of (1 - fix) * product over L of P(result | c) the recursion is linear:

    V(S, L) = min( end(S, L),
                   min over remedies r:  minutes(r, S) * m(S, L) + V(S + r, L),
                   min over looks k:     minutes(k) * m(S, L) + sum over results of V(S, L + (k, result)) )

The tables are filled from the full sets downwards, a layer of equal size at a time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from lapwise.engine.strategy.arrays import Arrays, Bools, Floats, Ints

Pattern = tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Sets:
    """What depends on the set of remedies done only. N = 2**R sets, bit r set if remedy r is done."""

    survive: Floats
    """(N, C) P(still not fixed | cause)."""
    cost: Floats
    """(N, R) minutes of each remedy with the set-up if it is due."""
    layers: tuple[tuple[Ints, Ints, Floats], ...]
    """Per size of the set: (n,) the sets, (n, R - size) the sets with one remedy more, and the minutes of that."""


@dataclass(frozen=True, slots=True, eq=False)
class Values:
    """Expected minutes times mass. ``root``: (N,) with no look taken yet; ``one``: per look (N, results)."""

    root: Floats
    one: dict[int, Floats]
    mass: Floats
    """(N,) with no look taken."""
    end: Floats
    """(N,) of the last resort."""


def state_count(remedies: int, results: Sequence[int]) -> int:
    """States of the programme: sets of remedies times what each look may have shown (or nothing yet)."""
    count = 1 << remedies
    for n in results:
        count *= n + 1
    return count


def sets_of(a: Arrays) -> Sets:
    """The tables over sets of remedies; O(2**R x (C + R))."""
    remedies = a.fix.shape[0]
    survive = np.ones((1, a.p.size))
    paid: Bools = a.paid[None, :]
    for r in range(remedies):
        survive = np.concatenate([survive, survive * (1.0 - a.fix[r])])
        more = paid.copy()
        more[:, a.group[r]] = True
        paid = np.concatenate([paid, more])
    cost = a.base + np.where(paid[:, a.group], 0.0, a.setup) if remedies else np.zeros((1, 0))
    sets = np.arange(1 << remedies, dtype=np.int64)
    member = (sets[:, None] >> np.arange(remedies)) & 1
    size = member.sum(axis=1)
    layers = []
    for k in range(remedies + 1):
        chosen = sets[size == k]
        missing = np.nonzero(member[chosen] == 0)[1].reshape(chosen.size, remedies - k)
        bigger = chosen[:, None] | (np.int64(1) << missing.astype(np.int64))
        layers.append((chosen, bigger, np.take_along_axis(cost[chosen], missing, axis=1)))
    return Sets(survive, cost, tuple(layers))


def solve(a: Arrays, sets: Sets, looks: Sequence[int]) -> Values:
    """The tables for these looks."""
    looks = tuple(looks)
    kept: dict[Pattern, Floats] = {}
    mass0 = end0 = np.zeros(0)
    for taken in range(len(looks), -1, -1):
        fresh: dict[Pattern, Floats] = {}
        for pattern in combinations(range(len(looks)), taken):
            weights = a.p[None, :]
            shape: tuple[int, ...] = ()
            for i in pattern:
                rows = a.likelihood[looks[i]]
                weights = (weights[:, None, :] * rows[None, :, :]).reshape(-1, a.p.size)
                shape = (*shape, rows.shape[0])
            mass = sets.survive @ weights.T
            value = sets.survive @ (weights * a.end).T
            if taken == 0:
                mass0, end0 = mass[:, 0], value[:, 0].copy()
            for i in range(len(looks)):
                if i in pattern:
                    continue
                place = sum(1 for j in pattern if j < i)
                bigger = tuple(sorted((*pattern, i)))
                after = kept[bigger].sum(axis=1 + place).reshape(value.shape)
                after += a.look_minutes[looks[i]] * mass
                np.minimum(value, after, out=value)
            _fill(sets, mass, value)
            fresh[pattern] = value.reshape((value.shape[0], *shape))
        if taken == 0:
            one = {looks[pattern[0]]: table for pattern, table in kept.items() if len(pattern) == 1}
            return Values(fresh[()].reshape(-1), one, mass0, end0)
        kept = fresh
    raise AssertionError("unreachable")


def _fill(sets: Sets, mass: Floats, value: Floats) -> None:
    """Lower ``value`` (N, L) by the remedies, from the full set down."""
    for chosen, bigger, costs in reversed(sets.layers[:-1]):
        best = value[chosen]
        here = mass[chosen]
        for j in range(bigger.shape[1]):
            after = value[bigger[:, j]]
            after += costs[:, j, None] * here
            np.minimum(best, after, out=best)
        value[chosen] = best
