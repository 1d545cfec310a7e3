"""What the ink test found, told as it was answered: what was done, and what it did."""

from __future__ import annotations

_FOUND = {
    "numbers_run=counterclockwise": "Stone clockwise: the index number goes up.",
    "numbers_run=clockwise": "Stone clockwise: the index number goes down.",
    "knob=own": "Fine-index knob clockwise: the stone turns clockwise too.",
    "knob=reversed": "Fine-index knob clockwise: the stone turns counter-clockwise.",
    "angle_zero=upright": "Dop upright: the dial reads 0, and a higher reading brings the dop end down.",
    "angle_zero=level": "Dop upright: the dial reads 90, and a higher reading brings the tip end down.",
}


def found_words(name: str, value: object) -> str | None:
    """A fact of the machine as the person saw it; None for one that is its own answer, such as the gear."""
    return _FOUND.get(f"{name}={value}")
