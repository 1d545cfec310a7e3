"""Reads the short lists: cautions, findings, traits, sources, and the words that a person tells a case in."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from types import MappingProxyType

from lapwise.engine.case import OUTCOMES, STAGES
from lapwise.engine.knowledge.fields import Fields, Reference, Value
from lapwise.engine.knowledge.model import Caution, Finding, Telling, WordList
from lapwise.engine.knowledge.place import Place, Source
from lapwise.engine.slots import CONDITIONS, SLOTS

LISTED = re.compile(r"<([^<>]*)>")
"""A word list named in a pattern: <ink-off> end/tip."""
STATUSES = ("read", "abstract", "package", "memory")
SAID = {
    "stage": STAGES,
    "outcome": OUTCOMES,
    "nothing": ("told", "loose"),
    **{k: SLOTS[k].values for k in CONDITIONS if SLOTS[k].closed},
}
"""Keys whose values a person says in words, with those values; laps and compounds have words of their own.

``nothing`` has the turns of speech that hold a word of a trouble and tell of none, to skip a step, an old chip; and as
``loose`` those that tell a trouble only where nothing else is told: a dip, a hill.
"""


def read_caution(name: str, keys: Fields, place: Place) -> Caution:
    """One entry of ``cautions``."""
    return Caution(
        id=name,
        label=keys.text("label"),
        hazard=keys.text("hazard"),
        action=keys.text("action"),
        standard=keys.text("standard", must=False),
        source=keys.source(),
        place=place,
        general=keys.truth("general"),
        substance=keys.truth("substance"),
    )


def read_finding(name: str, keys: Fields, place: Place) -> Finding:
    """One entry of ``findings``."""
    return Finding(name, keys.text("label"), place)


def read_source(name: str, keys: Fields, place: Place) -> Source:
    """One entry of ``sources``."""
    return Source(name, keys.text("cite"), keys.word("status", STATUSES), keys.text("address", must=False), place=place)


def read_meaning(value: Value) -> str:
    """A trait: its meaning in words."""
    text = value.text()
    if not text and not value.out.problems:
        value.refuse("the meaning in words is required")
    return text


def phrases(value: Value | None, allowed: Collection[str]) -> Mapping[str, tuple[str, ...]]:
    """A group of values, each with a list of plain words for it; a value must be one of ``allowed``."""
    out: dict[str, tuple[str, ...]] = {}
    for name, inner in value.fields().each() if value else ():
        if name not in allowed:
            inner.refuse("not a value of this", name, tuple(allowed))
        out[name] = inner.texts()
    return MappingProxyType(out)


def read_condition(name: str, keys: Fields, place: Place) -> Mapping[str, tuple[str, ...]]:
    """One entry of ``conditions``: the plain words for the values of a fact."""
    allowed = SAID.get(name, ())
    if not allowed:
        keys.here.refuse("nothing of this name is said in words", name, tuple(SAID))
    return phrases(keys.get("also"), allowed)


def read_synonym(name: str, keys: Fields, place: Place) -> tuple[str, ...]:
    """One entry of ``synonyms``: words that mean the same as its id."""
    return keys.texts("also", must=True)


def _single(keys: Fields, key: str, *, must: bool) -> tuple[str, ...]:
    found = keys.texts(key, must=must)
    for several in (text for text in found if " " in text):
        keys.here.refuse(f"each of '{key}' is a single word", several)
    return found


def read_word_list(name: str, keys: Fields, place: Place) -> WordList:
    """One entry of ``word_lists``: ``words``, or ``stems`` (in any form), or ``means``."""
    means, inflected = keys.get("means"), keys.has("stems")
    return WordList(
        words=_single(keys, "stems" if inflected else "words", must=means is None),
        more=keys.ids("with", "word_lists"),
        inflected=inflected,
        means=means.mapping(Value.text) if means else {},
    )


def telling(value: Value, results: Collection[str]) -> Telling:
    """``told`` of a look that has ``results``; every word list that a pattern names must exist."""
    with value.group() as keys:
        told = phrases(keys.need("results"), results)
        lists = (word for found in told.values() for phrase in found for word in LISTED.findall(phrase))
        value.out.references.extend(Reference(("word_lists",), list_, value.where) for list_ in lists)
        return Telling(_single(keys, "named", must=True), _single(keys, "never", must=False), told)
