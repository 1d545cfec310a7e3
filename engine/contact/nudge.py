"""From the facet and its trials to the nudge."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

from lapwise.engine.case import FacetSetting
from lapwise.engine.contact.beware import cautions
from lapwise.engine.contact.choice import best_slopes
from lapwise.engine.contact.correction import Correction, Nudge
from lapwise.engine.contact.evidence import Visit, told, visits
from lapwise.engine.contact.frame import frame_of
from lapwise.engine.contact.pattern import Shape, shape_of
from lapwise.engine.contact.posterior import UM_PER_MM_DEGREE, USUAL_DAMAGE_UM, Geometry, Posterior, posterior
from lapwise.engine.errors import BadInput, Issue, NothingFound
from lapwise.engine.machine import MachineProfile

USUAL_SIZE_MM = (5.0, 5.0)


@lru_cache(maxsize=64)  # ranking, picture and log ask for the same facet
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
        raise BadInput(Issue("a range of damage depth in µm is required, low to high", "damage", str(damage_um)))
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
    warned = cautions(draft, seen, found, damage_known=damage_um is not None)
    return replace(draft, cautions=tuple(warned))


def findings(facet: FacetSetting, answer: Correction | None = None) -> dict[str, str]:
    """Slots for the rules (contact, contact_slope, contact_centre, correction_size); {} where no map tells anything.

    ``answer``: the correction of ``facet`` where it is worked out already, with machine and depth of damage.
    """
    if not facet.trials:
        return {}
    answer = answer or correct(facet)
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
