"""Reads habits: what cutters begin with where certain things are seen, as weights fitted to the opinions of many."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from lapwise.engine.knowledge.fields import Fields
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.rule_model import Habit, Test
from lapwise.engine.knowledge.rules import tests_of

MOST = 10.0
"""The largest weight allowed, either way: with it a move is 22,000 times as likely to come first."""


def read_habit(name: str, keys: Fields, place: Place) -> Habit:
    """One entry of ``habits``: ``{when: [symptom: haze], begins: {clean-lap: 0.6}}``; none: it always holds."""
    tests: list[Test] = []
    if when := keys.get("when"):
        for item in when.items():
            for key, asked in item.fields().each():
                tests += tests_of(key, asked, bind=False)
    moves: Mapping[str, float] = MappingProxyType({})
    if value := keys.need("begins"):
        moves = value.mapping(lambda v: v.number(-MOST, MOST), "remedies", "looks")
    return Habit(name, tuple(tests), moves, place)
