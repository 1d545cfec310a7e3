"""Walks over everything known: every id that something names, and every statement that needs a source or reason."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from lapwise.engine.knowledge.model import Knowledge, Labelled, Material
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.rule_model import CONCLUSIONS, AllOf, AnyOf, Habit, Not, Rule, Test
from lapwise.engine.slots import SLOTS


@dataclass(frozen=True, slots=True)
class Named:
    """The entry ``by`` names ``id``, which is in ``list`` (a field of Knowledge, or the values of a slot)."""

    by: str
    place: Place | None
    key: str
    list: str
    id: str


@dataclass(frozen=True, slots=True)
class Stated:
    """The entry ``by`` states something that needs a source; ``because`` is None where no reason is required."""

    by: str
    place: Place | None
    key: str
    source: str
    because: str | None = None


def names(knowledge: Knowledge) -> Iterator[Named]:
    """Every id that any entry names, in the order of the knowledge."""
    for entry, key, list_, ids in _named(knowledge):
        yield from (Named(entry.id, entry.place, key, list_, i) for i in ids)
    for stated in statements(knowledge):
        if stated.source:
            yield Named(stated.by, stated.place, f"{stated.key}.source".lstrip("."), "sources", stated.source)


def _named(knowledge: Knowledge) -> Iterator[tuple[Labelled | Rule | Habit, str, str, Iterable[str]]]:
    """(entry, key, list, ids of that list that stand under the key)."""
    for material in knowledge.materials.values():
        yield material, "parent", "materials", material.line
        yield material, "traits", "traits", sorted(material.traits)
        yield material, "cautions", "cautions", material.cautions
        for key, pairs in (("polishes_with", material.polishes_with), ("avoid", material.avoid)):
            for pair in pairs:
                yield material, key, "laps", pair.laps
                yield material, key, "compounds", pair.compounds
    for lap in knowledge.laps.values():
        yield lap, "traits", "lap_traits", sorted(lap.traits)
        yield lap, "carries", "carried", lap.carries
        yield lap, "cautions", "cautions", lap.cautions
    for compound in knowledge.compounds.values():
        yield compound, "cautions", "cautions", compound.cautions
    for symptom in knowledge.symptoms.values():
        yield symptom, "not_to_confuse", "symptoms", symptom.not_to_confuse
        yield symptom, "says", "causes", symptom.says
    for remedy in knowledge.remedies.values():
        yield remedy, "fixes", "causes", remedy.fixes
        yield remedy, "cautions", "cautions", remedy.cautions
        if remedy.to is not None:
            for list_ in ("laps", "lap_traits", "compounds"):
                yield remedy, f"to.{list_}", list_, getattr(remedy.to, list_)
    for look in knowledge.looks.values():
        yield look, "cautions", "cautions", look.cautions
        yield look, "says", "causes", look.says
        for row in (look.otherwise, *look.says.values()):
            yield look, "says", "look_results", [f"{look.id}={r}" for r in row]
    for rule in knowledge.rules.values():
        for test in tests(rule.when):
            yield rule, f"when.{test.slot}", _list_of(test), test.any_of
        for kind in CONCLUSIONS:
            yield rule, f"then.{kind.key}", kind.list, getattr(rule.then, kind.field)
    for key, list_, habits in (("begins", "moves", knowledge.habits), ("suspects", "causes", knowledge.hunches)):
        for habit in habits.values():
            for test in habit.tests:
                yield habit, f"when.{test.slot}", _list_of(test), test.any_of
            yield habit, key, list_, habit.weights


def _list_of(test: Test) -> str:
    """The list whose ids a test speaks of."""
    return SLOTS[test.slot].ids_of or f"values of {test.slot}"


def tests(when: AllOf) -> Iterator[Test]:
    """Every single test in a condition."""
    for part in when.parts:
        if isinstance(part, Test):
            yield part
        elif isinstance(part, Not):
            yield part.test
        elif isinstance(part, AnyOf):
            for option in part.options:
                yield from tests(option)


def statements(knowledge: Knowledge) -> Iterator[Stated]:
    """Everything that needs a source, and a reason where one is required."""
    for material in knowledge.materials.values():
        for key, source, because in _of_material(material):
            yield Stated(material.id, material.place, key, source, because)
    for compound in knowledge.compounds.values():
        if compound.um is not None:
            yield Stated(compound.id, compound.place, "um", compound.um.source)
    for list_ in ("laps", "compounds", "causes", "remedies", "looks", "cautions"):
        for thing in getattr(knowledge, list_).values():
            yield Stated(thing.id, thing.place, "", thing.source)
    for symptom in knowledge.symptoms.values():
        if symptom.says or symptom.source:
            because = symptom.because if symptom.says else None
            yield Stated(symptom.id, symptom.place, "says", symptom.source, because)
    for rule in knowledge.rules.values():
        yield Stated(rule.id, rule.place, "", rule.source, rule.because)


def _of_material(material: Material) -> Iterator[tuple[str, str, str | None]]:
    """(key, source, reason); to forbid a pair needs a reason, to recommend one needs only its source."""
    for key in ("mohs", "sg", "ri"):
        if (span := getattr(material, key)) is not None:
            yield key, span.source, None
    for key in ("toughness", "heat", "acid", "water", "directional"):
        if (level := getattr(material, key)) is not None:
            yield key, level.source, level.because
    yield from (("cleavage", cleavage.source, None) for cleavage in material.cleavage)
    yield from (("notes", note.source, None) for note in material.notes)
    yield from (("polishes_with", pair.source, None) for pair in material.polishes_with)
    yield from (("avoid", pair.source, pair.because) for pair in material.avoid)
