"""The problem as numpy arrays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from lapwise.engine.strategy.model import DecisionProblem

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
LAST = -1
"""Stands for the last resort where remedies are named by number."""
NO_LAST_RESORT_FACTOR = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class Arrays:
    """C causes, R remedies, G groups. ``end``: expected minutes of the last resort per cause."""

    p: Floats
    """(C,) summing to 1."""
    fix: Floats
    """(R, C)."""
    base: Floats
    """(R,) minutes with the expected cost of making it worse, without set-up."""
    setup: Floats
    """(R,)."""
    group: Ints
    """(R,) number of the set-up group; a remedy without one has a group of its own."""
    paid: Bools
    """(G,) set-ups already made."""
    look_minutes: Floats
    likelihood: tuple[Floats, ...]
    """Per look (results, C)."""
    end: Floats
    """(C,)."""


def arrays_of(problem: DecisionProblem) -> Arrays:
    """The arrays of a problem; O(causes x (remedies + results))."""
    p = np.asarray(problem.p, dtype=float)
    n, remedies = len(problem.causes), problem.remedies
    numbers: dict[Any, int] = {}
    group = [numbers.setdefault(r.group if r.group is not None else (r.id,), len(numbers)) for r in remedies]
    base = np.array([r.minutes + r.worse * r.worse_minutes for r in remedies], dtype=float)
    setup = np.array([r.setup_minutes for r in remedies], dtype=float)
    if problem.last_resort is not None:
        end = np.full(n, float(problem.last_resort.minutes))
    else:
        end = np.full(n, NO_LAST_RESORT_FACTOR * float(base.sum() + setup.sum() + 1.0))
    return Arrays(
        p=p / p.sum(),
        fix=np.array([r.fix for r in remedies], dtype=float).reshape(len(remedies), n),
        base=base,
        setup=setup,
        group=np.array(group, dtype=np.int64),
        paid=np.array([name in problem.paid_groups for name in numbers], dtype=bool),
        look_minutes=np.array([k.minutes for k in problem.looks], dtype=float),
        likelihood=tuple(np.asarray(k.likelihood, dtype=float) for k in problem.looks),
        end=end,
    )


def costs(a: Arrays, order: list[int]) -> list[float]:
    """Minutes of each remedy of an order, with its set-up where that is due."""
    out, paid = [], a.paid.copy()
    for r in order:
        out.append(float(a.base[r]) + (0.0 if paid[a.group[r]] else float(a.setup[r])))
        paid[a.group[r]] = True
    return out


def sequence_end(a: Arrays, order: list[int]) -> Floats:
    """(C,) expected minutes per cause of a fixed order followed by the last resort."""
    left, total = np.ones(a.p.size), np.zeros(a.p.size)
    for r, cost in zip(order, costs(a, order), strict=True):
        total += cost * left
        left = left * (1.0 - a.fix[r])
    return total + left * a.end
