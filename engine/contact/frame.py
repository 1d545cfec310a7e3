"""How a facet hangs in the machine: what a turn and an angle change do to it, and what its ends are called.

All senses are seen from behind the handpiece, looking towards the stone; left and right as one faces the facet with
its tip end up. Turning the stone by d about the dop axis tilts the facet side to side by d times the sine of the
reading, and spins it in its own plane otherwise; changing the angle tilts it tip to dop by the same amount.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lapwise.engine.case import FacetSetting

USUAL_ANGLE = {"pavilion": 42.0, "crown": 35.0, "girdle": 90.0, "table": 45.0}
"""Readings assumed where none is given: common practice, no source."""
ADAPTER_LOWEST = 20.0
"""A quill that carries a 45-degree adapter stands at about 45; a reading below this is queried."""
LEAST_LEVER = math.sin(math.radians(3.0))
"""Below this the index only spins the facet."""


@dataclass(frozen=True, slots=True)
class Frame:
    """``angle``: the quill's reading used; ``assumed``: it was not given, or not believed. ``tip``, ``dop``: words."""

    angle: float
    assumed: bool
    adapter: bool
    straight_table: bool
    tip: str
    dop: str

    @property
    def tilt_per_turn(self) -> float:
        """Degrees of side tilt for one degree of turn of the stone."""
        return math.sin(math.radians(self.angle))

    @property
    def far_near(self) -> bool:
        """True where the ends are told as the far and the near edge."""
        return self.adapter or self.straight_table

    @property
    def index_works(self) -> bool:
        """False where turning the stone hardly tilts the facet."""
        return self.tilt_per_turn >= LEAST_LEVER


def frame_of(facet: FacetSetting) -> Frame:
    """The frame of a facet as far as it is known."""
    adapter = facet.adapter == "45" or (
        facet.part == "table" and facet.adapter is None and (facet.angle is None or facet.angle >= ADAPTER_LOWEST)
    )
    if adapter:
        doubted = facet.angle is None or facet.angle < ADAPTER_LOWEST
        angle = 45.0 if facet.angle is None or doubted else facet.angle
        return Frame(angle, doubted, True, False, "far edge", "near edge")
    if facet.part == "table":
        return Frame(facet.angle or 0.0, facet.angle is None, False, True, "far edge", "near edge")
    angle = USUAL_ANGLE.get(facet.part or "", 42.0) if facet.angle is None else facet.angle
    ends = {
        "pavilion": ("culet end", "girdle end"),
        "crown": ("table end", "girdle end"),
    }.get(facet.part or "", ("tip end", "dop end"))
    return Frame(angle, facet.angle is None, False, False, *ends)


def turn_sense(turn: float) -> str:
    """The sense of a turn of the stone: positive is clockwise."""
    return "none" if turn == 0 else "clockwise" if turn > 0 else "counterclockwise"


def angle_sense(change: float) -> str:
    """The sense of a change of the angle: positive is raise."""
    return "none" if change == 0 else "raise" if change > 0 else "lower"


def index_change(turn: float, gear: int, sign: int) -> float:
    """Teeth, + towards higher numbers, for a turn of the stone in degrees; ``sign`` +1 where clockwise raises them."""
    return round(sign * turn * gear / 360.0, 4) + 0.0


def index_after(index: float, gear: int, turn: float, sign: int) -> float:
    """The index reading after turning the stone by ``turn`` degrees; ``sign`` +1 where clockwise raises the reading.

    0 and the number of teeth are one setting, given as the number of teeth.
    """
    reading = (index + sign * turn * gear / 360.0) % gear
    return float(gear) if reading < 5e-7 or gear - reading < 5e-7 else reading
