"""From a case to raw facts: checks every id of the case, then states all that is known before the first rule fires."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from lapwise.engine.case import OUTCOMES, STAGES, Case
from lapwise.engine.conclusions import Fact
from lapwise.engine.errors import BadInput, Issue, nearest
from lapwise.engine.knowledge.model import Compound, Knowledge, Lap, Material
from lapwise.engine.numerals import read_number, read_size
from lapwise.engine.pairs import compound_fit, lap_fit, pair_fit
from lapwise.engine.slots import CONDITIONS, SLOTS

SMALL_MM, LARGE_MM = 4.0, 8.0
"""A facet under 4 mm is called small, from 8 mm on large: common practice, no source."""
LISTS = {
    "material": "materials",
    "lap": "laps",
    "compound": "compounds",
    "symptom": "symptoms",
    "remedy": "remedies",
    "look": "looks",
}
"""What an id stands for, and the name of the list that holds all of its kind."""
FASTEST_RPM = 5000.0
NEAR_DEGREES = 8.0
_TRIED_SLOTS = {"no-change": "tried", "worse": "made_worse", "better": "made_better"}
"""A facet within 8 degrees of a cleavage plane is near it (shop practice for topaz)."""
PLAIN_RPM = (100.0, 500.0)
"""Slow and fast where the lap is not known: common practice, no source."""


def size_word(size: tuple[float, float]) -> str:
    """small, medium or large for a facet of these two sides in mm."""
    longer = max(size)
    return "small" if longer < SMALL_MM else "large" if longer >= LARGE_MM else "medium"


def read_degrees(text: str) -> float | None:
    """``6`` or ``6deg`` as degrees from 0 to 90, or None if it is not of that form."""
    value = read_number(text, "deg")
    return value if value is not None and 0 <= value <= 90 else None


def read_rpm(text: str) -> float | None:
    """``300`` or ``300rpm``, or None if it is no speed a lap may run at."""
    value = read_number(text, "rpm")
    return value if value is not None and 0 < value <= FASTEST_RPM else None


READ: Mapping[str, Callable[[str], object]] = {
    "speed": read_rpm,
    "facet_size": read_size,
    "cleavage_angle": read_degrees,
}
"""What reads a condition told as a number; None: it is no such number."""


def _condition_problem(knowledge: Knowledge, key: str, value: str) -> Issue | None:
    slot, where = SLOTS[key], f"--fact {key}"
    allowed = tuple(getattr(knowledge, slot.ids_of)) if slot.ids_of else slot.values
    if value in allowed or (key in READ and READ[key](value) is not None):
        return None
    if slot.typed and not slot.values:
        return Issue(f"{slot.typed.form} is required", where, value, (f"for example {slot.typed.example}",))
    form = (slot.typed.example,) if slot.typed else ()
    return Issue(f"not a value of {key}", where, value, (*allowed, *form), nearest(value, allowed))


def check_case(case: Case, knowledge: Knowledge) -> Case:
    """The case with ``unknown`` taken out, every id checked; raises :class:`BadInput` with all problems at once."""
    problems: list[Issue] = []

    def known(value: str | None, allowed: Iterable[str], what: str, where: str) -> str | None:
        if value is None or value in ("unknown", ""):
            return None
        choices = tuple(allowed)
        if value not in choices:
            table = getattr(knowledge, LISTS[what]) if what in LISTS else {}
            close = nearest(value, choices, also={i: table[i].also for i in choices if i in table})
            hint = f" (all of them: lapwise knowledge list {LISTS[what]})" if what in LISTS and not close else ""
            problems.append(Issue(f"no such {what}{hint}", where, value, choices, close))
        return value

    def named(value: str, allowed: Iterable[str], what: str, where: str) -> None:
        """What was done or seen must be named: that it is unknown says nothing."""
        if value in ("unknown", ""):
            unsaid = f"which {what} is not said; leave it out if it is not known"
            problems.append(Issue(unsaid, where, value, tuple(allowed)))
        known(value, allowed, what, where)

    facts: dict[str, str] = {}
    prior = None if case.prior == "unknown" else case.prior
    for key, raw in case.facts.items():
        value = raw.strip()
        if key not in CONDITIONS:
            close = nearest(key.replace("-", "_"), CONDITIONS)
            problems.append(Issue("no such condition", "--fact", key, CONDITIONS, close))
        elif value == "unknown":
            continue
        elif problem := _condition_problem(knowledge, key, value):
            problems.append(problem)
        elif key == "prior":
            prior = prior or value
        else:
            facts[key] = value
    tried = []
    for remedy, outcome in case.tried:
        named(remedy, knowledge.remedies, "remedy", "--tried")
        if outcome not in OUTCOMES:
            close = nearest(outcome, OUTCOMES[1:])
            problems.append(Issue("no such outcome", f"--tried {remedy}", outcome, OUTCOMES[1:], close))
        elif outcome == "fixed":
            what = "a remedy that fixed the facet ends the case: there is nothing left to advise"
            problems.append(Issue(what, f"--tried {remedy}", outcome, OUTCOMES[1:]))
        tried.append((remedy, outcome))
    for look, result in case.saw:
        named(look, knowledge.looks, "look", "--saw")
        if look in knowledge.looks:
            named(result, knowledge.looks[look].results, "result of this look", f"--saw {look}")
    part = known(case.facet.part, SLOTS["facet_part"].values, "part of the stone", "--part")
    symptoms = tuple(
        dict.fromkeys(s for s in (known(x, knowledge.symptoms, "symptom", "--symptom") for x in case.symptoms) if s)
    )
    checked = replace(
        case,
        material=known(case.material, knowledge.materials, "material", "--material"),
        lap=known(case.lap, knowledge.laps, "lap", "--lap"),
        compound=known(case.compound, knowledge.compounds, "compound", "--compound"),
        stage=known(case.stage, STAGES, "stage", "--stage") or "polish",
        prior=known(prior, knowledge.compounds, "compound", "--prior"),
        symptoms=symptoms,
        facts=MappingProxyType(facts),
        facet=replace(case.facet, part=part),
        tried=tuple(tried),
    )
    if problems:
        raise BadInput(problems)
    return checked


def _speed(lap: Lap | None, rpm: float) -> str:
    low, high = lap.rpm if lap else PLAIN_RPM
    return "slow" if rpm < low else "fast" if rpm > high else "medium"


def material_facts(material: Material) -> Iterable[Fact]:
    """The raw facts that a known material brings with it."""
    for name in material.line:
        yield Fact("material", name)
    for trait in sorted(material.traits):
        yield Fact("trait", trait)
    if material.mohs:
        yield Fact("mohs", material.mohs.middle)
    for slot in ("heat", "acid", "toughness", "directional"):
        level = getattr(material, slot)
        if level is not None:
            yield Fact(slot, level.level)
    ranks = SLOTS["cleavage"].values
    yield Fact("cleavage", max((c.quality for c in material.cleavage), key=ranks.index, default="none"))


def lap_facts(lap: Lap, before: str = "") -> Iterable[Fact]:
    """The raw facts that a known lap brings with it; ``before``: "prior_" for that of the previous step."""
    yield Fact(f"{before}lap", lap.id)
    if not before:
        yield Fact("lap_hardness", float(lap.hardness))
    yield from (Fact(f"{before}lap_trait", trait) for trait in lap.traits)


def compound_facts(compound: Compound, slot: str) -> Iterable[Fact]:
    """The raw facts that a known compound brings with it; ``slot``: "compound", or "prior" for the previous step."""
    yield Fact(slot, compound.id)
    yield Fact(f"{slot}_kind", compound.kind)
    if compound.typical_um is not None:
        yield Fact(f"{slot}_um", compound.typical_um)


def facts_of(case: Case, knowledge: Knowledge, extra: Mapping[str, str | float] | None = None) -> tuple[Fact, ...]:
    """All raw facts of a checked case, sorted. ``extra``: what calculators and the record add, slot to value."""
    out: set[Fact] = set()

    def put(slot: str, value: str | float | None) -> None:
        if value is not None:
            out.add(Fact(slot, value))

    material = knowledge.materials.get(case.material or "")
    lap = knowledge.laps.get(case.lap or "")
    compound = knowledge.compounds.get(case.compound or "")
    prior = knowledge.compounds.get(case.prior or "")
    put("stage", case.stage)
    if material:
        out.update(material_facts(material))
    if lap:
        out.update(lap_facts(lap))
    if compound:
        out.update(compound_facts(compound, "compound"))
    if prior:
        out.update(compound_facts(prior, "prior"))
    if prior and compound and prior.kind == compound.kind == "diamond" and prior.typical_um and compound.typical_um:
        put("step_ratio", prior.typical_um / compound.typical_um)
    if material and case.stage in ("prepolish", "polish"):
        if compound and compound.kind != "none" and compound.id != "diamond-unknown":
            put("compound_fit", compound_fit(material, compound.id, case.stage))
            if lap:
                put("pair", pair_fit(material, lap.id, compound.id, case.stage))
        if lap:
            put("lap_fit", lap_fit(material, lap.id, case.stage))
    for symptom in case.symptoms:
        put("symptom", symptom)
    put("facet_part", case.facet.part)
    if case.facet.size_mm:
        _put_size(put, case.facet.size_mm)
    measured = _measured(case)
    for key, value in case.facts.items():
        if key not in measured:
            _put_condition(put, out, knowledge, lap, key, value)
    for remedy, outcome in case.tried:
        if outcome in _TRIED_SLOTS:
            put(_TRIED_SLOTS[outcome], remedy)
    for look, result in case.saw:
        put("saw", f"{look}={result}")
    for slot, added in (extra or {}).items():
        put(slot, added)
    return tuple(sorted(out, key=lambda f: (f.slot, str(f.value))))


Put = Callable[[str, str | float | None], None]


def _measured(case: Case) -> set[str]:
    """Conditions that a measure of the same thing makes needless: the measure counts, whatever the word says."""
    told = {
        "facet_part": case.facet.part is not None,
        "facet_size": case.facet.size_mm is not None,
        "cleavage_near": "cleavage_angle" in case.facts,
    }
    return {key for key, known in told.items() if known}


def _put_size(put: Put, size: tuple[float, float]) -> None:
    put("facet_mm", max(size))
    put("facet_size", size_word(size))


def _put_condition(put: Put, out: set[Fact], knowledge: Knowledge, lap: Lap | None, key: str, value: str) -> None:
    size = read_size(value) if key == "facet_size" else None
    if key == "cleavage_angle" and (degrees := read_degrees(value)) is not None:
        put("cleavage_angle", degrees)
        put("cleavage_near", "yes" if degrees < NEAR_DEGREES else "no")
    elif key == "speed" and (rpm := read_rpm(value)):
        put("speed_rpm", rpm)
        put("speed", _speed(lap, rpm))
    elif size:
        _put_size(put, size)
    elif key == "prior_lap":
        out.update(lap_facts(knowledge.laps[value], "prior_"))
    else:
        put(key, value)
