"""From the facet and its trials to the nudge: direction, amount, uncertainty, and what to beware of."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from lapwise.engine.case import FacetSetting
from lapwise.engine.contact.choice import best_slopes
from lapwise.engine.contact.evidence import Visit, told, visits
from lapwise.engine.contact.frame import Frame, angle_sense, frame_of, index_after, turn_sense
from lapwise.engine.contact.pattern import Shape, shape_of
from lapwise.engine.contact.posterior import UM_PER_MM_DEGREE, USUAL_DAMAGE_UM, Geometry, Posterior, posterior
from lapwise.engine.errors import BadInput, Issue, NothingFound
from lapwise.engine.machine import MachineProfile

USUAL_SIZE_MM = (5.0, 5.0)
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
                "seen_from": "behind the hand piece",
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

    def sentences(self) -> tuple[str, ...]:
        """The answer in words of the stone, for a person who never used a fine index."""
        from lapwise.engine.contact.words import sentences

        return sentences(self)


def correct(
    facet: FacetSetting, *, damage_um: tuple[float, float] | None = None, profile: MachineProfile | None = None
) -> Correction:
    """Which way and how far to turn the stone and change the angle. ``damage_um``: depth left by the step before, µm.

    Raises :class:`BadInput` for a map that cannot be read, :class:`NothingFound` where no map is given.
    """
    seen = visits(facet.trials)
    if not seen:
        what = "no facet map: give one with --trial 0,0,MAP, or --map MAP"
        raise NothingFound(Issue(what, "correct", "", ("B bright, D dull, for example BBD/BBD/BBD",)))
    if damage_um is not None and not 0 < damage_um[0] <= damage_um[1] < math.inf:
        raise BadInput(Issue("a range of damage depth in µm is wanted, low to high", "damage", str(damage_um)))
    frame = frame_of(facet)
    size = facet.size_mm or USUAL_SIZE_MM
    here = seen[-1]
    shape = shape_of(here.shown)
    tilt_per_turn = frame.tilt_per_turn if frame.index_works else 1.0
    found = posterior(seen, Geometry(size[0], size[1], tilt_per_turn), damage_um or USUAL_DAMAGE_UM)
    offset = (here.turn * tilt_per_turn, here.angle)
    across, along = _slopes(found, shape, offset, damage_um or USUAL_DAMAGE_UM)
    done = _done(here)
    lost = shape.kind == "even" and shape.touched is False and any(shape_of(v.shown).kind == "sloped" for v in seen)
    flat = shape.kind in ("unknown", "even") or (shape.kind == "patchy" and not _clear(shape))
    still = done or (flat and not lost)
    # where nothing is marked at one end, which way that axis leans would be guessed
    side, end = told(seen)
    across, along = across if side else Nudge(0.0, 0.0, 0.0), along if end else Nudge(0.0, 0.0, 0.0)
    turn = Nudge(0.0, 0.0, 0.0) if still or not frame.index_works else _over(across, frame.tilt_per_turn)
    angle = Nudge(0.0, 0.0, 0.0) if still else along
    from lapwise.engine.contact.beware import cautions

    draft = Correction(
        facet=facet,
        profile=profile,
        frame=frame,
        shape=shape,
        size_mm=size,
        turn=turn,
        angle=angle,
        next_turn=_tidy(here.turn + turn.degrees),
        next_angle=_tidy(here.angle + angle.degrees),
        slope_across=across,
        slope_along=along,
        done=done,
        lost=lost,
        cautions=(),
    )
    return _with(draft, cautions(draft, seen, found, damage_known=damage_um is not None))


def findings(facet: FacetSetting) -> dict[str, str]:
    """Slots for the rules (contact, contact_slope, contact_centre, correction_size); {} where no map tells anything."""
    if not facet.trials:
        return {}
    answer = correct(facet)
    shape = answer.shape
    if shape.kind == "unknown" or answer.warns("unmarked"):
        return {}
    out: dict[str, str] = {"contact": shape.kind}
    if shape.kind == "sloped" or (shape.kind == "patchy" and _clear(shape)):
        one, two = abs(shape.across), abs(shape.along)
        if one or two:
            out["contact_slope"] = "side-to-side" if one >= 2 * two else "tip-to-dop" if two >= 2 * one else "both"
        if facet.size_mm is not None and facet.angle is not None:
            out["correction_size"] = "large" if answer.large else "fine"
    if shape.centre is not None:
        out["contact_centre"] = shape.centre
    return out


def _clear(shape: Shape) -> bool:
    return shape.clear_across or shape.clear_along


def _done(here: Visit) -> bool:
    """All of the stone that is marked touched this one plane, and enough of it is marked."""
    shown = here.seen or here.ink
    proof = here.shown
    if shown is None or shown.count("missed") or proof.count("missed"):
        return False
    return 2 * proof.known >= proof.stone and proof.known >= 3


def _slopes(
    found: Posterior, shape: Shape, offset: tuple[float, float], damage_um: tuple[float, float]
) -> tuple[Nudge, Nudge]:
    """The slopes at the present setting: the best one to correct for, and the 80 % interval, on each axis."""
    best = best_slopes(found)
    sizes = (found.geometry.across, found.geometry.along)
    out = []
    for axis, marks in enumerate((shape.across, shape.along)):
        low, high = (v - offset[axis] for v in found.interval(axis))
        value = best[axis] - offset[axis]
        least = 0.25 * damage_um[0] / (sizes[axis] * UM_PER_MM_DEGREE)
        if abs(marks) >= 2:
            sign = math.copysign(1.0, marks)
            if value * sign < least:
                middle = (found.median(axis) - offset[axis]) * sign
                value = sign * max(least, middle, 1e-3)
            low, high = (max(low, 0.0), max(high, value)) if sign > 0 else (min(low, value), min(high, 0.0))
        elif abs(value) < least:
            value = 0.0
        out.append(Nudge(_tidy(value), _tidy(low), _tidy(high)))
    return out[0], out[1]


def _over(slope: Nudge, tilt_per_turn: float) -> Nudge:
    """The turn that takes out a side tilt."""
    return Nudge(
        _tidy(slope.degrees / tilt_per_turn), _tidy(slope.low / tilt_per_turn), _tidy(slope.high / tilt_per_turn)
    )


def _tidy(value: float) -> float:
    """Rounded to a ten-thousandth of a degree, never to minus zero."""
    return round(value, 4) + 0.0


def _with(draft: Correction, cautions: Sequence[Beware]) -> Correction:
    from dataclasses import replace

    return replace(draft, cautions=tuple(cautions))
