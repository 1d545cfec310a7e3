"""The order of remedies and looks with few expected minutes to a good facet.

The functions import numpy when they are called, not before.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from lapwise.engine.strategy.model import DecisionProblem, LastResort, Look, LookValue, Plan, Remedy, RunnerUp, Step

__all__ = [
    "DecisionProblem",
    "LastResort",
    "Look",
    "LookValue",
    "Plan",
    "Remedy",
    "RunnerUp",
    "Step",
    "ended",
    "led",
    "listed",
    "quick",
]


def quick(problem: DecisionProblem) -> Plan:
    """A good plan in a few milliseconds; see :func:`lapwise.engine.strategy.rollout.quick`."""
    from lapwise.engine.strategy import rollout  # start-up time

    return rollout.quick(problem)


def led(problem: DecisionProblem, plan: Plan, remedies: Sequence[str]) -> Plan:
    """The plan with these remedies in front; see :mod:`lapwise.engine.strategy.lead`."""
    from lapwise.engine.strategy import lead  # start-up time

    return lead.led(problem, plan, remedies)


def listed(problem: DecisionProblem, plan: Plan, remedies: Sequence[str]) -> Plan:
    """The plan whose list holds these; see :mod:`lapwise.engine.strategy.lead`."""
    from lapwise.engine.strategy import lead  # start-up time

    return lead.listed(problem, plan, remedies)


def ended(problem: DecisionProblem, plan: Plan, least: float, keep: Collection[str] = ()) -> Plan:
    """The plan with what saves less than ``least`` minutes behind its end; see :mod:`lapwise.engine.strategy.lead`."""
    from lapwise.engine.strategy import lead  # start-up time

    return lead.ended(problem, plan, least, keep)
