"""Grain sizes of the named grit systems, from knowledge/abrasives.yaml. Sizes in micrometres (µm).

The same number names another size in every system, so a size is only ever looked up in a named system, and another
system's grade is found by size, never by number. No table is taken to be in order: one published table turns back.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from lapwise.engine.errors import BadInput, Issue, NothingFound, nearest
from lapwise.engine.knowledge.alone import read_alone, shipped
from lapwise.engine.knowledge.fields import Fields, Value
from lapwise.engine.knowledge.reader import Scalar

LIST = "abrasives"
FORMS = ("a number such as 1200", "a grade such as P800, F220 or D46", "a size such as 9um")
"""What a person may type for a grit."""


@dataclass(frozen=True, slots=True)
class Grade:
    """One grade of a system. ``um``: its middle; ``low``, ``high``: its spread where published, else None."""

    name: str
    um: float
    low: float | None = None
    high: float | None = None
    note: str = ""
    also: tuple[str, ...] = ()
    """Other names of the same grade."""


@dataclass(frozen=True, slots=True)
class System:
    """A named grit system. ``measure``: what its sizes are. ``convention``: no standard stands behind it."""

    id: str
    label: str
    standard: str
    use: str
    measure: str
    source: str
    convention: bool
    prefix: str
    notes: tuple[str, ...]
    grades: tuple[Grade, ...]

    def named(self, grit: str) -> Grade | None:
        """The grade of that name, or None."""
        return next((g for g in self.grades if grit in (g.name, *g.also)), None)


Systems = Mapping[str, System]


@dataclass(frozen=True, slots=True)
class Grain:
    """A grain size with where it comes from. ``um`` middle, ``low`` and ``high`` its spread or None, all in µm."""

    system: str
    grit: str
    um: float
    low: float | None
    high: float | None
    standard: str
    source: str
    note: str


def load_systems() -> Systems:
    """All systems in the order of the file. Raises :class:`Damaged` with every problem if it cannot be used."""
    return read_systems(*shipped(LIST))


def read_systems(data: bytes, name: str) -> Systems:
    """The systems in a file's bytes; ``name`` is what messages call it. Raises :class:`Damaged`."""
    return read_alone(data, name, LIST, _systems)


def _systems(value: Value) -> Systems:
    systems: dict[str, System] = {}
    for id_, inner in value.fields().each():
        with inner.group() as keys:
            systems[id_] = _system(id_, keys)
    return MappingProxyType(systems)


def _system(id_: str, keys: Fields) -> System:
    grades = keys.need("grades")
    convention = keys.need("convention")
    return System(
        id=id_,
        label=keys.text("label"),
        standard=keys.text("standard"),
        use=keys.text("use"),
        measure=keys.text("measure"),
        source=keys.text("source"),
        convention=bool(convention and convention.truth()),
        prefix=keys.text("prefix", must=False),
        notes=keys.texts("notes"),
        grades=tuple(_grade(name, value) for name, value in grades.fields().each()) if grades else (),
    )


def _grade(name: str, value: Value) -> Grade:
    if isinstance(value.node, Scalar):
        return Grade(name, value.number(0.001, 100_000))
    with value.group() as keys:
        um, low, high, largest = (keys.get(k) for k in ("um", "low", "high", "largest"))
        note = keys.text("note", must=False)
        if largest:
            note = f"{note} No grain over {largest.number(0, 100_000):g} µm.".strip()
        if um is None:
            value.refuse("the key 'um' is missing")
        return Grade(
            name,
            um.number(0.001, 100_000) if um else 0.0,
            low.number(0, 100_000) if low else None,
            high.number(0, 100_000) if high else None,
            note,
            keys.texts("also"),
        )


def system_of(system: str, systems: Systems) -> System:
    """The system of that id; raises :class:`BadInput` with the nearest spelling."""
    found = systems.get(system)
    if found is None:
        raise BadInput.unknown("no such grit system", system, systems, "--system")
    return found


