"""The record in words: own laps, and what an import or a copy brought."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lapwise.engine.wording import counted
from lapwise.tui.present.words import size

if TYPE_CHECKING:
    from lapwise.engine.record.model import Counts, LapState, LapView, OwnLap

MOST_REASONS = 20
_NEEDS_CARE: dict[LapState, str] = {"due-for-cleaning": "! clean it", "carried-coarser": "! had coarse grit"}
NOT_LOGGED = "not logged"
THEIRS = "from another record"
"""Beside a case or a lap that came by an import: it is somebody else's."""


def lap_state_words(view: LapView) -> str:
    """The state in a word or two, ! before what needs care; a lap is called clean only if a cleaning is logged."""
    usual = "! see below" if view.warnings else "clean" if view.lap.last_cleaned else NOT_LOGGED
    return _NEEDS_CARE.get(view.state, usual)


def lap_sizes(lap: OwnLap) -> list[str]:
    """How wide and how thick, as far as it is stated."""
    sizes = ((lap.diameter_mm, "across"), (lap.thickness_mm, "thick"))
    return [f"{size(value)} {word}" for value, word in sizes if value]


def logged_on(at: str | None) -> str:
    """The day of something logged."""
    return at[:10] if at else NOT_LOGGED


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
