"""Reads remedies and looks."""

from __future__ import annotations

from types import MappingProxyType
from typing import Literal, cast

from lapwise.engine.knowledge.fields import Fields, Value
from lapwise.engine.knowledge.laps import KINDS
from lapwise.engine.knowledge.model import Look, Remedy, StepFor, Target
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.reader import Mapping
from lapwise.engine.knowledge.words import phrases, telling
from lapwise.engine.slots import CONDITIONS

CHANCES = ("always", "usually", "often", "sometimes", "rarely", "never")
_RELATIONS = ("finer", "coarser", "softer", "harder", "other", "between")
MOST_WAIT = 525600
"""A year, in minutes."""
_KEEPS = ("lap", "compound", "nothing")


def chance(value: Value) -> str:
    """A chance word."""
    return value.word(CHANCES)


def _target(value: Value) -> Target:
    with value.group() as keys:
        return Target(
            laps=keys.ids("laps", "laps"),
            lap_traits=keys.ids("lap_traits", "lap_traits"),
            compounds=keys.ids("compounds", "compounds"),
            kinds=keys.words("kinds", KINDS),
            keep=cast(Literal["lap", "compound", "nothing"], keys.word("keep", _KEEPS, must=False, default="nothing")),
            relation=cast(Literal["finer", "coarser"], keys.word("relation", _RELATIONS, must=False)),
        )


def _steps(keys: Fields) -> tuple[tuple[str, ...], dict[str, StepFor]]:
    """The steps, and what those are for that are not for every lap and compound: ``{laps: [ceramic], do: …}``."""
    steps: list[str] = []
    only = {}
    value = keys.need("steps")
    for item in value.items() if value else ():
        if not isinstance(item.node, Mapping):
            steps.append(item.text())
            continue
        with item.group() as inner:
            on, off = (frozenset(inner.ids(key, "laps", "lap_traits")) for key in ("laps", "not_laps"))
            steps.append(inner.text("do"))
            only[steps[-1]] = StepFor(on, off, frozenset(inner.words("kinds", KINDS)))
    return tuple(filter(None, steps)), only


def read_remedy(name: str, keys: Fields, place: Place) -> Remedy:
    """One entry of ``remedies``."""
    group, group_minutes = None, 0.0
    if setup := keys.get("setup"):
        with setup.group() as inner:
            group, group_minutes = inner.text("group") or None, inner.number("minutes", 0, 1440)
    worse_chance, worse_minutes = "never", 0.0
    if worse := keys.get("worse"):
        with worse.group() as inner:
            worse_chance, worse_minutes = (
                inner.word("chance", CHANCES, default="never"),
                inner.number("minutes", 0, 1440),
            )
    wait, wait_for = 0.0, ""
    if waits := keys.get("wait"):
        with waits.group() as inner:
            wait, wait_for = inner.number("minutes", 1, MOST_WAIT), inner.text("for")
    fixes = keys.need("fixes")
    to = keys.get("to")
    steps, only = _steps(keys)
    contrary = keys.get("opposite")
    return Remedy(
        **keys.named(name, place),
        about=keys.text("about"),
        steps=steps,
        only=only,
        beside=keys.truth("beside"),
        opposite=contrary.id("remedies") if contrary else "",
        minutes=keys.number("minutes", 0.1, 1440),
        setup_group=group,
        setup_minutes=group_minutes,
        fixes=fixes.mapping(chance, "causes") if fixes else {},
        worse_chance=worse_chance,
        worse_minutes=worse_minutes,
        needs=keys.texts("needs"),
        cautions=keys.ids("cautions", "cautions"),
        risks=keys.texts("risks"),
        to=_target(to) if to else None,
        steps_back=round(keys.number("steps_back", 0, 9, must=False)),
        source=keys.source(),
        wait_minutes=wait,
        wait_for=wait_for,
        ends=keys.truth("ends"),
        takes_in=keys.ids("takes_in", "remedies"),
        one_go=keys.ids("one_go", "remedies"),
        followed_by=keys.ids("followed_by", "remedies"),
    )


def read_look(name: str, keys: Fields, place: Place) -> Look:
    """One entry of ``looks``."""
    labels: dict[str, str] = {}
    if results := keys.need("results"):
        labels = {key: value.text() for key, value in results.fields().each()}
        if len(labels) < 2:
            results.refuse("a look needs at least two results", ", ".join(labels))

    def spread(value: Value) -> MappingProxyType[str, str]:
        row: dict[str, str] = {}
        for key, word in value.fields().each():
            if key not in labels:
                word.refuse("not a result of this look", key, tuple(labels))
            row[key] = chance(word)
        if row and set(row.values()) <= {"never"}:
            value.refuse("every result is 'never': one must be possible")
        return MappingProxyType(row)

    otherwise = keys.need("otherwise")
    says = keys.need("says")
    told = keys.get("told")
    return Look(
        **keys.named(name, place),
        about=keys.text("about"),
        steps=keys.texts("steps"),
        minutes=keys.number("minutes", 0.1, 1440),
        results=tuple(labels),
        result_labels=MappingProxyType(labels),
        otherwise=spread(otherwise) if otherwise else {},
        says=says.mapping(spread, "causes") if says else {},
        needs=keys.texts("needs"),
        cautions=keys.ids("cautions", "cautions"),
        source=keys.source(),
        results_also=phrases(keys.get("results_also"), labels),
        settles=keys.word("settles", CONDITIONS, must=False),
        told=telling(told, labels) if told else None,
    )
