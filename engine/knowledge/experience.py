"""Reads experience: what a guild's benches found together, added up. Numbers only; it has no say in what is safe.

One row is ``loaded-lap: 0.62 (0.6 to 0.64) of 1204``: the value, the range that holds it with 90 %, and the trials or
expected cases behind it, each bench counting for no more than a few. Ids that are not known here are no error: the
file may come from a newer or older Lapwise (the check ``unknown-experience`` tells of them).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from lapwise.engine.knowledge.fields import Fields, Value
from lapwise.engine.knowledge.model import Experience, Found
from lapwise.engine.knowledge.place import Place

ALL = "all"
LEVELS = ("material", "lap", "compound")
LEAST_CHANCE, MOST_CHANCE = 0.003, 0.997
LEAST_FACTOR, MOST_FACTOR = 0.1, 10.0
"""How far a guild may move the frequency of a cause: judgement."""
MOST_TRIALS = 1e9
_NUMBER = r"([0-9]{1,10}(?:\.[0-9]{1,6})?)"
_ROW = re.compile(rf"{_NUMBER} \({_NUMBER} to {_NUMBER}\) of {_NUMBER}")
FORM = "0.62 (0.6 to 0.64) of 1204"


def row(found: Found) -> str:
    """A row as it stands in the file."""
    return f"{_plain(found.mean)} ({_plain(found.low)} to {_plain(found.high)}) of {_plain(found.trials, 1)}"


def _plain(number: float, decimals: int = 4) -> str:
    return f"{number:.{decimals}f}".rstrip("0").rstrip(".")


def _found(value: Value, low: float, high: float) -> Found | None:
    text = value.text()
    match = _ROW.fullmatch(text)
    if match is None:
        value.refuse(f"a row such as '{FORM}' is required", text or "nothing")
        return None
    mean, least, most, trials = (float(n) for n in match.groups())
    if not low <= mean <= high:
        value.refuse(f"the number is out of range: from {low:g} up to {high:g} is allowed", match[1])
    elif not least <= mean <= most:
        value.refuse("the value must lie within its range", text)
    elif trials > MOST_TRIALS or not trials > 0:
        value.refuse(f"trials above 0 and up to {MOST_TRIALS:.0f} are allowed", match[4])
    else:
        return Found(mean, least, most, trials)
    return None


def _rows(value: Value, low: float, high: float) -> Mapping[str, Found]:
    found = {name: _found(inner, low, high) for name, inner in value.fields().each()}
    return MappingProxyType({name: row for name, row in found.items() if row is not None})


def read_experience(name: str, keys: Fields, place: Place) -> Experience:
    """One entry of ``experience``: ``all``, or ``material.ID``, ``lap.ID``, ``compound.ID``."""
    level, _, group = name.partition(".")
    if name != ALL and (level not in LEVELS or not group):
        keys.here.refuse("no such group of experience", name, (ALL, *(f"{x}.ID" for x in LEVELS)))
    fixes: dict[str, Mapping[str, Found]] = {}
    if value := keys.get("fixes"):
        for remedy, inner in value.fields().each():
            fixes[remedy] = _rows(inner, LEAST_CHANCE, MOST_CHANCE)
    causes: Mapping[str, Found] = MappingProxyType({})
    if value := keys.get("causes"):
        causes = _rows(value, LEAST_FACTOR, MOST_FACTOR)
    benches = keys.number("benches", 1, 1e7, must=False)
    made = keys.text("made", must=False)
    keys.text("knowledge", must=False)
    return Experience(
        name, level, group, fixes=MappingProxyType(fixes), causes=causes, benches=int(benches), made=made, place=place
    )
