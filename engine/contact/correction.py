"""A correction: direction, amount, uncertainty, what to beware of, and how it reads on the dials."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from lapwise.engine.case import FacetSetting
from lapwise.engine.contact.frame import Frame, angle_sense, index_after, index_change, turn_sense
from lapwise.engine.contact.pattern import Shape
from lapwise.engine.machine import MachineProfile

LARGE_DEGREES = 1.0
LARGE_TEETH = 0.5
POOR_FIT = -0.35
"""Log chance per marked cell below which no one plane explains the maps together. Judgement."""


@dataclass(frozen=True, slots=True)
class Nudge:
    """One change, signed (clockwise and raise positive), from the present setting; degrees. ``low``..``high``: 80 %."""

    degrees: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Beware:
    """A caution that comes with a correction."""

    id: str
    text: str


@dataclass(frozen=True, slots=True)
class Correction:
    """The answer for one facet.

    ``turn``, ``angle``: the change from the present setting. ``next_turn``, ``next_angle``: totals from the first.
    ``slope``: how the facet stands at the present setting, degrees (across: positive where the left side is the dull
    one; along: positive where the dop end is). ``done``: the facet is flat on the lap. ``lost``: dull all over now, so
    that only the earlier maps tell the way.
    """

    facet: FacetSetting
    profile: MachineProfile | None
    frame: Frame
    shape: Shape
    size_mm: tuple[float, float]
    turn: Nudge
    angle: Nudge
    next_turn: float
    next_angle: float
    slope_across: Nudge
    slope_along: Nudge
    done: bool
    lost: bool
    cautions: tuple[Beware, ...]

    @property
    def gear(self) -> int | None:
        """Teeth, from the facet or the machine."""
        return self.facet.gear or (self.profile.gear if self.profile else None)

    @property
    def teeth(self) -> float | None:
        """The turn in index teeth, without sign."""
        return None if self.gear is None else abs(self.turn.degrees) * self.gear / 360.0

    @property
    def divisions(self) -> float | None:
        """The turn in marks of the fine index, without sign; None if the machine's marks are not known."""
        mark = self.profile.degrees_per_mark(self.gear) if self.profile else None
        return None if mark is None else abs(self.turn.degrees) / mark

    @property
    def spins(self) -> bool:
        """The facet slopes side to side, but the index only spins it."""
        return bool(self.slope_across.degrees) and not self.frame.index_works

    @property
    def large(self) -> bool:
        """More than fine adjustment should do."""
        return any(c.id in ("large-correction", "past-level") for c in self.cautions)

    @property
    def edge_um(self) -> tuple[float, float]:
        """How far the left and right edge, and the tip and dop end, of the facet move against its middle, µm."""
        across, along = self.turn.degrees * self.frame.tilt_per_turn, self.angle.degrees
        sizes = zip((across, along), self.size_mm, strict=True)
        one, two = (1000.0 * math.tan(math.radians(abs(s))) * mm / 2 for s, mm in sizes)
        return one, two

    @property
    def in_all(self) -> tuple[float | None, float]:
        """What was changed from the first to the next setting: the index in teeth, + towards higher numbers (None
        where gear or the way the numbers run is not known), and the angle in degrees, + raise."""
        sign = self.profile.index_sign() if self.profile else None
        if not self.next_turn:
            return 0.0, self.next_angle
        teeth = None if sign is None or self.gear is None else index_change(self.next_turn, self.gear, sign)
        return teeth, self.next_angle

    def index_readings(self) -> dict[str, float] | None:
        """The index reading of the next setting if the numbers fall, and if they rise, with the turn asked for."""
        if self.facet.index is None or self.gear is None:
            return None
        clockwise_rises = index_after(self.facet.index, self.gear, self.next_turn, +1)
        clockwise_falls = index_after(self.facet.index, self.gear, self.next_turn, -1)
        falls, rises = clockwise_falls, clockwise_rises
        if self.turn.degrees < 0 or (self.turn.degrees == 0 and self.next_turn < 0):
            falls, rises = rises, falls
        return {"if_numbers_fall": round(falls, 3), "if_numbers_rise": round(rises, 3)}

    def reading(self) -> dict[str, float | None] | None:
        """What index and angle dial read at the next setting; None without a profile that says how they run."""
        sign = self.profile.index_sign() if self.profile else None
        if sign is None or self.profile is None or self.facet.index is None or self.gear is None:
            return None
        index = round(index_after(self.facet.index, self.gear, self.next_turn, sign), 3)
        angle = None if self.facet.angle is None else round(self.profile.dial(self.facet.angle + self.next_angle), 3)
        return {"index": index, "angle": angle}

    def as_json(self) -> dict[str, Any]:
        """The answer in the form of ``lapwise correct --json``."""
        edges = self.edge_um
        teeth, divisions = self.teeth, self.divisions
        return {
            "turn": {
                "sense": turn_sense(self.turn.degrees),
                "seen_from": "behind the handpiece",
                "degrees": abs(self.turn.degrees),
                "divisions": None if divisions is None else round(divisions, 2),
                "teeth": None if teeth is None else round(teeth, 4),
                "range": [self.turn.low, self.turn.high],
            },
            "angle": {
                "sense": angle_sense(self.angle.degrees),
                "degrees": abs(self.angle.degrees),
                "range": [self.angle.low, self.angle.high],
            },
            "next": {"turn": self.next_turn, "angle": self.next_angle},
            "reading": self.reading(),
            "readings": self.index_readings(),
            "slope": {
                "contact": self.shape.kind,
                "across": self.slope_across.degrees,
                "across_range": [self.slope_across.low, self.slope_across.high],
                "along": self.slope_along.degrees,
                "along_range": [self.slope_along.low, self.slope_along.high],
                "side_edges_um": round(edges[0], 2),
                "end_edges_um": round(edges[1], 2),
            },
            "done": self.done,
            "cautions": [{"id": c.id, "text": c.text} for c in self.cautions],
        }

    def warns(self, caution: str) -> bool:
        """Whether this caution stands beside the answer."""
        return any(c.id == caution for c in self.cautions)
