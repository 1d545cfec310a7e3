"""Reads the short lists: cautions, findings, traits and sources."""

from __future__ import annotations

from lapwise.engine.knowledge.fields import Fields, Value
from lapwise.engine.knowledge.model import Caution, Finding, Place, Source

STATUSES = ("read", "abstract", "package", "memory")


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
        value.refuse("the meaning in words is wanted")
    return text
