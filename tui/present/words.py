"""Words and marks for shell and screens: text made safe and fitted to its place, chances, minutes and bars."""

from __future__ import annotations

import os
import re
import tempfile
import unicodedata
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from lapwise.engine.numerals import MM_PER_INCH
from lapwise.engine.wording import minutes_words, whole_minutes

if TYPE_CHECKING:
    from lapwise.engine.folders import Folders
    from lapwise.engine.knowledge.model import Knowledge

CHANCE_WORDS = (
    (0.85, "almost sure"),
    (0.60, "likely"),
    (0.40, "even"),
    (0.20, "possible"),
    (0.05, "unlikely"),
    (0.00, "remote"),
)
_EIGHTHS = " ▏▎▍▌▋▊▉█"
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
_SPACE = re.compile(r"\s+")
_HIDDEN = re.compile("[\u200b-\u200f\u2028\u2029\u2060-\u2064\u206a-\u206f\ufe00-\ufe0f\ufeff\U000e0000-\U000e0fff]")
_MOST_MARKS = 2
"""Accents kept on one letter; a pile of them would run into the lines above and below."""


_private: list[str] = []
"""Folders that no text names; see :func:`keep_private`."""


def keep_private(where: Folders) -> None:
    """From now on no text that passes :func:`safe` names a folder of this computer: a file's name within it is left.

    For a process that paints for a visitor: what a path tells belongs to the owner of the folder.
    """
    ours = (where.data, where.config, where.cache, Path.cwd(), Path.home(), Path(tempfile.gettempdir()))
    found = {str(path) for given in ours for path in (given, given.absolute(), given.resolve()) if len(path.parts) > 1}
    _private[:] = sorted(found, key=len, reverse=True)


def _unplaced(text: str) -> str:
    for folder in _private:
        if folder in text:
            text = text.replace(folder + os.sep, "").replace(folder, "this bench")
    return text


def clean(text: str) -> str:
    """The text without control characters, escapes and direction overrides: safe to put on a terminal."""
    return _CONTROL.sub("\N{REPLACEMENT CHARACTER}", text)


def safe(text: object, limit: int = 2000) -> str:
    """One line of text that draws nothing but itself: no escapes, no hidden or direction marks, no piled accents.

    ``limit``: characters kept; an ellipsis shows that more was there.
    """
    plain = clean((_unplaced(str(text)) if _private else str(text))[: limit * 4])
    plain = _HIDDEN.sub("", _SPACE.sub(" ", plain)).strip()
    if not plain.isascii():
        plain = _without_piles(plain)
    return plain if len(plain) <= limit else plain[: limit - 1] + "…"


def _without_piles(text: str) -> str:
    out: list[str] = []
    marks = 0
    for character in text:
        marks = marks + 1 if unicodedata.combining(character) else 0
        if marks <= _MOST_MARKS:
            out.append(character)
    return "".join(out)


def fit(text: object, width: int, *, right: bool = False) -> str:
    """The text cut with an ellipsis or filled with blanks to exactly ``width`` cells."""
    from rich.cells import cell_len, set_cell_size  # the shell does without rich: it would double its start

    plain = safe(text, limit=max(width * 2, 8))
    if width <= 0:
        return ""
    length = cell_len(plain)
    if length > width:
        kept = set_cell_size(plain, width - 1).rstrip()
        return kept + "…" + " " * (width - 1 - cell_len(kept))
    pad = " " * (width - length)
    return pad + plain if right else plain + pad


def chance_word(chance: float) -> str:
    """A chance from 0 to 1 in one or two plain words."""
    shown = round(chance, 2)  # the word goes with the figure beside it
    return next(word for bound, word in CHANCE_WORDS if shown >= bound)


def bar(share: float, width: int) -> str:
    """A bar of ``width`` cells filled to ``share`` (0 to 1) in eighths of a cell."""
    eighths = round(max(0.0, min(1.0, share)) * width * 8)
    if share > 0 and width > 0:
        eighths = max(1, eighths)
    full, rest = divmod(eighths, 8)
    return ("█" * full + (_EIGHTHS[rest] if rest else "")).ljust(width, "·")


def interval(low: float, middle: float, high: float, width: int) -> str:
    """``├──●───┤`` on a line of ``width`` cells from 0 to 1."""
    if width < 3:
        return ""

    def place(share: float) -> int:
        return round(max(0.0, min(1.0, share)) * (width - 1))

    cells = ["·"] * width
    first, last = place(low), place(high)
    for at in range(first, last + 1):
        cells[at] = "─"
    cells[first] = "├"
    cells[last] = "┤"
    cells[place(middle)] = "●"
    return "".join(cells)


def minutes(value: float | None) -> str:
    """``6 min``, ``under 1 min``, ``1 h 20``; a dash where no time was taken."""
    if value is None:
        return "–"
    return whole_minutes(value)


def taken(value: float | None) -> str:
    """Minutes as they were logged: ``3.5 min``, ``under 1 min``, ``12 min``; a dash where no time was taken."""
    return minutes(value) if value is None else minutes_words(value)


def left(passed: float, share: float | None) -> str:
    """``about 12 s left`` after ``passed`` seconds of work of which ``share`` (0 to 1) is done; nothing while that
    cannot be told."""
    if share is None or share <= 0.02:
        return ""
    seconds = passed * (1 - min(share, 1.0)) / share
    return f"about {seconds:.0f} s left" if seconds < 90 else f"about {seconds / 60:.0f} min left"


def saves(value: float) -> str:
    """``saves about 3 min``; nothing where it is under a minute."""
    return f"saves about {minutes(value)}" if value >= 0.95 else ""


def bench_time(at: str) -> str:
    """A moment of the record (UTC, ISO 8601) by the clock of this bench: ``2026-03-01 14:05``; else as it is."""
    try:
        return datetime.fromisoformat(at).astimezone().strftime("%Y-%m-%d %H:%M")
    except ValueError:
        return at


def clock(seconds: float) -> str:
    """``3:07`` or ``1:03:07``."""
    whole = max(0, int(seconds))
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


def size(mm: float) -> str:
    """A lap's size in both units, the one it was made in first: ``8 in (203 mm)``, ``200 mm (7.9 in)``."""
    inches = mm / MM_PER_INCH
    eighths = round(inches * 8)
    if eighths and abs(inches * 8 - eighths) < 0.001:
        whole, part = divmod(eighths, 8)
        over, under = Fraction(part, 8).as_integer_ratio()
        exact = f"{whole}" if not part else f"{whole} {over}/{under}" if whole else f"{over}/{under}"
        return f"{exact} in ({mm:.0f} mm)" if mm >= 10 else f"{exact} in ({mm:.1f} mm)"
    return f"{mm:g} mm ({inches:.2g} in)"


def learned_from(knowledge: Knowledge) -> str:
    """The heading over what was learned: from the person's own record, or a guild's experience too."""
    return "Your record and the guild" if knowledge.experience else "Your record"
