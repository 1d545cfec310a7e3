"""What is put in front of the order of least minutes, and the rest in order behind it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from lapwise.engine.strategy.arrays import arrays_of, sequence_end
from lapwise.engine.strategy.layout import steps_of, with_the_rest
from lapwise.engine.strategy.model import DecisionProblem, Plan, Step
from lapwise.engine.strategy.rollout import quick


def led(problem: DecisionProblem, plan: Plan, remedies: Sequence[str]) -> Plan:
    """``plan`` with ``remedies`` in front and the rest put in order afresh, as if these had done nothing.

    Names that are not in the problem are passed over. The plan's look keeps the remedy it stands before. The expected
    minutes are those of the new order without a look, less what the look saves.
    """
    place = {r.id: i for i, r in enumerate(problem.remedies)}
    front = [place[r] for r in remedies if r in place]
    if not front or [s.remedy for s in plan.order[: len(front)]] == list(remedies):
        return plan
    a = arrays_of(problem)
    left = a.p * np.prod(1.0 - a.fix[front], axis=0)
    rest = replace(
        problem,
        p=tuple(left),
        remedies=tuple(r for i, r in enumerate(problem.remedies) if i not in front),
        paid_groups=problem.paid_groups | {g for i in front if (g := problem.remedies[i].group) is not None},
    )
    afresh = [place[s.remedy] for s in _until_last(problem, quick(rest)) if s.remedy in place]
    order = front + afresh
    minutes = float(a.p @ sequence_end(a, order))
    return replace(
        plan,
        order=steps_of(problem, a, with_the_rest(a, order, last=problem.last_resort is not None)),
        expected_minutes=max(0.0, minutes - (plan.look.value_minutes if plan.look else 0.0)),
        runner_up=None,
    )


def _until_last(problem: DecisionProblem, plan: Plan) -> Sequence[Step]:
    last = problem.last_resort.id if problem.last_resort else None
    ids = [s.remedy for s in plan.order]
    return plan.order[: ids.index(last)] if last in ids else plan.order
