"""A case in words: what is on the machine, what is stated and told, how a try ended, what is mistaken for what."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple, cast

from lapwise.engine.case import Case, Outcome
from lapwise.engine.slots import SLOTS
from lapwise.engine.wording import capital, plain_id

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge, Symptom

OUTCOME_WORDS: dict[Outcome, str] = {
    "fixed": "fixed it",
    "better": "better, not done",
    "no-change": "no change",
    "worse": "made it worse",
}
STAGE_WORDS = {"cut": "cutting", "prepolish": "pre-polish", "polish": "polish"}
KEY_WORDS = {
    "facet_part": "part",
    "lap_surface": "lap face",
    "lap_shared": "lap shared",
    "worked_before": "worked before",
    "facet_size": "facet size",
    "scratch_form": "scratches",
    "scratch_place": "where",
    "polished_before": "polished before",
    "included": "included",
    "in_setting": "in its setting",
    "c_axis": "crystal axis",
    "prior_lap": "lap before",
    "cleavage_near": "near cleavage",
    "cleavage_angle": "degrees to cleavage",
    "prior_clean": "pre-polish clean",
}
"""How a condition is called in front of its value."""
UNITS = {"speed": " rpm", "facet_size": " mm", "cleavage_angle": "°"}
"""What a typed number of these is counted in."""


TOLD = {
    "material": "Stone",
    "lap": "Lap",
    "compound": "Polish",
    "stage": "Stage",
    "prior": "Previous step",
    "symptoms": "Seen",
    "tried": "Tried",
    "saw": "Looked",
}
"""What is told of a case, but for its conditions."""


def name_of(knowledge: Knowledge, item: str | None, unknown: str = "not stated") -> str:
    """The label of any id, or the id as words."""
    return knowledge.label(item) if item is not None else unknown


def key_name(key: str) -> str:
    """A condition's name in front of its value."""
    return KEY_WORDS.get(key, plain_id(key))


def value_name(knowledge: Knowledge, key: str, value: str) -> str:
    """A condition's value in words."""
    slot = SLOTS.get(key)
    if key in UNITS and value[:1].isdigit():
        return value + UNITS[key] if value[-1:].isdigit() else value
    if key == "stage":
        return STAGE_WORDS.get(value, value)
    if slot is not None and slot.values and slot.values[0].startswith("@"):
        return name_of(knowledge, value)
    return plain_id(value)


def case_line(case: Case, knowledge: Knowledge) -> str:
    """The case in one sentence."""
    line = name_of(knowledge, case.material, "Material unknown")
    pair = [knowledge.label(item) for item in (case.lap, case.compound) if item is not None]
    if pair:
        line += " on " + " with ".join(pair)
    seen = ", ".join(map(knowledge.label, case.symptoms))
    return line + (f": {seen}" if seen else "")


def told_name(key: str) -> str:
    """What is told under this key (those of :class:`lapwise.engine.words.Heard`)."""
    return TOLD.get(key) or capital(key_name(key))


def told_value(knowledge: Knowledge, key: str, value: str) -> str:
    """What was taken, in words; a remedy that was tried may stand without how it went."""
    first, _, second = value.partition("=")
    if key == "tried":
        how = OUTCOME_WORDS.get(cast("Outcome", second), plain_id(second))
        return f"{name_of(knowledge, first)}: {how}" if second else name_of(knowledge, first)
    if key == "saw":
        labels = knowledge.looks[first].result_labels
        return f"{name_of(knowledge, first)}: {labels.get(second, plain_id(second))}"
    return value_name(knowledge, key, value) if key not in TOLD or key == "stage" else name_of(knowledge, value)


class Apart(NamedTuple):
    """How two that are mistaken for each other differ: ``how``, said of the one whose id is ``of``."""

    of: str
    how: str


def mistaken(symptoms: Mapping[str, Symptom]) -> dict[str, dict[str, Apart]]:
    """What each symptom is mistaken for and how the two differ, by its own words first, then by those of the others."""
    out = {
        name: {other: Apart(other, how) for other, how in symptom.not_to_confuse.items()}
        for name, symptom in symptoms.items()
    }
    for name, symptom in symptoms.items():
        for other, how in symptom.not_to_confuse.items():
            out.setdefault(other, {}).setdefault(name, Apart(other, how))
    return {name: pairs for name, pairs in out.items() if pairs}
