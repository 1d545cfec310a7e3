"""What one symptom is mistaken for, and how the two are told apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Symptom


@dataclass(frozen=True, slots=True)
class Apart:
    """What something is mistaken for (an id), and how they differ."""

    other: str
    how: str


def mistaken(symptoms: Mapping[str, Symptom]) -> dict[str, tuple[Apart, ...]]:
    """What each symptom is mistaken for, by its own words first, then by those of the others."""
    out: dict[str, dict[str, str]] = {name: dict(symptom.not_to_confuse) for name, symptom in symptoms.items()}
    for name, symptom in symptoms.items():
        for other, how in symptom.not_to_confuse.items():
            out.setdefault(other, {}).setdefault(name, how)
    return {name: tuple(Apart(*pair) for pair in pairs.items()) for name, pairs in out.items() if pairs}
