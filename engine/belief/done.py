"""What was done in the case, as evidence: remedies tried and looks taken."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lapwise.engine.belief.tables import look_row
from lapwise.engine.case import Outcome
from lapwise.engine.conclusions import OTHER, Provenance
from lapwise.engine.knowledge.model import PRACTICE, Knowledge, Look

BY_CHANCE = 0.01
"""P(a remedy cures a cause it is not known to cure): a facet may come right for another reason. Judgement."""


@dataclass(frozen=True, slots=True)
class Observation:
    """One thing done. ``likelihood``: P(what came of it | cause) up to a common factor; ``otherwise`` for the rest."""

    finding: str
    likelihood: Mapping[str, float]
    said: Provenance
    otherwise: float = 1.0

    def of(self, cause: str) -> float:
        """The likelihood under ``cause``."""
        return self.likelihood.get(cause, self.otherwise)


_SAYINGS: Mapping[Outcome, str] = {
    "no-change": "“{}” brought no change, though it would have been likely to cure this.",
    "better": "“{}” made it better, and it works on this.",
    "worse": "“{}” made it worse, though it works on this.",
    "fixed": "“{}” cured it, and it works on this.",
}


def tried(remedy: str, outcome: Outcome, fix: Mapping[str, float], knowledge: Knowledge) -> Observation:
    """A remedy with its ``outcome``; ``fix``: P(fixes | cause), 0 for a cause not named (``other`` too).

    no-change: 1 - P(fix | cause). better and worse: from 1 for a cause it cannot fix to the scale's factor for one
    that it surely fixes, in proportion to P(fix | cause). fixed: P(fix | cause), at least :data:`BY_CHANCE`.
    """
    scales = knowledge.scales
    if any(not 0 <= p <= 1 for p in fix.values()):
        raise ValueError(f"{remedy}: a chance to fix lies outside 0 to 1")
    otherwise = 1.0
    if outcome == "no-change":
        table = {c: 1.0 - p for c, p in fix.items()}
    elif outcome == "fixed":
        table = {c: max(p, BY_CHANCE) for c, p in fix.items()}
        otherwise = BY_CHANCE
    else:
        factor = scales.better_factor if outcome == "better" else scales.worse_factor
        table = {c: 1.0 + (factor - 1.0) * p for c, p in fix.items()}
    known = knowledge.remedies.get(remedy)
    said = Provenance(
        "", _SAYINGS[outcome].format(known.label if known else remedy), known.source if known else PRACTICE
    )
    return Observation(f"tried: {remedy}={outcome}", table, said, otherwise)


def looked(look: Look, result: str, causes: Sequence[str], knowledge: Knowledge) -> Observation:
    """A look with its ``result``, for each of ``causes`` and ``other``. Raises ``KeyError`` for no result of it."""
    table = {c: look_row(look, c, knowledge.scales)[result] for c in (*causes, OTHER)}
    shown = look.result_labels.get(result, result)
    return Observation(f"saw: {look.id}={result}", table, Provenance("", f"{look.label}: {shown}.", look.source))
