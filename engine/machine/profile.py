"""What one machine does: gear, the sense of its numbers and knob, its dials, what the angle rests on, its laps."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any, Literal

from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.machine.described import FACTS
from lapwise.engine.numerals import read_number

Sense = Literal["clockwise", "counterclockwise"]

USUAL_GEAR = 96
"""Teeth that are taken where nobody says: common practice, no source."""


@dataclass(frozen=True, slots=True)
class MachineProfile:
    """The machine as far as it is known; every field may be None.

    ``numbers_run``: going round the gear this way, seen from behind the handpiece, the printed numbers rise. The gear
    turns with the stone under a fixed pointer, so turning the stone the other way raises the reading.
    ``fine_mark_size``: degrees of the stone a mark (kinds "degrees" and "lines") or teeth a mark (kind "teeth").
    """

    gear: int | None = None
    numbers_run: str | None = None
    fine_mark: str | None = None
    fine_mark_size: float | None = None
    knob: str | None = None
    angle_zero: str | None = None
    angle_resolution: float | None = None
    rest: str | None = None
    lap_diameter_mm: float | None = None
    lap_directions: str | None = None

    def degrees_per_mark(self, gear: int | None = None) -> float | None:
        """Degrees the stone turns for one mark of the fine index, or None if the marks are not known."""
        if self.fine_mark is None or self.fine_mark_size is None:
            return None
        if self.fine_mark == "teeth":
            teeth = gear or self.gear
            return None if teeth is None else self.fine_mark_size * 360.0 / teeth
        return self.fine_mark_size

    def index_sign(self) -> int | None:
        """+1 if turning the stone clockwise raises the index reading, -1 if it lowers it, None if not known."""
        if self.numbers_run is None:
            return None
        return -1 if self.numbers_run == "clockwise" else 1

    def knob_sense(self, stone: Sense) -> Sense | None:
        """Which way to turn the fine-index knob so that the stone turns ``stone``; None if not known."""
        if self.knob is None:
            return None
        if self.knob == "own":
            return stone
        return "counterclockwise" if stone == "clockwise" else "clockwise"

    def dial(self, angle: float) -> float:
        """What the angle dial shows when the dop leans ``angle`` degrees from upright."""
        return 90.0 - angle if self.angle_zero == "level" else angle

    def as_json(self) -> dict[str, Any]:
        """All fields in order, unknown ones as None."""
        return {f.name: getattr(self, f.name) for f in fields(self)}

    @property
    def is_empty(self) -> bool:
        """True if nothing is known."""
        return all(value is None for value in self.as_json().values())


def gear_of(stated: int | None, profile: MachineProfile | None) -> int:
    """Teeth of the gear to count in: the one stated, else the machine's, else the usual one."""
    return stated or (profile.gear if profile else None) or USUAL_GEAR


def profile_from(data: dict[str, Any], where: str = "") -> MachineProfile:
    """The profile these values make. Raises :class:`BadInput` with every problem found; text numbers are read."""
    problems: list[Issue] = []
    values: dict[str, Any] = {}
    prefix = f"{where}: " if where else ""
    for name, value in data.items():
        if name not in FACTS:
            problems.extend(BadInput.unknown("no such fact of a machine", name, FACTS, where).problems)
        elif value is None or value in ("", "unknown"):
            values[name] = None
        elif allowed := FACTS[name].values:
            word = str(value).strip().lower().replace(" ", "-").replace("_", "-")
            if word not in allowed:
                problems.extend(BadInput.unknown(FACTS[name].about, value, allowed, prefix + name).problems)
            else:
                values[name] = word
        else:
            values[name] = _number(name, value, prefix + name, problems)
    if values.get("fine_mark_size") is not None and values.get("fine_mark") is None:
        what = "a size of one mark needs its kind (fine_mark)"
        problems.append(Issue(what, prefix + "fine_mark", "", tuple(FACTS["fine_mark"].values)))
    if problems:
        raise BadInput(problems)
    return MachineProfile(**values)


def _number(name: str, value: Any, where: str, problems: list[Issue]) -> float | int | None:
    low, high = FACTS[name].limits
    whole = name == "gear"
    allowed = (f"{'a whole number' if whole else 'a number'} from {low:g} to {high:g}",)
    number = None if isinstance(value, bool) else read_number(str(value))
    if number is None or not low <= number <= high or (whole and number != int(number)):
        problems.append(Issue(FACTS[name].about, where, str(value), allowed))
        return None
    return int(number) if whole else number
