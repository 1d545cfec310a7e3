"""Reads laps and compounds."""

from __future__ import annotations

from typing import Literal, cast

from lapwise.engine.knowledge.fields import Fields, span
from lapwise.engine.knowledge.model import Compound, Lap
from lapwise.engine.knowledge.place import Place

KINDS = ("oxide", "carbide", "diamond", "none")
_KindWord = Literal["oxide", "carbide", "diamond", "none"]


def read_lap(name: str, keys: Fields, place: Place) -> Lap:
    """One entry of ``laps``."""
    rpm = keys.need("rpm")
    speeds: list[int] = []
    if rpm is not None:
        speeds = [round(item.number(1, 5000)) for item in rpm.items()]
        if len(speeds) != 2 or speeds[0] > speeds[1]:
            rpm.refuse("two speeds are required, the lower first: [100, 400]", rpm.kind())
    return Lap(
        **keys.named(name, place),
        about=keys.text("about"),
        hardness=keys.number("hardness", 1, 10),
        traits=frozenset(keys.ids("traits", "lap_traits")),
        carries=keys.ids("carries", "compounds", also=KINDS),
        rpm=(speeds[0], speeds[1]) if len(speeds) == 2 else (0, 0),
        cautions=keys.ids("cautions", "cautions"),
        care=keys.texts("care"),
        source=keys.source(),
    )


def read_compound(name: str, keys: Fields, place: Place) -> Compound:
    """One entry of ``compounds``."""
    um = keys.get("um")
    mesh = keys.get("mesh")
    typical = keys.get("typical_um")
    return Compound(
        **keys.named(name, place),
        about=keys.text("about", must=False),
        kind=cast(_KindWord, keys.word("kind", KINDS, default="none")),
        mesh=round(mesh.number(1, 1_000_000)) if mesh else None,
        um=span(um, "µm", 0, 2000) if um else None,
        typical_um=typical.number(0.001, 2000) if typical else None,
        cautions=keys.ids("cautions", "cautions"),
        source=keys.source(),
    )
