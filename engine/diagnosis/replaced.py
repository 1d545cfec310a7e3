"""Own entries that stand where something shipped protects, and touch the answer at hand."""

from __future__ import annotations

from collections.abc import Iterable

from lapwise.engine.case import Case
from lapwise.engine.conclusions import Conclusions, Fact
from lapwise.engine.inference.evaluator import RuleTest, WorkingMemory
from lapwise.engine.knowledge.model import Knowledge


def touching(
    knowledge: Knowledge, case: Case, facts: Iterable[Fact], conclusions: Conclusions, named: Iterable[str]
) -> tuple[str, ...]:
    """One sentence for each that touches the case. ``named``: ids of remedies, looks and cautions in the answer.

    A rule touches it where the shipped one would have spoken.
    """
    if not knowledge.replaced:
        return ()
    present = {case.material, case.lap, case.compound, case.prior, *named}
    board = WorkingMemory([*facts, *(Fact("finding", name) for name in conclusions.findings)])
    out = []
    for replaced in knowledge.replaced:
        if replaced.id in present if replaced.rule is None else RuleTest(replaced.rule).fires(board):
            out.append(f"{replaced.what} ({replaced.where})")
    return tuple(out)
