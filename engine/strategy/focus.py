"""The exact order of what counts: remedies and looks too weak to matter stand behind it, not in the programme.

A case from the bench has some chance for nearly every remedy there is; the programme holds a dozen or two. What has
less than :data:`LEAST_CHANCE` at the start, and looks that save less than :data:`LEAST_MINUTES`, are left out of the
search for the order; the remedies among them follow at the end, so that the expected minutes are those of a real
policy.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from lapwise.engine.strategy.arrays import arrays_of, sequence_end
from lapwise.engine.strategy.lattice import state_count
from lapwise.engine.strategy.layout import steps_of, with_the_rest
from lapwise.engine.strategy.model import DecisionProblem, LastResort, LookValue, Plan
from lapwise.engine.strategy.optimum import exact, tail_order
from lapwise.engine.strategy.reduction import MOST_REMEDIES, MOST_STATES

LEAST_CHANCE = 0.01
"""A remedy with less chance than this at the start is not put in order exactly."""
LEAST_MINUTES = 0.25
"""A look that saves less than this is not worth the reading of it."""


def focused(
    problem: DecisionProblem,
    at_once: Plan,
    deadline_seconds: float | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Plan | None:
    """The order of least expected minutes of what counts, or None beyond the budget or past the deadline.

    ``at_once``: the quick plan of the same problem, whose values of looks decide which look counts.
    """
    a = arrays_of(problem)
    chance = a.fix @ a.p
    kept = [r for r in range(len(problem.remedies)) if chance[r] >= LEAST_CHANCE]
    saving = {v.id for v in at_once.looks if v.value_minutes >= LEAST_MINUTES}
    looks = tuple(k for k in problem.looks if k.id in saving)
    if not 0 < len(kept) <= MOST_REMEDIES:
        return None
    if state_count(len(kept), [len(k.likelihood) for k in looks]) > MOST_STATES:
        return None
    tail = tail_order(a, kept)
    end = sequence_end(a, tail)
    low, high = float(end.min()), float(end.max())
    certainty = tuple(1.0 - (end - low) / (high - low)) if high > low else None
    small = replace(
        problem,
        remedies=tuple(problem.remedies[r] for r in kept),
        looks=looks,
        last_resort=LastResort("the-rest", low, certainty, high - low),
    )
    plan = exact(small, deadline_seconds, cancelled=cancelled or _never)
    if plan is None or not plan.exact:
        return None
    place = {r.id: i for i, r in enumerate(problem.remedies)}
    order: list[int] = []
    for step in plan.order:
        if step.remedy == "the-rest":
            order += tail
            break
        order.append(place[step.remedy])
    valued = {v.id: v for v in plan.looks}
    shown: tuple[LookValue, ...] = tuple(valued.get(v.id, v) for v in at_once.looks)
    steps = steps_of(problem, a, with_the_rest(a, order, last=problem.last_resort is not None))
    return replace(plan, order=steps, looks=shown)


def _never() -> bool:
    return False
