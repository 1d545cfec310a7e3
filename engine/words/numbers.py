"""Grain sizes told in figures or words: 50k, 50,000, fifty thousand, 3k, half a micron, 0.25 µm."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words.text import Lists, Token

MICRON = "micron"
_NEAR = 1.1
"""A size within this factor of a grade's usual grain is that grade."""
_CLEAR, _FARTHEST = 1.3, 1.6
"""Else the nearest grade counts, if the next is this much farther and it is itself not farther than that."""


@dataclass(frozen=True, slots=True)
class Number:
    """A number that ``size`` words told. ``micron``: its unit is the micrometre; None if it has some other unit."""

    value: float
    size: int
    micron: bool
    other: bool
    grit: bool


def number_at(words: Sequence[Token], at: int, lists: Lists) -> Number | None:
    """The number that begins at a word, or None."""
    values, times, parts = lists.means["numbers"], lists.means["times"], lists.means["parts"]
    word = words[at].word.replace(",", "").replace(" ", "")
    end = at + 1
    if word[0].isdigit() or word[0] == ".":
        value = float(word.removesuffix("k")) * (1000 if word.endswith("k") else 1)
        if end < len(words) and words[end].word in times and not words[end].gap:
            value *= float(times[words[end].word])
            end += 1
    elif word in parts:
        value = float(parts[word])
    elif word in values or word in ("hundred", "thousand"):
        value, end = (float(values[word]), end) if word in values else (1.0, at)
        while end < len(words) and not words[end].gap and (told := words[end].word) in (values | times):
            value = value * float(times[told]) if told in times else value + float(values[told])
            end += 1
    else:
        return None
    after = words[end].key if end < len(words) and words[end].gap < 2 else ""
    micron = after == MICRON
    before = words[at - 1].key if at else ""
    grit = bool({after, before} & lists["grit-words"]) or words[at].word.endswith("k")
    return Number(value, end + micron - at, micron, after in lists["other-units"], grit)


def diamond_grades(knowledge: Knowledge, number: Number) -> tuple[str, ...]:
    """The diamond grades a number may mean: one if it is clear, the two nearest if it is not, none if it is no size."""
    if number.other or number.value <= 0:
        return ()
    if number.micron:
        sizes = {c.id: c.typical_um for c in knowledge.compounds.values() if c.kind == "diamond" and c.typical_um}
    elif number.value >= 100:
        sizes = {c.id: float(c.mesh) for c in knowledge.compounds.values() if c.kind == "diamond" and c.mesh}
    else:
        return ()
    if not sizes:
        return ()
    far = sorted((math.exp(abs(math.log(number.value / size))), id_) for id_, size in sizes.items())
    (first, id_), (second, other) = far[0], far[1]
    if first <= (_NEAR if number.micron else 1.001):
        return (id_,)
    if not number.micron:
        return (id_, other) if number.grit else ()
    return (id_,) if first <= _FARTHEST and first * _CLEAR <= second else (id_, other)


_SIZE = re.compile(
    r"(?P<before>\b(?:table|facets?|crown|main|star)\b\D{0,24})?"
    r"(?P<size>\b(\d{1,2}(?:\.\d+)?) ?(?:mm)? ?(?:x|by|×) ?(\d{1,2}(?:\.\d+)?) ?(?:mm|mil(?:limet(?:er|re)s?)?)?\b)"
    r"(?P<after> ?(?:table|facets?|crown|main|star))?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Size:
    """Length and width of a facet as a fact gives them, ``9x6mm``, and where the text tells them."""

    value: str
    start: int
    end: int


def size_in(text: str) -> Size | None:
    """The size of a facet that a text tells beside the word facet or table; None if it tells none."""
    for found in _SIZE.finditer(text):
        if found["before"] or found["after"]:
            return Size(f"{float(found[3]):g}x{float(found[4]):g}mm", found.start("size"), found.end("size"))
    return None
