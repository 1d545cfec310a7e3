"""Small turns of English that the engine's sentences, the shell and the screens share."""

from __future__ import annotations

from collections.abc import Iterable

LEGAL = "The limits are for workplaces; local codes and licensed practice decide. This is no medical or legal advice."
"""Stands once wherever cautions do."""


def small(text: str) -> str:
    """The label as it stands in the middle of a sentence; words in capitals (RPM, Mohs) stay."""
    first = text.split(" ", 1)[0]
    return text if len(first) > 1 and first[1:].lower() != first[1:] else text[:1].lower() + text[1:]


def capital(text: str) -> str:
    """The text with a capital first letter."""
    return text[:1].upper() + text[1:]


def plain_id(name: str) -> str:
    """An id of the vocabulary as words: ``tin-lap`` → ``tin lap``."""
    return name.replace("-", " ").replace("_", " ")


def listing(items: Iterable[str]) -> str:
    """``a, b and c``."""
    words = list(items)
    return "".join(words) if len(words) < 2 else ", ".join(words[:-1]) + " and " + words[-1]


def counted(count: int, word: str) -> str:
    """``1 case``, ``4 cases``."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def times(count: int) -> str:
    """``once``, ``twice``, ``3 times``."""
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def percent(chance: float) -> str:
    """``46 %``; never 0 % or 100 % for what is neither impossible nor certain."""
    whole = round(chance * 100)
    if whole <= 0 and chance > 0:
        return "<1 %"
    if whole >= 100 and chance < 1:
        return ">99 %"
    return f"{whole} %"


def whole_minutes(value: float) -> str:
    """``6 min``, ``under 1 min``, ``1 h 35``."""
    if value < 0.95:
        return "under 1 min" if value > 0 else "0 min"
    whole = round(value)
    return f"{whole} min" if whole < 90 else f"{whole // 60} h {whole % 60:02d}"


def wait_words(value: float) -> str:
    """A wait in minutes: ``20 min``, ``12 hours``, ``3 days``, ``4 weeks``."""
    for size, word in ((10080, "week"), (1440, "day"), (60, "hour")):
        if value >= 2 * size:
            return counted(round(value / size), word)
    return whole_minutes(value)


def minutes_words(value: float) -> str:
    """``6 min``, ``3.5 min``, ``under 1 min``, ``1 h 35``: a tenth where it tells something."""
    if 0.95 <= value < 10 and round(value, 1) != round(value):
        return f"{value:.1f} min"
    return whole_minutes(value)
