"""The JSON form of an answer: the contract of ``lapwise diagnose --json``."""

from __future__ import annotations

from typing import Any

from lapwise.engine.diagnosis.model import CauseView, Diagnosis, LookView, PlanStep, Reason
from lapwise.engine.wording import LEGAL


def _reason(reason: Reason) -> dict[str, Any]:
    return {
        "finding": reason.finding,
        "weight": reason.log_likelihood_ratio,
        "because": reason.because,
        "source": reason.source,
        "rule": reason.rule,
    }


def cause_json(view: CauseView) -> dict[str, Any]:
    """A cause; ``prior_log_odds`` plus all weights is ln P(cause) / P(other)."""
    return {
        "id": view.id,
        "label": view.label,
        "probability": view.probability,
        "prior_weight": view.prior_log_odds,
        "for": [_reason(r) for r in view.reasons_for],
        "against": [_reason(r) for r in view.reasons_against],
    }


def _step(step: PlanStep) -> dict[str, Any]:
    return {
        "remedy": step.remedy,
        "label": step.label,
        "to": step.to,
        "amount": step.amount,
        "chance": step.chance,
        "cumulative": step.cumulative,
        "minutes": step.minutes,
        "because": list(step.because),
        "source": list(step.source),
        "price": step.price,
        "cautions": list(step.cautions),
        "wait_minutes": step.wait_minutes,
        "wait_for": step.wait_for,
        "chance_now": step.now,
        "ends": step.ends,
        "saves": step.saves,
    }


def _look(view: LookView) -> dict[str, Any]:
    return {
        "id": view.id,
        "label": view.label,
        "minutes": view.minutes,
        "value_minutes": view.value_minutes,
        "before": view.before,
    }


def as_json(answer: Diagnosis) -> dict[str, Any]:
    """The whole answer; probabilities of ``causes`` sum to 1, ``plan`` is in order of trying."""
    return {
        "case": answer.case.as_json(),
        "cautions": [{"id": c.id, "text": c.text} for c in answer.cautions],
        "causes": [cause_json(c) for c in answer.causes],
        "plan": [_step(s) for s in answer.plan],
        "look": _look(answer.look) if answer.look else None,
        "looks": [_look(v) for v in answer.looks],
        "vetoed": [{"remedy": v.remedy, "label": v.label, "because": v.because, "rule": v.rule} for v in answer.vetoed],
        "expected_minutes": answer.expected_minutes,
        "exact": False,  # part of the contract; no order is proven the best
        "runner_up": {
            "remedy": answer.runner_up.remedy,
            "label": answer.runner_up.label,
            "extra_minutes": answer.runner_up.extra_minutes,
        }
        if answer.runner_up
        else None,
        "unknown_that_would_help": [
            {"key": u.key, "question": u.question, "value_minutes": u.value_minutes}
            for u in answer.unknown_that_would_help
        ],
        "unexplained": list(answer.unexplained),
        "stop": answer.stop,
        "disagreements": list(answer.disagreements),
        "record": answer.record,
        "correction": list(answer.notes),
        "gone_worse": list(answer.gone_worse),
        "replaced": list(answer.replaced),
        "findings": list(answer.conclusions.findings),
        "knowledge": answer.knowledge_digest,
        "left_out": [{"remedy": e.remedy, "kind": e.kind, "because": e.because} for e in answer.left_out],
        "worth": answer.worth,
        "lead": answer.lead,
        "legal": LEGAL,
    }
