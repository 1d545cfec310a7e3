"""Walks over everything known: every id that something names, and every statement that needs a source or reason."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from lapwise.engine.knowledge.model import KINDS, Knowledge, Material, Pair, Target
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.rule_model import CONCLUSIONS, AllOf, AnyOf, Not, Rule, Test
from lapwise.engine.slots import SLOTS

CHANCE, STRENGTH, FREQUENCY = "chance words", "strength words", "frequency words"


@dataclass(frozen=True, slots=True)
class Named:
    """The entry ``by`` names ``id``, which should be in ``list`` (a field of Knowledge, or a scale's words)."""

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


def allowed_ids(knowledge: Knowledge) -> dict[str, frozenset[str]]:
    """List to its ids, for every list that :func:`names` speaks of."""
    lists = {name: frozenset(getattr(knowledge, name)) for name in KINDS if name not in ("sources", "rules")}
    lists["look_results"] = frozenset(f"{k.id}={r}" for k in knowledge.looks.values() for r in k.results)
    lists["sources"] = frozenset(knowledge.sources) | {"practice", "memory"}
    lists["moves"] = lists["remedies"] | lists["looks"]
    lists["carried"] = lists["compounds"] | {"oxide", "carbide", "diamond", "none"}
    lists[CHANCE] = frozenset(knowledge.scales.chance)
    lists[STRENGTH] = frozenset(knowledge.scales.strength)
    lists[FREQUENCY] = frozenset(knowledge.scales.frequency)
    for slot in SLOTS.values():
        if slot.values and not slot.values[0].startswith("@"):
            lists[f"values of {slot.name}"] = frozenset(slot.values)
    return lists


def names(knowledge: Knowledge) -> Iterator[Named]:
    """Every id and scale word that any entry names, in the order of the knowledge."""

    def some(by: str, place: Place | None, key: str, list_: str, ids: Iterable[str]) -> Iterator[Named]:
        return (Named(by, place, key, list_, i) for i in ids)

    for material in knowledge.materials.values():
        yield from _of_material(material)
    for lap in knowledge.laps.values():
        yield from some(lap.id, lap.place, "traits", "lap_traits", sorted(lap.traits))
        yield from some(lap.id, lap.place, "carries", "carried", lap.carries)
        yield from some(lap.id, lap.place, "cautions", "cautions", lap.cautions)
    for compound in knowledge.compounds.values():
        yield from some(compound.id, compound.place, "cautions", "cautions", compound.cautions)
    for symptom in knowledge.symptoms.values():
        yield from some(symptom.id, symptom.place, "not_to_confuse", "symptoms", symptom.not_to_confuse)
        yield from some(symptom.id, symptom.place, "says", "causes", symptom.says)
        yield from some(symptom.id, symptom.place, "says", CHANCE, symptom.says.values())
    for cause in knowledge.causes.values():
        yield Named(cause.id, cause.place, "base", FREQUENCY, cause.base)
    for remedy in knowledge.remedies.values():
        yield from some(remedy.id, remedy.place, "fixes", "causes", remedy.fixes)
        yield from some(remedy.id, remedy.place, "fixes", CHANCE, (*remedy.fixes.values(), remedy.worse_chance))
        yield from some(remedy.id, remedy.place, "cautions", "cautions", remedy.cautions)
        if remedy.to is not None:
            yield from _of_target(remedy.id, remedy.place, remedy.to)
    for look in knowledge.looks.values():
        yield from some(look.id, look.place, "cautions", "cautions", look.cautions)
        yield from some(look.id, look.place, "says", "causes", look.says)
        for row in (look.otherwise, *look.says.values()):
            yield from some(look.id, look.place, "says", CHANCE, row.values())
            yield from some(look.id, look.place, "says", "look_results", (f"{look.id}={r}" for r in row))
    for rule in knowledge.rules.values():
        yield from _of_rule(rule)
    for habit in knowledge.habits.values():
        yield from _of_tests(habit.id, habit.place, habit.tests)
        yield from some(habit.id, habit.place, "begins", "moves", habit.moves)
    for stated in statements(knowledge):
        if stated.source:
            yield Named(stated.by, stated.place, f"{stated.key}.source".lstrip("."), "sources", stated.source)


def _of_material(material: Material) -> Iterator[Named]:
    by, place = material.id, material.place
    yield from (Named(by, place, "parent", "materials", i) for i in material.line)
    yield from (Named(by, place, "traits", "traits", i) for i in sorted(material.traits))
    yield from (Named(by, place, "cautions", "cautions", i) for i in material.cautions)
    for key, pairs in (("polishes_with", material.polishes_with), ("avoid", material.avoid)):
        for pair in pairs:
            yield from (Named(by, place, key, "laps", i) for i in pair.laps)
            yield from (Named(by, place, key, "compounds", i) for i in pair.compounds)


def _of_target(by: str, place: Place, to: Target) -> Iterator[Named]:
    yield from (Named(by, place, "to.laps", "laps", i) for i in to.laps)
    yield from (Named(by, place, "to.lap_traits", "lap_traits", i) for i in to.lap_traits)
    yield from (Named(by, place, "to.compounds", "compounds", i) for i in to.compounds)


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


def _of_tests(by: str, place: Place, asked: Iterable[Test]) -> Iterator[Named]:
    for test in asked:
        values = SLOTS[test.slot].values
        list_ = values[0][1:] if values and values[0].startswith("@") else f"values of {test.slot}"
        yield from (Named(by, place, f"when.{test.slot}", list_, i) for i in test.any_of)


def _of_rule(rule: Rule) -> Iterator[Named]:
    by, place = rule.id, rule.place
    yield from _of_tests(by, place, tests(rule.when))
    for kind in CONCLUSIONS:
        value = getattr(rule.then, kind.field)
        yield from (Named(by, place, f"then.{kind.key}", kind.list, i) for i in value)
        if kind.weighed:
            yield from (Named(by, place, f"then.{kind.key}", STRENGTH, word) for word in value.values())


def statements(knowledge: Knowledge) -> Iterator[Stated]:
    """Everything that needs a source, and a reason where one is required."""
    for material in knowledge.materials.values():
        yield from _material_statements(material)
    for compound in knowledge.compounds.values():
        if compound.um is not None:
            yield Stated(compound.id, compound.place, "um", compound.um.source)
    for lists in (
        knowledge.laps,
        knowledge.compounds,
        knowledge.causes,
        knowledge.remedies,
        knowledge.looks,
        knowledge.cautions,
    ):
        for thing in lists.values():
            yield Stated(thing.id, thing.place, "", thing.source)
    for symptom in knowledge.symptoms.values():
        if symptom.says:
            yield Stated(symptom.id, symptom.place, "says", symptom.source, symptom.because)
    for rule in knowledge.rules.values():
        yield Stated(rule.id, rule.place, "", rule.source, rule.because)


def _material_statements(material: Material) -> Iterator[Stated]:
    by, place = material.id, material.place
    for key in ("mohs", "sg", "ri"):
        if (span := getattr(material, key)) is not None:
            yield Stated(by, place, key, span.source)
    for key in ("toughness", "heat", "acid", "water", "directional"):
        if (level := getattr(material, key)) is not None:
            yield Stated(by, place, key, level.source, level.because)
    for cleavage in material.cleavage:
        yield Stated(by, place, "cleavage", cleavage.source)
    for note in material.notes:
        yield Stated(by, place, "notes", note.source)
    for key, pairs in (("polishes_with", material.polishes_with), ("avoid", material.avoid)):
        for pair in pairs:
            yield Stated(by, place, key, pair.source, _reason_of(pair, key))


def _reason_of(pair: Pair, key: str) -> str | None:
    """To forbid a pair needs a reason; to recommend one needs only its source."""
    return pair.because if key == "avoid" else None