def grain(system: System, grade: Grade) -> Grain:
    """A grade as a size with its standard and source."""
    return Grain(system.id, grade.name, grade.um, grade.low, grade.high, system.standard, system.source, grade.note)


def spelled(text: str, systems: Systems) -> tuple[str, str | None]:
    """(grit, system or None) from what a person typed: ``1200``, ``#1200``, ``1,200``, ``100k``, ``F1200``, ``D46``.

    A letter that names a system gives the system too.
    """
    word = text.strip().upper().replace("MESH", "").replace("GRIT", "").replace(" ", "").lstrip("#").replace(",", "")
    for system in systems.values():
        if any(word in (g.name, *g.also) for g in system.grades if not g.name.isdigit()):
            return word, system.id
        if system.prefix and word.startswith(system.prefix) and _digits(word[len(system.prefix) :]):
            return word[len(system.prefix) :], system.id
    if word.endswith("K") and _digits(word[:-1].replace(".", "", 1)):
        word = f"{float(word[:-1]) * 1000:g}" if float(word[:-1]) < 1000 else word
    return word, None


def _digits(text: str) -> bool:
    return text.isascii() and text.isdigit()


def nearest_grits(grit: str, system: System, count: int = 3) -> tuple[str, ...]:
    """The grades of a system whose numbers are closest to a number it does not have (by ratio)."""
    try:
        wanted = float(grit)
    except ValueError:
        return nearest(grit, [g.name for g in system.grades], count)
    if not (math.isfinite(wanted) and wanted > 0):
        return ()
    numbered = []
    for grade in system.grades:
        try:
            numbered.append((abs(math.log(float(grade.name) / wanted)), grade.name))
        except ValueError:
            continue
    return tuple(name for _, name in sorted(numbered)[:count])


def convert(grit: str | int, system: str, systems: Systems | None = None) -> Grain:
    """The grain of a grit in one named system. Raises :class:`BadInput` with the nearest grits or systems."""
    systems = systems or load_systems()
    chosen = system_of(system, systems)
    name, said = spelled(str(grit), systems)
    if said is not None and said != chosen.id:
        what = f"'{grit}' is a grade of {systems[said].label}, not of {chosen.label}"
        raise BadInput(Issue(what, "--system", system, (said,), (said,)))
    grade = chosen.named(name)
    if grade is None:
        allowed = tuple(g.name for g in chosen.grades)
        raise BadInput(
            Issue(f"{chosen.label} has no such grit", "grit", str(grit), allowed, nearest_grits(name, chosen))
        )
    return grain(chosen, grade)


def readings(grit: str | int, systems: Systems | None = None) -> tuple[Grain, ...]:
    """What a grit means in every system that has it. Raises :class:`BadInput` with the nearest grits if none has."""
    systems = systems or load_systems()
    name, said = spelled(str(grit), systems)
    chosen = [systems[said]] if said else list(systems.values())
    found = tuple(grain(s, g) for s in chosen if (g := s.named(name)) is not None)
    if not found:
        numbers = {n for s in chosen for n in nearest_grits(name, s, 2)}
        pool = System("", "", "", "", "", "", False, "", (), tuple(Grade(n, 1.0) for n in sorted(numbers)))
        near = nearest_grits(name, pool, 4)
        raise BadInput(Issue("no grit system has such a grit", "grit", str(grit), FORMS, near))
    return found


def nearest_grade(um: float, system: System) -> tuple[Grade, float]:
    """The grade of a system closest in size to ``um`` (by ratio), and its size divided by ``um``.

    Every grade is compared, since a table need not be in order. Raises :class:`NothingFound` for an empty system.
    """
    if not system.grades:
        raise NothingFound(f"{system.label} has no grades")
    best = min(system.grades, key=lambda g: (abs(math.log(g.um / um)), g.name))
    return best, best.um / um
