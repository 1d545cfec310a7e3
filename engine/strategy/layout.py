"""From remedy numbers to the steps that are shown."""

from __future__ import annotations

import numpy as np

from lapwise.engine.strategy.arrays import LAST, Arrays, Floats
from lapwise.engine.strategy.model import DecisionProblem, Step
from lapwise.engine.strategy.runs import ties

NEGLIGIBLE = 1e-9
"""A remedy with less chance than this over all causes has none."""


def with_the_rest(a: Arrays, order: list[int], *, last: bool) -> list[int]:
    """``order``, then the last resort if there is one, then every other remedy with any chance, best chance per
    minute first among what is left."""
    out = list(order)
    mass = a.p.copy()
    for r in order:
        mass = mass * (1.0 - a.fix[r])
    if last:
        out.append(LAST)
    total = float(mass.sum())
    left = mass / total if total > 0 else a.p
    paid = a.paid.copy()
    paid[a.group[order]] = True
    waiting = a.fix @ a.p > NEGLIGIBLE
    waiting[order] = False
    tie = ties(a)
    while waiting.any():
        cost = a.base + np.where(paid[a.group], 0.0, a.setup)
        chosen = int(np.where(waiting, (a.fix @ left) * tie / cost, -1.0).argmax())
        out.append(chosen)
        waiting[chosen] = False
        paid[a.group[chosen]] = True
        left = _updated(left, a.fix[chosen])
    return out


def _updated(left: Floats, fix: Floats) -> Floats:
    after = left * (1.0 - fix)
    total = float(after.sum())
    return after / total if total > 1e-300 else left


def steps_of(problem: DecisionProblem, a: Arrays, order: list[int]) -> tuple[Step, ...]:
    """The steps of an order in which :data:`LAST` stands for the last resort."""
    out: list[Step] = []
    mass, paid = a.p.copy(), a.paid.copy()
    unfixed = 1.0
    for r in order:
        if r == LAST:
            if problem.last_resort is not None:
                unfixed = 0.0
                out.append(Step(problem.last_resort.id, 1.0, 1.0, problem.last_resort.minutes))
            continue
        total = float(mass.sum())
        chance = min(1.0, float(mass @ a.fix[r]) / total) if total > 1e-300 else 0.0
        due = 0.0 if paid[a.group[r]] else problem.remedies[r].setup_minutes
        unfixed *= 1.0 - chance
        out.append(Step(problem.remedies[r].id, chance, 1.0 - unfixed, problem.remedies[r].minutes + due))
        paid[a.group[r]] = True
        mass = mass * (1.0 - a.fix[r])
    return tuple(out)
