"""The JSON form of an answer: the contract of ``lapwise diagnose --json``."""

from __future__ import annotations

from typing import Any

from lapwise.engine.diagnosis.model import CauseView, Diagnosis
from lapwise.engine.flat import flat, form
from lapwise.engine.wording import LEGAL


def cause_json(view: CauseView) -> dict[str, Any]:
    """A cause; ``prior_weight`` plus all weights is ln P(cause) / P(other)."""
    return flat(view, prior_log_odds="prior_weight", reasons_for="for", reasons_against="against")


def as_json(answer: Diagnosis) -> dict[str, Any]:
    """The whole answer; probabilities of ``causes`` sum to 1, ``plan`` is in order of trying."""
    return {
        "case": answer.case.as_json(),
        "cautions": form(answer.cautions),
        "causes": [cause_json(c) for c in answer.causes],
        "plan": [flat(step, "fix", now="chance_now", usual="usual_first") for step in answer.plan],
        "look": flat(answer.look, "because") if answer.look else None,
        "looks": [flat(look, "because") for look in answer.looks],
        "vetoed": form(answer.vetoed),
        "expected_minutes": answer.expected_minutes,
        "exact": False,  # part of the contract; no order is proven the best
        "runner_up": form(answer.runner_up),
        "unknown_that_would_help": form(answer.unknown_that_would_help),
        "unexplained": list(answer.unexplained),
        "stop": answer.stop,
        "disagreements": list(answer.disagreements),
        "record": answer.record,
        "correction": list(answer.notes),
        "gone_worse": list(answer.gone_worse),
        "remains": list(answer.remains),
        "began": answer.began,
        "not_as_named": answer.not_as_named,
        "replaced": list(answer.replaced),
        "findings": list(answer.conclusions.findings),
        "knowledge": answer.knowledge_digest,
        "left_out": [flat(thing, "rule", "fix") for thing in answer.left_out],
        "worth": answer.worth,
        "lead": answer.lead,
        "legal": LEGAL,
    }
