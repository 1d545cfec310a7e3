"""What a person told, put into words: the name of the thing it is put under, and what it was taken to mean."""

from __future__ import annotations

from typing import cast

from lapwise.engine.case import Outcome
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.wording import capital, plain_id
from lapwise.tui.present.case import OUTCOME_WORDS, key_name, name_of, value_name

NAMES = {
    "material": "Stone",
    "lap": "Lap",
    "compound": "Polish",
    "stage": "Stage",
    "prior": "Previous step",
    "symptoms": "Seen",
    "tried": "Tried",
    "saw": "Looked",
}


def told_name(key: str) -> str:
    """What is told under this key (those of :class:`lapwise.engine.words.Heard`)."""
    return NAMES.get(key) or capital(key_name(key))


def told_value(knowledge: Knowledge, key: str, value: str) -> str:
    """What was taken, in words; a remedy that was tried may stand without how it went."""
    first, _, second = value.partition("=")
    if key == "tried":
        how = OUTCOME_WORDS.get(cast("Outcome", second), plain_id(second))
        return f"{name_of(knowledge, first)}: {how}" if second else name_of(knowledge, first)
    if key == "saw":
        labels = knowledge.looks[first].result_labels
        return f"{name_of(knowledge, first)}: {labels.get(second, plain_id(second))}"
    return value_name(knowledge, key, value) if key not in NAMES or key == "stage" else name_of(knowledge, value)
