"""A machine in words: its facts as they stand, and as the ink test found them."""

from __future__ import annotations

from lapwise.engine.machine import MachineProfile
from lapwise.engine.machine.described import FACTS


def value_words(name: str, profile: MachineProfile) -> str:
    """A fact of the profile in words."""
    value = getattr(profile, name)
    if value is None:
        return "not known"
    if name == "fine_mark_size":
        return f"{value:.4g} " + ("of a tooth" if profile.fine_mark == "teeth" else "° of the stone")
    if isinstance(value, int | float):
        return f"{value:g} {FACTS[name].unit}"
    return FACTS[name].values[value]


def found_words(name: str, value: object) -> str | None:
    """What the ink test showed: what was done and what it did; None for a fact that is its own answer (the gear)."""
    return FACTS[name].found.get(str(value))
