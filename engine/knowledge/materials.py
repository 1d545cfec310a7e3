"""Reads materials and lets each inherit what it does not say itself: variety from species, species from family."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast

from lapwise.engine.errors import Issue
from lapwise.engine.knowledge.fields import Fields, Value, level, span
from lapwise.engine.knowledge.model import Cleavage, Material, Note, Pair
from lapwise.engine.knowledge.place import Place
from lapwise.engine.slots import LEVELS, SLOTS

RANKS = ("family", "species", "variety")
PAIR_STAGES = ("polish", "prepolish")
_MUST = ("formula", "crystal_system")
_LEVELS = {
    "toughness": SLOTS["toughness"].values,
    "heat": LEVELS,
    "acid": LEVELS,
    "water": LEVELS,
    "directional": SLOTS["directional"].values,
}
_SPANS = {"mohs": ("Mohs", 1.0, 10.0), "sg": ("1", 0.9, 20.0), "ri": ("1", 1.0, 4.0)}


@dataclass(frozen=True, slots=True)
class Draft:
    """A material as written: ``stated`` holds only the keys it gives itself."""

    id: str
    label: str
    rank: str
    parent: str
    stated: Mapping[str, Any]
    traits: frozenset[str]
    also: tuple[str, ...]
    place: Place


def _cleavage(value: Value) -> Cleavage:
    with value.group() as keys:
        keep_off = keys.get("keep_off_degrees")
        return Cleavage(
            plane=keys.text("plane"),
            quality=cast(Literal["none", "poor"], keys.word("quality", SLOTS["cleavage"].values, default="none")),
            source=keys.source(),
            keep_off_degrees=keep_off.number(0, 45) if keep_off else None,
        )


def _pair(value: Value) -> Pair:
    with value.group() as keys:
        pair = Pair(
            laps=keys.ids("laps", "laps"),
            compounds=keys.ids("compounds", "compounds"),
            source=keys.source(),
            because=keys.text("because", must=False),
            stage=keys.word("stage", PAIR_STAGES, must=False, default="polish"),
        )
        if not pair.laps and not pair.compounds:
            value.refuse("a pair must name at least a lap or a compound")
    return pair


def _note(value: Value) -> Note:
    with value.group() as keys:
        return Note(keys.text("text"), keys.source())


def read_material(name: str, keys: Fields, place: Place) -> Draft:
    """One entry of ``materials``."""
    parent = keys.get("parent")
    stated: dict[str, Any] = {}
    for key in _MUST:
        if value := keys.get(key):
            stated[key] = value.text()
    for key, (unit, low, high) in _SPANS.items():
        if value := keys.get(key):
            stated[key] = span(value, unit, low, high)
    for key, words in _LEVELS.items():
        if value := keys.get(key):
            stated[key] = level(value, words)
    for key, read in (("cleavage", _cleavage), ("polishes_with", _pair), ("avoid", _pair), ("notes", _note)):
        # An empty list is a statement too: "none", where the parent has some.
        if (value := keys.get(key)) is not None:
            stated[key] = tuple(read(item) for item in value.items())
    if value := keys.get("cautions"):
        stated["cautions"] = value.ids("cautions")
    return Draft(
        **keys.named(name, place),
        rank=keys.word("rank", RANKS),
        parent=parent.id("materials") if parent else "",
        stated=stated,
        traits=frozenset(keys.ids("traits", "traits")),
    )


def inherit(drafts: Mapping[str, Draft]) -> tuple[dict[str, Material], dict[str, Issue]]:
    """Every material merged with its line of parents, and a problem for each that cannot be.

    A parent that is no material is not reported here: the references are checked elsewhere.
    """
    done: dict[str, Material] = {}
    problems: dict[str, Issue] = {}
    for draft in drafts.values():
        line = _line(draft, drafts)
        where = draft.place.of(f"{draft.id}.parent")
        if len({d.id for d in line}) < len(line):
            problems[draft.id] = Issue("the parents of this material go round in a circle", where, draft.parent)
            continue
        ranks = [RANKS.index(d.rank) for d in line if d.rank in RANKS]
        faults = []
        if len(ranks) > 1 and ranks[0] <= ranks[1]:
            faults.append(f"a {line[0].rank} cannot have a {line[1].rank} as its parent")
        if len(line) > len(RANKS):
            faults.append(f"too many parents in a row: {', '.join(reversed(RANKS))} is all there is")
        if faults:
            problems[draft.id] = Issue("; ".join(faults), where, draft.parent)
        if len(line) > len(RANKS):
            continue
        missing = [key for key in _MUST if not any(key in d.stated for d in line)]
        if missing:
            what = f"the key '{missing[0]}' is missing, here and in its parents"
            problems[draft.id] = Issue(what, draft.place.of(f"materials.{draft.id}"))
        done[draft.id] = _merged(line)
    return done, problems


def _line(draft: Draft, drafts: Mapping[str, Draft]) -> list[Draft]:
    """The material, its parent and so on up, one step further than the ranks go: a longer line is at fault anyway."""
    line = [draft]
    while len(line) <= len(RANKS) and (parent := drafts.get(line[-1].parent)) is not None:
        line.append(parent)
    return line


def _merged(line: list[Draft]) -> Material:
    first = line[0]

    def stated(key: str, default: Any) -> Any:
        return next((d.stated[key] for d in line if key in d.stated), default)

    def added(key: str) -> tuple[Any, ...]:
        return tuple(dict.fromkeys(item for d in line for item in d.stated.get(key, ())))

    return Material(
        id=first.id,
        label=first.label,
        rank=cast(Literal["family", "species", "variety"], first.rank),
        line=tuple(d.id for d in line),
        formula=stated("formula", ""),
        crystal_system=stated("crystal_system", ""),
        **{key: stated(key, None) for key in (*_SPANS, *_LEVELS)},
        cleavage=stated("cleavage", ()),
        traits=frozenset().union(*(d.traits for d in line)),
        polishes_with=stated("polishes_with", ()),
        avoid=stated("avoid", ()),
        cautions=added("cautions"),
        notes=added("notes"),
        place=first.place,
        also=first.also,
    )
