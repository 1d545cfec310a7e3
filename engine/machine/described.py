"""What is said of each fact of a machine: one entry a fact, for shell and screens alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Described:
    """One fact: a closed list of ``values``, or a number within ``limits``.

    ``label``: what its line is called. ``about``: one sentence. ``values``: value to its words. ``found``: value to
    what the ink test showed of it. ``asks``: the question it is asked by, where that is not about the fact itself.
    """

    label: str
    about: str
    values: Mapping[str, str] = field(default_factory=dict)
    limits: tuple[float, float] = (0.0, 0.0)
    unit: str = ""
    found: Mapping[str, str] = field(default_factory=dict)
    asks: str = ""


FACTS: Mapping[str, Described] = MappingProxyType(
    {
        "gear": Described("Index gear", "teeth of the index gear", limits=(3, 1000), unit="teeth"),
        "numbers_run": Described(
            "Stone turned clockwise",
            "which way round the gear its printed numbers rise, seen from behind the handpiece: the stone turned the "
            "other way makes the reading go up",
            {"counterclockwise": "index numbers go up", "clockwise": "index numbers go down"},
            found={
                "clockwise": "Stone turned clockwise: the index numbers go down.",
                "counterclockwise": "Stone turned clockwise: the index numbers go up.",
            },
            asks="Turn the stone clockwise, seen from behind the handpiece: do the index numbers go up or down?",
        ),
        "fine_mark": Described(
            "Fine index marked in",
            "what one mark of the fine index means: degrees of the stone, a fraction of a tooth, or plain lines",
            {"degrees": "degrees of the stone", "teeth": "fractions of a tooth", "lines": "plain lines"},
        ),
        "fine_mark_size": Described(
            "One mark is",
            "how much one mark is: in degrees, in teeth, or (plain lines) in degrees as you measured it",
            limits=(0.0001, 30),
        ),
        "knob": Described(
            "Fine-index knob",
            "whether the stone turns the way the fine-index knob is turned (own) or the other way (reversed)",
            {"own": "turns the stone the same way", "reversed": "turns the stone the other way"},
            found={
                "own": "Fine-index knob clockwise: the stone turns clockwise too.",
                "reversed": "Fine-index knob clockwise: the stone turns counter-clockwise.",
            },
        ),
        "angle_zero": Described(
            "Angle dial 0 is",
            "what the angle dial reads 0 at: dop upright over the lap, or dop level",
            {"upright": "dop upright", "level": "dop level"},
            found={
                "upright": "Dop upright: the dial reads 0, and a higher reading brings the dop end down.",
                "level": "Dop upright: the dial reads 90, and a higher reading brings the tip end down.",
            },
        ),
        "angle_resolution": Described(
            "Angle dial step", "the smallest step the angle dial shows, in degrees", limits=(0.0001, 5), unit="°"
        ),
        "rest": Described(
            "Angle rests on",
            "what the angle rests on: a hard stop, a soft stop, or a platform",
            {"hard-stop": "hard stop", "soft-stop": "soft stop", "platform": "platform"},
        ),
        "lap_diameter_mm": Described("Lap diameter", "lap diameter in mm", limits=(20, 1000), unit="mm"),
        "lap_directions": Described(
            "Lap runs",
            "which way the lap can run, seen from above",
            {"clockwise": "clockwise", "counterclockwise": "counter-clockwise", "both": "both ways"},
        ),
    }
)
"""The fields of a machine profile, in its order."""
