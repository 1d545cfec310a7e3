"""Reads symptoms, what groups them, and causes."""

from __future__ import annotations

from lapwise.engine.case import STAGES
from lapwise.engine.knowledge.fields import Fields, Value
from lapwise.engine.knowledge.model import Appearance, Cause, Symptom
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.remedies import chance

BASES = ("very-common", "common", "occasional", "uncommon", "rare")


def read_symptom(name: str, keys: Fields, place: Place) -> Symptom:
    """One entry of ``symptoms``; one that says something of causes needs a reason and a source."""
    confuse = keys.get("not_to_confuse")
    says = keys.get("says")
    return Symptom(
        **keys.named(name, place),
        about=keys.text("about"),
        how=keys.text("how"),
        not_to_confuse=confuse.mapping(Value.text, "symptoms") if confuse else {},
        says=says.mapping(chance, "causes") if says else {},
        because=keys.text("because", must=says is not None),
        source=keys.source() if says or keys.has("source") else "",
        limits=keys.text("limits", must=False),
        remains=keys.text("remains", must=False),
    )


def read_appearance(name: str, keys: Fields, place: Place) -> Appearance:
    """One entry of ``appearances``; what it is plainly taken for must be one of its symptoms."""
    value = keys.get("plainly")
    appearance = Appearance(
        **keys.named(name, place),
        symptoms=keys.ids("symptoms", "symptoms"),
        plainly=value.text() if value else "",
        felt=keys.truth("felt"),
    )
    if value and appearance.plainly not in appearance.symptoms:
        value.refuse("not one of the symptoms of this group", appearance.plainly, appearance.symptoms)
    return appearance


def read_cause(name: str, keys: Fields, place: Place) -> Cause:
    """One entry of ``causes``; it may be at work at every stage unless ``stages`` says otherwise."""
    return Cause(
        **keys.named(name, place),
        about=keys.text("about"),
        confirm=keys.text("confirm"),
        base=keys.word("base", BASES),
        stages=keys.words("stages", STAGES) or STAGES,
        source=keys.source(),
    )
