"""The record in words: what an import or a copy brought, and how a case ended."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from lapwise.engine.wording import counted

if TYPE_CHECKING:
    from lapwise.engine.record.model import Counts, LapState, OwnLap

MOST_REASONS = 20
_NEEDS_CARE: dict[LapState, str] = {"due-for-cleaning": "! clean it", "carried-coarser": "! had coarse grit"}
THEIRS = "from another record"
"""Beside a case or a lap that came by an import: it is somebody else's."""


def lap_state_words(lap: OwnLap, state: LapState, warnings: Sequence[str]) -> str:
    """The state in a word or two, ! before what needs care; a lap is called clean only if a cleaning is logged."""
    usual = "! see below" if warnings else "clean" if lap.last_cleaned else "not logged"
    return _NEEDS_CARE.get(state, usual)


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
