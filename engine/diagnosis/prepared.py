"""A case with all that is worked out of it before the order of the remedies."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from lapwise.engine.belief import Belief
from lapwise.engine.case import Case
from lapwise.engine.conclusions import Conclusions, Fact
from lapwise.engine.diagnosis.begins import Beginning
from lapwise.engine.diagnosis.calculators import Calculated
from lapwise.engine.diagnosis.model import LeftOut
from lapwise.engine.diagnosis.options import Option
from lapwise.engine.strategy import DecisionProblem, Plan

if TYPE_CHECKING:
    from lapwise.engine.learning import Learned


@dataclass(frozen=True, slots=True)
class Prepared:
    """All that is worked out before the order."""

    case: Case
    facts: tuple[Fact, ...]
    conclusions: Conclusions
    belief: Belief
    options: tuple[Option, ...]
    excluded: tuple[LeftOut, ...]
    calculated: Calculated
    problem: DecisionProblem
    by_belief: Plan
    """The order by what is believed alone."""
    begins: tuple[Beginning, ...]
    plan: Plan
    part_of: Mapping[str, str]
    """Remedies left out of the list since an earlier one does the same too: each to that one."""
    learned: Learned | None
