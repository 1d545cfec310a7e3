"""`lapwise grit`: what a grit number means in each named system, and the nearest grades of the others by size."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from typing import Any

import click

from lapwise.engine.abrasion.damage import RELATION, damage_depth
from lapwise.engine.abrasion.numbers import short, spread
from lapwise.engine.abrasion.tables import (
    Grain,
    System,
    Systems,
    convert,
    grain,
    load_systems,
    nearest_grade,
    readings,
    system_of,
)
from lapwise.engine.errors import BadInput, Issue
from lapwise.tui.cli.output import Command, note, reply, say, width, wrap

BY_NUMBER = "Never convert by number: the same number is a different size in each system."
_SIZE = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s*(?:um|µm|μm|microns?|micrometres?)$", re.IGNORECASE)
_WIDE = 76
"""Columns from which spreads and standards stand on the same line."""
_NEAR = 1.5
"""A grade farther off than this factor is no counterpart."""


@click.command("grit", cls=Command)
@click.argument("grit", metavar="GRIT")
@click.option("--system", metavar="ID", help="The grit system, such as fepa-f, fepa-p, jis, us-mesh, diamond-trade.")
def command(grit: str, system: str | None) -> None:
    """Grain sizes of the named grit systems.

    GRIT is a number such as 1200, a grade with its letter such as P800, F220 or D46, or a size such as 9um. Without
    --system every system that has the number is shown; with it, the nearest grades of the others, by size.

    --json gives grit, warning and readings (system, label, um, low_um, high_um, measure, standard, convention, source,
    note); for one system those keys at the top, with nearest (system, label, grit, um, ratio), diamond_trade,
    damage_um, damage_relation, damage_holds_for and damage_source. Sizes and depths are micrometres.
    """
    systems = load_systems()
    if match := _SIZE.match(grit.strip()):
        _by_size(float(match[1]), grit, system, systems)
        return
    found = readings(grit, systems) if system is None else (convert(grit, system, systems),)
    if len(found) == 1:
        form = _one_json(found[0], systems)
        reply(form, _say_one, found[0], systems)
    else:
        form = {"grit": grit, "warning": BY_NUMBER, "readings": [_grain_json(g, systems) for g in found]}
        reply(form, _say_several, found, systems)


def _say_several(found: Sequence[Grain], systems: Systems) -> None:
    say(f"{found[0].grit} is {len(found)} different sizes, one in each system:")
    say()
    for reading in found:
        _row(systems[reading.system], reading)
    say()
    say(wrap(BY_NUMBER))
    say(wrap(f"For one system and its counterparts: lapwise grit {found[0].grit} --system {found[0].system}"))


def _by_size(um: float, text: str, system: str | None, systems: Systems) -> None:
    if not 0.001 <= um <= 100_000:
        raise BadInput(Issue("a size from 0.001 to 100000 µm is required", "grit", text))
    chosen = [system_of(system, systems)] if system else list(systems.values())
    reply({"um": um, "nearest": _near_json(um, chosen), **_damage_json(um)}, _say_size, um, chosen)


def _say_size(um: float, chosen: list[System]) -> None:
    say(f"{short(um)} µm: the nearest grade of each system, by size")
    say()
    _nearest(um, chosen)
    say()
    _damage(um)


def _others(found: Grain, systems: Systems) -> list[System]:
    return [s for s in systems.values() if s.id != found.system]


def _one_json(found: Grain, systems: Systems) -> dict[str, Any]:
    trade = systems.get("diamond-trade")
    return {
        "grit": found.grit,
        "warning": BY_NUMBER,
        **_grain_json(found, systems),
        "nearest": _near_json(found.um, _others(found, systems)),
        "diamond_trade": None if trade is None else _near_json(found.um, [trade])[0],
        **_damage_json(found.um),
    }


def _say_one(found: Grain, systems: Systems) -> None:
    system = systems[found.system]
    say(f"{system.label} {found.grit}: {_size(found)}")
    say(wrap(f"Size: {system.measure}.", "  "))
    standard = "No standard" if system.convention else f"Standard: {found.standard}"
    say(wrap(f"{standard}. For {system.use}.", "  "))
    for text in filter(None, (*system.notes, found.note)):
        say(wrap(text, "  "))
    say()
    say("Nearest grade of each other system, by size:")
    _nearest(found.um, _others(found, systems))
    say()
    _damage(found.um)
    note(BY_NUMBER)


def _damage(um: float) -> None:
    depth = spread(*damage_depth(um))
    say(wrap(f"A cutting or pre-polish step with this grain may leave cracks {depth} µm below the surface."))
    memory = ", constants from memory" if RELATION.memory else ""
    say(wrap(f"Rule: {RELATION.formula}; measured on {RELATION.holds_for}{memory}. A gem may differ.", "  "))


def _size(found: Grain) -> str:
    span = "" if found.low is None or found.high is None else f" ({found.low:g} to {found.high:g})"
    return f"{found.um:g} µm{span}"


def _row(system: System, found: Grain) -> None:
    left = f"  {system.label:<26}{_size(found):<23}"
    if width() < _WIDE:
        say(left.rstrip())
        say(wrap(found.standard, " " * 28))
        return
    lines = textwrap.wrap(found.standard, max(20, width() - len(left)))
    say((left + lines[0]).rstrip())
    for line in lines[1:]:
        say(" " * len(left) + line)


def _nearest(um: float, systems: list[System]) -> None:
    for system in systems:
        grade, ratio = nearest_grade(um, system)
        if not 1 / _NEAR <= ratio <= _NEAR:
            say(f"  {system.label:<26}none near ({_ends(system)})")
            continue
        found = grain(system, grade)
        size = f"{_size(found):<23}" if width() >= _WIDE else f"{found.um:g} µm  "
        off = round(100 * (ratio - 1))
        words = "the same size" if off == 0 else f"{abs(off)} % {'coarser' if off > 0 else 'finer'}"
        say(f"  {system.label:<26}{grade.name:<9}{size}{words}")


def _ends(system: System) -> str:
    sizes = [g.um for g in system.grades]
    return f"{short(max(sizes))} to {short(min(sizes))} µm"


def _grain_json(found: Grain, systems: Systems) -> dict[str, Any]:
    system = systems[found.system]
    return {
        "system": found.system,
        "label": system.label,
        "um": found.um,
        "low_um": found.low,
        "high_um": found.high,
        "measure": system.measure,
        "standard": found.standard,
        "convention": system.convention,
        "source": found.source,
        "note": found.note,
    }


def _near_json(um: float, systems: list[System]) -> list[dict[str, Any]]:
    return [{"system": system.id, "label": system.label, **_near_grade(um, system)} for system in systems]


def _near_grade(um: float, system: System) -> dict[str, Any]:
    grade, ratio = nearest_grade(um, system)
    if not 1 / _NEAR <= ratio <= _NEAR:
        return {"grit": None, "um": None, "ratio": None}
    return {"grit": grade.name, "um": grade.um, "ratio": ratio}


def _damage_json(um: float) -> dict[str, Any]:
    return {
        "damage_um": list(damage_depth(um)),
        "damage_relation": RELATION.formula,
        "damage_holds_for": RELATION.holds_for,
        "damage_source": RELATION.source,
    }
