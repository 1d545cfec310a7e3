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
TOLD = {"symptoms": "Seen", "tried": "Tried", "saw": "Looked"}
"""What is told of a case, but for its facts."""


def name_of(knowledge: Knowledge, item: str | None, unknown: str = "not stated") -> str:
    """The label of any id, or the id as words."""
    return knowledge.label(item) if item is not None else unknown


def key_name(key: str) -> str:
    """A fact's name in front of its value."""
    return (key in SLOTS and SLOTS[key].called) or plain_id(key)


def value_name(knowledge: Knowledge, key: str, value: str) -> str:
    """A fact's value in words."""
    slot = SLOTS.get(key)
    if slot is None:  # of another version
        return plain_id(value)
    if slot.typed and value[:1].isdigit():
        return value + slot.typed.unit if value[-1:].isdigit() else value
    return name_of(knowledge, value) if slot.ids_of else slot.words.get(value) or plain_id(value)


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
    return name_of(knowledge, value) if key == "symptoms" else value_name(knowledge, key, value)


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
