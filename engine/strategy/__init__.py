"""The order of remedies and looks with the least expected minutes to a good facet.

``quick`` answers at once, ``exact`` when it is ready, ``best`` takes the exact answer if it comes within a second.
The functions import numpy when they are called, not before.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from lapwise.engine.strategy.model import DecisionProblem, LastResort, Look, LookValue, Plan, Remedy, RunnerUp, Step
from lapwise.engine.strategy.reduced import Reduced

__all__ = [
    "DecisionProblem",
    "LastResort",
    "Look",
    "LookValue",
    "Plan",
    "Reduced",
    "Remedy",
    "RunnerUp",
    "Step",
    "best",
    "exact",
    "focused",
    "greedy",
    "led",
    "quick",
    "reduce",
]


def quick(problem: DecisionProblem) -> Plan:
    """A good plan in a few milliseconds; see :func:`lapwise.engine.strategy.rollout.quick`."""
    from lapwise.engine.strategy import rollout  # start-up time

    return rollout.quick(problem)


def greedy(problem: DecisionProblem) -> Plan:
    """The plain order by chance per minute, without looks: the yardstick."""
    from lapwise.engine.strategy import rollout  # start-up time

    return rollout.greedy(problem)


def exact(
    problem: DecisionProblem, deadline_seconds: float | None = None, cancelled: Callable[[], bool] | None = None
) -> Plan | None:
    """The plan of least expected minutes, None if not ready in time; see :mod:`lapwise.engine.strategy.optimum`."""
    from lapwise.engine.strategy import optimum  # start-up time

    return optimum.exact(problem, deadline_seconds, cancelled=cancelled or _never)


def best(problem: DecisionProblem, deadline_seconds: float = 1.0) -> Plan:
    """The exact plan if it is ready by the deadline (seconds), else the quick one."""
    return exact(problem, deadline_seconds) or quick(problem)


def focused(
    problem: DecisionProblem,
    at_once: Plan,
    deadline_seconds: float | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Plan | None:
    """The exact order of what counts, None beyond the budget; see :mod:`lapwise.engine.strategy.focus`."""
    from lapwise.engine.strategy import focus  # start-up time

    return focus.focused(problem, at_once, deadline_seconds, cancelled)


def led(problem: DecisionProblem, plan: Plan, remedies: Sequence[str], look: str | None) -> Plan:
    """The plan with what comes before everything else in front; see :mod:`lapwise.engine.strategy.lead`."""
    from lapwise.engine.strategy import lead

    return lead.led(problem, plan, remedies, look)


def reduce(problem: DecisionProblem) -> Reduced:
    """The part of the problem that :func:`exact` takes on."""
    from lapwise.engine.strategy import optimum  # start-up time

    return optimum.reduce(problem)


def _never() -> bool:
    return False
