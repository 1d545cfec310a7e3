"""How likely each trouble is by all that a text says: a logistic regression over its words and what phrases told.

Phrases (``also``) are found where somebody thought of them; most people say it in words that nobody thought of, and
some use those of one trouble to tell another. The weights (``knowledge/cues.yaml``) are fitted to many told troubles
by ``tests/benchmarks/fit_words.py``.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from lapwise.engine.knowledge.alone import read_alone, shipped
from lapwise.engine.knowledge.fields import Value
from lapwise.engine.words.text import COMMA, Token

LIST = "cues"
ALWAYS = "always"
"""The cue that is met whatever is said."""
FIRM, PERHAPS, OPEN, DENIED = "=", "~", "?", "-"
"""Before a symptom: a phrase tells it; may tell it; tells one of several; tells that it is not so."""
_REACH = 4
"""Words that a denial reaches ahead, as far as the next comma."""
_DENIED, _COUNTS = "!", ":"
MOST_WEIGHT = 20.0
"""The largest weight of a cue, either way, in log odds."""

Span = tuple[int, int]
"""First letter and the letter after the last."""
Cues = Mapping[str, Mapping[str, float]]
"""Cue to symptom to weight in log odds. A cue is one stem, or two with a space between as they stand beside each
other without articles, with "!" before a stem behind a word that denies; behind ":", one or two of the words that
count, spelling put right and synonyms put together; or a symptom behind one of the signs above."""


@dataclass(frozen=True, slots=True)
class Likely:
    """A symptom with its probability; ``start`` and ``end``: the words that speak most for it, 0 and 0 if none do."""

    symptom: str
    chance: float
    start: int
    end: int


def load_cues() -> Cues:
    """The shipped cues. Raises :class:`Damaged` with every problem if they cannot be used."""
    return read_cues(*shipped(LIST))


def read_cues(data: bytes, name: str) -> Cues:
    """The cues in a file's bytes; ``name`` is what messages call it. Raises :class:`Damaged`."""
    return read_alone(data, name, LIST, lambda cues: cues.mapping(lambda said: said.mapping(_weight)))


def _weight(value: Value) -> float:
    return value.number(-MOST_WEIGHT, MOST_WEIGHT)


def cues_of(raw: Iterable[Token], words: Sequence[Token], articles: Collection[str]) -> dict[str, Span]:
    """The cues among the words of a text, each with where it first stands. ``words``: those of them that count."""
    keys: list[tuple[str, Token]] = []
    denied = 0
    for token in raw:
        if token.word in articles:
            continue
        if token.gap >= COMMA:
            denied = 0
        keys.append((_DENIED * (denied > 0 and token.key != "not") + token.key, token))
        denied = _REACH if token.key == "not" else max(0, denied - 1)
    counting = [(token.key, token) for token in words]
    return _alone_and_paired(keys) | _alone_and_paired(counting, _COUNTS)


def _alone_and_paired(keys: Sequence[tuple[str, Token]], sign: str = "") -> dict[str, Span]:
    """Each key, and each with the one before it, behind ``sign``, with where it first stands."""
    out: dict[str, Span] = {}
    for at, (key, token) in enumerate(keys):
        out.setdefault(sign + key, (token.start, token.end))
        if at:
            before, first = keys[at - 1]
            out.setdefault(f"{sign}{before} {key}", (first.start, token.end))
    return out


def likely(said: Mapping[str, Span], cues: Cues) -> list[Likely]:
    """Every symptom that the cues know, likeliest first. ``said``: the cues of a text, as :func:`cues_of` has them."""
    scores: dict[str, float] = dict(cues.get(ALWAYS, {}))
    spoken: dict[str, tuple[float, Span]] = defaultdict(lambda: (0.0, (0, 0)))
    for cue, at in said.items():
        for symptom, weight in cues.get(cue, {}).items():
            scores[symptom] += weight
            spoken[symptom] = max(spoken[symptom], (weight, at))
    found = [Likely(s, 1.0 / (1.0 + math.exp(-score)), *spoken[s][1]) for s, score in scores.items()]
    return sorted(found, key=lambda f: (-f.chance, f.symptom))
