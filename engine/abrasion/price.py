"""What stepping back costs in stone: how much comes off, and how far girdle, culet and outline move.

Taking d off a facet, measured square to it, at facet angle e (0 table, 90 girdle) moves the girdle line or the culet
up or down by d/cos e and the outline inwards by d/sin e (plane geometry).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from lapwise.engine.abrasion.damage import Span
from lapwise.engine.abrasion.judgement import USUAL_RATIO
from lapwise.engine.abrasion.numbers import short, spread

COARSER_DAMAGE = USUAL_RATIO**0.85
"""Damage of a step three times coarser, against this one (damage grows as the grain to the power 0.85)."""
FLAT = 1e-9


@dataclass(frozen=True, slots=True)
class Price:
    """``remove_um``: (low, high) µm off the facet, square to it. The others None where the facet cannot move them.

    ``height_um``: how far the girdle line or the culet moves along the axis. ``outline_um``: how far the outline moves
    inwards on this side. ``smaller_mm``: (low, high) loss of width if the facet opposite is taken down as well.
    """

    remove_um: Span
    height_um: Span | None
    outline_um: Span | None
    smaller_mm: Span | None


def removed_um(damage_um: Span, steps: int) -> Span:
    """(low, high) µm that stepping back takes off: the damage left, and for each further step back the damage that
    the coarser step itself leaves and that has to come off again (three times the grain each time)."""
    if steps < 1:
        raise ValueError("at least one step back is required")
    factor = sum(COARSER_DAMAGE**k for k in range(steps))
    return damage_um[0] * factor, damage_um[1] * factor


def height_moved_um(depth_um: float, angle_degrees: float) -> float | None:
    """How far the girdle line or culet moves along the axis (µm), d/cos e; None on the girdle itself."""
    c = math.cos(math.radians(angle_degrees))
    return depth_um / c if c > FLAT else None


def outline_moved_um(depth_um: float, angle_degrees: float) -> float | None:
    """How far the outline moves inwards (µm), d/sin e; None for the table."""
    s = math.sin(math.radians(angle_degrees))
    return depth_um / s if s > FLAT else None


def price_of(damage_um: Span, steps: int, angle_degrees: float | None = None) -> Price:
    """The price of going back ``steps`` steps on a facet at this angle (None if not known).

    Raises ``ValueError`` for an angle outside 0 to 90 or for less than one step.
    """
    remove = removed_um(damage_um, steps)
    if angle_degrees is None:
        return Price(remove, None, None, None)
    if not 0 <= angle_degrees <= 90:
        raise ValueError("an angle from 0 to 90 degrees is required")
    height = _both(remove, angle_degrees, height_moved_um)
    outline = _both(remove, angle_degrees, outline_moved_um)
    smaller = None if outline is None else (2 * outline[0] / 1000, 2 * outline[1] / 1000)
    return Price(remove, height, outline, smaller)


def _both(depth: Span, angle: float, moved: Any) -> Span | None:
    low, high = moved(depth[0], angle), moved(depth[1], angle)
    return None if low is None or high is None else (low, high)


def step_back_price(
    damage_um: Span,
    angle_degrees: float | None = None,
    size_mm: tuple[float, float] | None = None,
    steps: int = 1,
) -> dict[str, Any]:
    """The price as plain values for the answer: µm and mm, with one sentence in ``text``.

    ``size_mm``: the facet, across and tip to dop; then ``share_of_facet`` is the deepest removal over its shorter side.
    """
    price = price_of(damage_um, steps, angle_degrees)
    low, high = price.remove_um
    parts = [f"takes {spread(low, high)} µm off the facet"]
    if price.height_um is not None and angle_degrees:
        parts.append(f"moves the girdle line or culet and the meets on it by up to {short(price.height_um[1])} µm")
    if price.outline_um is not None:
        parts.append(f"the outline by up to {short(price.outline_um[1])} µm")
    text = "Stepping back " + ", ".join(parts) + "; take the facets that meet it down alike so that the meets close."
    if price.outline_um is not None and price.smaller_mm is not None:
        text += f" The stone gets at most {short(price.smaller_mm[1])} mm narrower."
    share = None if not size_mm else high / 1000 / min(size_mm)
    return {
        "steps": steps,
        "remove_um": list(price.remove_um),
        "height_um": list(price.height_um) if price.height_um else None,
        "outline_um": list(price.outline_um) if price.outline_um else None,
        "narrower_mm": list(price.smaller_mm) if price.smaller_mm else None,
        "share_of_facet": share,
        "text": text,
    }
