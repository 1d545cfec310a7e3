"""Which remedies and looks go into the exact programme when there are more than it holds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lapwise.engine.strategy.arrays import Arrays, Ints
from lapwise.engine.strategy.layout import NEGLIGIBLE
from lapwise.engine.strategy.model import DecisionProblem
from lapwise.engine.strategy.reduced import Reduced
from lapwise.engine.strategy.runs import greedy_runs

MOST_STATES = 1_400_000
"""States that are filled well within a second on one slow core; 10 remedies with 4 looks of 5 results are 1,327,104."""


MOST_REMEDIES = 16
"""The tables over sets of remedies hold a row of all causes for each set: 2**16 rows of 46 are 24 MB."""


def useful(a: Arrays) -> tuple[list[int], list[int]]:
    """Numbers of the remedies with any chance and of the looks that can tell any two likely causes apart.

    What is left out here cannot change the answer.
    """
    chance = a.fix @ a.p
    remedies = [int(r) for r in np.nonzero(chance > NEGLIGIBLE)[0]]
    live = a.p > 0
    looks = [k for k, rows in enumerate(a.likelihood) if float(np.ptp(rows[:, live], axis=1).max()) > 1e-12]
    return remedies, looks


def weights(a: Arrays) -> tuple[Ints, dict[int, float]]:
    """Remedy numbers by how much of the trouble they cure when the greedy order is followed, most first, over the
    start and over every result of every look; and that share per remedy."""
    remedies = a.fix.shape[0]
    states = [a.p] + [a.p * row for rows in a.likelihood for row in rows]
    worth = np.array([1.0] + [float(s.sum()) / max(1, len(a.likelihood)) for s in states[1:]])
    mass = np.array(states)
    runs = greedy_runs(
        a, mass, np.zeros((len(states), remedies), dtype=bool), np.repeat(a.paid[None, :], len(states), axis=0)
    )
    cured = np.zeros(remedies)
    for run, state in enumerate(states):
        left = state / max(float(state.sum()), 1e-300)
        for r in runs.order(run):
            cured[r] += worth[run] * float(left @ a.fix[r])
            left = left * (1.0 - a.fix[r])
    order = np.lexsort((np.arange(remedies), -cured)).astype(np.int64)
    return order, {r: float(cured[r]) for r in range(remedies)}


def keep(problem: DecisionProblem, remedies: list[int], looks: list[int], *, lossless: bool) -> Reduced:
    """The problem with only these remedies and looks, in their old order."""
    kept_remedies, kept_looks = sorted(remedies), sorted(looks)
    return Reduced(
        replace(
            problem,
            remedies=tuple(problem.remedies[r] for r in kept_remedies),
            looks=tuple(problem.looks[k] for k in kept_looks),
        ),
        tuple(r.id for i, r in enumerate(problem.remedies) if i not in kept_remedies),
        tuple(k.id for i, k in enumerate(problem.looks) if i not in kept_looks),
        lossless,
    )
