"""The record in words: what an import or a copy brought, and how a case ended."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lapwise.engine.wording import counted

if TYPE_CHECKING:
    from lapwise.engine.record.model import Counts

MOST_REASONS = 20
LAP_STATES = {
    "clean": "clean",
    "due-for-cleaning": "due for cleaning",
    "carried-coarser": "has had coarser grit on it",
}
THEIRS = "from another record"
"""Beside a case or a lap that came by an import: it is somebody else's."""


def counts_lines(counts: Counts, *, trial: bool = False) -> list[str]:
    """What an import or a copy brought back added, line by line. ``trial``: it would, if it were done."""
    added = ", ".join(counted(n, f"{kind} row") for kind, n in counts.added.items()) or "nothing new"
    lines = [("Would be added: " if trial else "Added: ") + added, f"Known already: {counts.known}"]
    if counts.cleaned:
        lines.append(f"Cleaned: {counts.cleaned}")
    if counts.refused:
        lines.append(f"Refused: {counts.refused}")
        lines += [f"  {number} x {reason}" for reason, number in counts.reasons[:MOST_REASONS]]
    return lines
