"""What is stored with each logged step of the answer that was on the screen: learning shares the credit by it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lapwise.engine.belief.done import looked, tried
from lapwise.engine.case import Outcome
from lapwise.engine.conclusions import OTHER
from lapwise.engine.diagnosis.model import Diagnosis
from lapwise.engine.diagnosis.options import fix_chances
from lapwise.engine.knowledge.model import Knowledge, Remedy
from lapwise.engine.learning.learner import Learned

KEPT_STEPS = 8
_DIGITS = 5
LEAST = 5e-4
"""A share under this is left out of what is kept: it would fill the record and teaches nothing."""


def _rounded(table: Mapping[str, float]) -> dict[str, float]:
    return {key: round(value, _DIGITS) for key, value in table.items() if value >= LEAST}


def _common(answer: Diagnosis, learned: Learned | None) -> dict[str, Any]:
    out: dict[str, Any] = {
        "posterior": _rounded({view.id: view.probability for view in answer.causes}),
        "plan": [
            {"remedy": s.remedy, "chance": round(s.chance, 4), "minutes": round(s.minutes, 1)}
            for s in answer.plan[:KEPT_STEPS]
        ],
        "expected_minutes": round(answer.expected_minutes, 1),
    }
    if learned is not None and (factors := learned.cause_factors()):
        out["factors"] = {c: round(f, 4) for c, f in factors.items() if round(f, 4) != 1.0}
    return out


def shown_for_try(
    answer: Diagnosis, remedy: str, outcome: Outcome, knowledge: Knowledge, learned: Learned | None = None
) -> dict[str, Any]:
    """The ``shown`` of :meth:`Record.log_outcome`: ``answer`` as it stood before ``remedy`` was done.

    Keys: ``posterior`` before, ``fix`` (the chances used), ``base`` (the same before the rules of
    this case), ``after`` (the posterior with this outcome), ``plan``,
    ``expected_minutes``, ``to`` (the pair it changes to) and ``factors`` (cause factors in use).
    """
    out = _common(answer, learned)
    known = knowledge.remedies.get(remedy)
    step = next((s for s in answer.plan if s.remedy == remedy), None)
    if step is not None and step.to:
        out["to"] = {k: v for k, v in step.to.items() if k in ("lap", "compound") and v}
    if known is None:
        return out
    if step is not None:
        fix = dict(step.fix)
    else:  # not in the plan, but done all the same
        fix = fix_chances(known, answer.case, None, knowledge, answer.conclusions, learned.fix if learned else None)
    out["fix"] = _rounded(fix)
    out["base"] = _rounded({c: _base(known, c, knowledge, learned) for c in fix})
    done = tried(remedy, outcome, fix, knowledge)
    out["after"] = _after(out["posterior"], {c: done.of(c) for c in out["posterior"]})
    return out


def _base(remedy: Remedy, cause: str, knowledge: Knowledge, learned: Learned | None) -> float:
    """The chance before any rule of this case favours or disfavours the remedy."""
    together = learned.fix(remedy.id, cause) if learned else None
    return knowledge.scales.chance[remedy.fixes[cause]] if together is None else together


def shown_for_look(
    answer: Diagnosis, look: str, result: str, knowledge: Knowledge, learned: Learned | None = None
) -> dict[str, Any]:
    """The ``shown`` of :meth:`Record.log_look`, with the posterior before and after the look."""
    out = _common(answer, learned)
    known = knowledge.looks.get(look)
    if known is not None and result in known.results:
        done = looked(known, result, [c for c in out["posterior"] if c != OTHER], knowledge)
        out["after"] = _after(out["posterior"], {c: done.of(c) for c in out["posterior"]})
    return out


def _after(before: Mapping[str, float], likelihood: Mapping[str, float]) -> dict[str, float]:
    mass = {c: p * likelihood[c] for c, p in before.items()}
    total = sum(mass.values())
    return _rounded({c: m / total for c, m in mass.items()}) if total > 0 else dict(before)
