"""Reads the scales: the one place where words become numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from lapwise.engine.knowledge.fields import Fields, Value
from lapwise.engine.knowledge.model import Scales
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.remedies import CHANCES
from lapwise.engine.knowledge.troubles import BASES

STRENGTHS = ("strongly", "moderately", "slightly")
_WORDS = {"chance": (CHANCES, 0.9999), "strength": (STRENGTHS, 10.0), "frequency": (BASES, 1000.0)}
_NUMBERS = {
    "background": (0.0001, 1.0),
    "unexplained": (0.0001, 1.0),
    "other_share": (0.0001, 1.0),
    "better_factor": (0.0001, 100.0),
    "worse_factor": (0.0001, 100.0),
    "trial_minutes": (0.0, 60.0),
    "look_minutes": (0.0, 60.0),
    "begin_chance": (0.0, 10.0),
    "begin_saving": (0.0, 10.0),
    "begin_told": (0.0, 10.0),
    "begin_order": (0.0, 10.0),
    "begin_tries": (1.0, 1000.0),
}
KEYS = (*_WORDS, *_NUMBERS)


def _scale(value: Value, words: tuple[str, ...], high: float) -> Mapping[str, float]:
    with value.group() as keys:
        numbers = {word: keys.number(word, 0.0001, high) for word in words}
    if any(a <= b for a, b in zip(numbers.values(), list(numbers.values())[1:], strict=False)):
        value.refuse("the numbers must fall from the first word to the last", ", ".join(words))
    return MappingProxyType(numbers)


@dataclass(frozen=True, slots=True)
class Scale:
    """One entry of ``scales``: its number, or its words with theirs, and the sentence on what the judgement means."""

    judgement: str
    number: float
    words: Mapping[str, float]
    place: Place


def read_scale(name: str, keys: Fields, place: Place) -> Scale:
    """One entry of ``scales``: ``{judgement: sentence, words: {...}}`` or ``{judgement: sentence, number: n}``."""
    judgement = keys.text("judgement")
    words: Mapping[str, float] = MappingProxyType({})
    number = 0.0
    if name in _WORDS:
        if value := keys.need("words"):
            words = _scale(value, *_WORDS[name])
    elif name in _NUMBERS:
        number = keys.number("number", *_NUMBERS[name])
    else:
        keys.here.refuse("no such scale", name, KEYS)
    return Scale(judgement, number, words, place)


def scales(entries: Mapping[str, Scale]) -> Scales:
    """All of them together; every key of :data:`KEYS` must be there (``KeyError`` else)."""
    values: dict[str, Any] = {key: entries[key].words for key in _WORDS}
    values |= {key: entries[key].number for key in _NUMBERS}
    because = MappingProxyType({key: entries[key].judgement for key in KEYS})
    return Scales(**values, because=because, place=entries["chance"].place)
