"""A knowledge file that may be taken, in sentences."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from lapwise.engine.checks import run

if TYPE_CHECKING:
    from lapwise.engine.knowledge.taking import Offered
    from lapwise.engine.record.work import Progress

MORE = "It holds more than a guild's experience."
"""Said before a file is taken that brings rules, stones or the like."""


def what_it_is(offered: Offered, progress: Progress | None = None) -> Iterator[str]:
    """What is in the file, what it would touch, and what in it is not known here."""
    if whole := offered.experience:
        pairs = sum(len(row) for row in whole.fixes.values())
        made = f", {whole.made}" if whole.made else ""
        yield (
            f"A guild's experience ({whole.benches} bench{'' if whole.benches == 1 else 'es'}{made}): chances of "
            f"remedies {pairs}, frequencies of causes {len(whole.causes)}; stones, laps and compounds with numbers "
            f"of their own {offered.holds['experience'] - 1}."
        )
        yield "It moves chances, never to 0 or 1. What is forbidden or warned of stays as it is."
    if not offered.only_numbers:
        yield "It holds " + ", ".join(f"{n} {what.replace('_', ' ')}" for what, n in offered.holds.items()) + "."
    yield from offered.says
    for finding in run(offered.knowledge, only=["unknown-experience"], progress=progress):
        yield f"{finding.severity}: {finding.problem}"
