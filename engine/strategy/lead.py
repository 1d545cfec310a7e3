"""What is put in front of the order of least minutes, the rest in order behind it, and where the list of what to try
ends: at the remedies that save less than a look or a question would."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from lapwise.engine.strategy.arrays import Arrays, Floats, arrays_of, costs, sequence_end
from lapwise.engine.strategy.layout import steps_of, with_the_rest
from lapwise.engine.strategy.model import DecisionProblem, Plan
from lapwise.engine.strategy.rollout import quick

FAIR = 0.2
"""A chance that nobody calls a filler, whatever else would cure the same: judgement."""


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
    afresh = [place[s.remedy] for s in quick(rest).before(problem.last_resort)]
    order = front + afresh
    minutes = float(a.p @ sequence_end(a, order))
    return replace(
        plan,
        order=steps_of(problem, a, with_the_rest(a, order, last=problem.last_resort is not None)),
        expected_minutes=max(0.0, minutes - (plan.look.value_minutes if plan.look else 0.0)),
        runner_up=None,
    )


def listed(problem: DecisionProblem, plan: Plan, remedies: Sequence[str]) -> Plan:
    """``plan`` with these in front and nothing else before the last resort: told is what each of them saves."""
    place = {r.id: i for i, r in enumerate(problem.remedies)}
    order = [place[name] for name in remedies]
    a = arrays_of(problem)
    return _closed(problem, led(problem, plan, remedies), a, order, _saved(a, order))


def ended(problem: DecisionProblem, plan: Plan, least: float, keep: Collection[str] = ()) -> Plan:
    """``plan`` with every remedy before the last resort that saves less than ``least`` minutes moved behind it.

    What a remedy saves is what the order would cost more without it, on average and from the start, so that it
    compares with what a look saves. The remedy that saves least goes first and the others are looked at afresh, since
    of two that do the same each makes the other idle. ``keep``: remedies that stay whatever they save; one always
    does, and so does one with a chance of :data:`FAIR` in its turn of the full order. A plan without a last resort has
    no end and stays as it is. The expected minutes stay: whoever comes to the end plans afresh from there, with what
    was seen on the way.
    """
    if problem.last_resort is None:
        return plan
    place = {r.id: i for i, r in enumerate(problem.remedies)}
    before = plan.before(problem.last_resort)
    order = [place[s.remedy] for s in before]
    a = arrays_of(problem)
    held = np.array([s.remedy in keep or s.chance >= FAIR for s in before], dtype=bool)
    saved = _saved(a, order)
    while len(order) > 1:
        least_at = int(np.where(held, np.inf, saved).argmin())
        if held[least_at] or saved[least_at] >= least:
            break
        del order[least_at]
        held = np.delete(held, least_at)
        saved = _saved(a, order)
    return _closed(problem, plan, a, order, saved)


def _closed(problem: DecisionProblem, plan: Plan, a: Arrays, order: list[int], saved: Floats) -> Plan:
    steps = steps_of(problem, a, with_the_rest(a, order, last=problem.last_resort is not None))
    told = [replace(step, saves=float(minutes)) for step, minutes in zip(steps, saved, strict=False)]
    return replace(plan, order=(*told, *steps[len(told) :]))


def _saved(a: Arrays, order: list[int]) -> Floats:
    """(steps,) minutes that each remedy of an order saves: without it, what it leaves untouched goes on as it came."""
    cost = costs(a, order)
    keep = 1.0 - a.fix[order]
    still = np.empty((len(order) + 1, a.p.size))
    still[-1] = a.end
    for at in range(len(order) - 1, -1, -1):
        np.multiply(keep[at], still[at + 1], out=still[at])
        still[at] += cost[at]
    left = np.vstack([a.p, a.p * np.cumprod(keep[:-1], axis=0)])
    saved: Floats = (left * (still[1:] - still[:-1])).sum(axis=1)
    return saved
