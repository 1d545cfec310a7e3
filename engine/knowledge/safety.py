"""What an own entry cannot take away: shipped cautions stay, and whatever else protects and is replaced is said."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from lapwise.engine.knowledge.entries import Entry
from lapwise.engine.knowledge.model import Caution, Replaced
from lapwise.engine.knowledge.rule_model import Rule, Then

Made = dict[str, dict[str, Any]]
HAZARDS = ("heat", "acid", "water", "cleavage", "avoid")
"""What a material says of how it can come to harm."""
WITH_CAUTIONS = ("materials", "laps", "compounds", "remedies", "looks")


def shadow(shipped: Entry | None, own: Entry) -> Entry | None:
    """A rule beside ``own`` that warns as the shipped one of the same id does, if ``own`` might not; else None."""
    if shipped is None or own.list != "rules":
        return None
    before, after = shipped.value, own.value
    kept_whole = after.when == before.when and set(before.then.cautions) <= set(after.then.cautions)
    if kept_whole or not before.then.cautions:
        return None
    name = f"{shipped.id}.shipped"
    return replace(shipped, id=name, value=replace(before, id=name, then=Then(cautions=before.then.cautions)))


def kept(made: Made, shipped: Made) -> tuple[Made, tuple[Replaced, ...]]:
    """Everything ``made``, with the cautions of what was ``shipped``; and what of it stands in another's place."""
    out = {name: dict(values) for name, values in made.items()}
    said: list[Replaced] = []
    for list_ in WITH_CAUTIONS:
        for id_, before in shipped[list_].items():
            after = out[list_][id_]
            if lost := [c for c in before.cautions if c not in after.cautions]:
                after = out[list_][id_] = replace(after, cautions=(*before.cautions, *after.cautions))
                what = f"your own '{id_}' leaves out what is shipped with it: the cautions {', '.join(lost)} stay"
                said.append(Replaced(list_, id_, what, _where(after, list_)))
            if list_ == "materials":
                said += _hazards(before, after)
    for id_, before in shipped["cautions"].items():
        after = out["cautions"][id_]
        if after != before:
            out["cautions"][id_] = _added(before, after)
            what = f"your own caution '{id_}' is added to the shipped one, which stays"
            said.append(Replaced("cautions", id_, what, _where(after, "cautions")))
    said += _rules(out["rules"], shipped["rules"])
    return out, tuple(said)


def _hazards(before: Any, after: Any) -> Iterator[Replaced]:
    changed = [name for name in HAZARDS if getattr(before, name) != getattr(after, name)]
    if changed:
        what = f"about '{after.id}' your own files say something other than the shipped ones: {', '.join(changed)}"
        yield Replaced("materials", after.id, what, _where(after, "materials"))


def _added(before: Caution, after: Caution) -> Caution:
    def both(one: str, two: str) -> str:
        return two if one in two else f"{one} {two}".strip()

    return replace(
        after,
        hazard=both(before.hazard, after.hazard),
        action=both(before.action, after.action),
        standard=both(before.standard, after.standard),
        general=before.general or after.general,
        substance=before.substance and after.substance,
    )


def _rules(made: dict[str, Rule], shipped: dict[str, Rule]) -> Iterator[Replaced]:
    for id_, before in shipped.items():
        after = made[id_]
        lost = set(before.then.vetoes) - set(after.then.vetoes)
        if before.then.vetoes and (lost or after.when != before.when):
            forbidden = ", ".join(before.then.vetoes)
            what = f"your own rule '{id_}' takes the place of a shipped one that forbids: {forbidden}"
            yield Replaced("rules", id_, what, _where(after, "rules"), before)


def _where(thing: Any, list_: str) -> str:
    return str(thing.place.of(f"{list_}.{thing.id}"))
