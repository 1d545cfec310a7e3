"""What was heard of a text, what is doubtful, and the notes that are made of it while it is read."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from lapwise.engine.case import Case

MOST_CHOICES = 3


@dataclass(frozen=True, slots=True)
class Heard:
    """Part of the text that was understood. ``sure`` is false where a word was put right or only taken to mean it.

    ``key`` and ``value`` say what it puts into the case: material, lap, compound, stage or prior with an id; a fact
    with its value; "symptoms" with an id; "tried" with ``remedy=outcome``; "saw" with ``look=result``.
    ``could_be``: the values it may have, this one first, where it is not sure and others are near.
    """

    words: str
    start: int
    end: int
    means: str
    id: str
    sure: bool
    key: str
    value: str
    could_be: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Doubt:
    """Part of the text that may mean one of several things, or one thing or nothing; asked, and not in the case.

    ``key``: as in :class:`Heard`; ``could_be``: ids, or ``key=value`` for facts, or ``remedy=outcome``.
    """

    words: str
    could_be: tuple[str, ...]
    key: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Hearing:
    """``case``: only what was understood. ``unheard``: words that may matter and were not understood."""

    case: Case
    heard: tuple[Heard, ...]
    unsure: tuple[Doubt, ...]
    unheard: tuple[str, ...]


class Notes:
    """What was heard and is doubtful so far. ``seen``: first and last letter of each part that is read."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.heard: list[Heard] = []
        self.unsure: list[Doubt] = []
        self.seen: list[tuple[int, int]] = []

    def note(
        self,
        start: int,
        end: int,
        means: str,
        key: str,
        value: str,
        *,
        id_: str = "",
        sure: bool = True,
        could_be: Iterable[str] = (),
    ) -> None:
        """Note what was heard; ``id_``: what it is called in JSON, if not by its value."""
        near = tuple(could_be)[:MOST_CHOICES]
        self.heard.append(Heard(self.text[start:end], start, end, means, id_ or value, sure, key, value, near))
        self.seen.append((start, end))

    def doubt(self, start: int, end: int, key: str, ids: Iterable[str]) -> None:
        """Note what must be asked."""
        could_be = tuple(dict.fromkeys(ids))[:MOST_CHOICES]
        self.unsure.append(Doubt(self.text[start:end], could_be, key, start, end))
        self.seen.append((start, end))
