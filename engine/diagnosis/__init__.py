"""From a case to an answer: facts, rules, belief, order, and the reasons to show."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lapwise.engine.case import Case
from lapwise.engine.diagnosis.model import Diagnosis
from lapwise.engine.diagnosis.session import Session
from lapwise.engine.knowledge.model import Knowledge

if TYPE_CHECKING:
    from lapwise.engine.machine import MachineProfile
    from lapwise.engine.record.store import Record

__all__ = ["Diagnosis", "Session", "diagnose"]


def diagnose(
    case: Case,
    knowledge: Knowledge,
    record: Record | None = None,
    profile: MachineProfile | None = None,
) -> Diagnosis:
    """The answer to one case.

    Raises :class:`lapwise.engine.errors.BadInput` for ids that do not exist.
    """
    return Session(knowledge, record=record, profile=profile).quick(case)
