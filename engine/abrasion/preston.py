"""Minutes to take a depth off: Preston's law dz/dt = Kp · P · v (F. W. Preston 1927, J. Soc. Glass Technol. 11).

Kp in 1/Pa, pressure in Pa, speed in m/s; the rate is a depth per time. The law is good for polishing at steady wetness;
a starved lap removes less, and a flooded one may float the stone. Coefficients were measured on glass and silica: a
harder stone takes longer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lapwise.engine.abrasion.damage import Span


@dataclass(frozen=True, slots=True)
class Coefficient:
    """Range of Kp (1/Pa) for a kind of compound, with its source."""

    low: float
    high: float
    source: str


OXIDE = Coefficient(1e-13, 1.6e-12, "pitch_removal_rates")
"""Top: cerium oxide on fused silica, best of twenty pitch conditions (read); bottom: usual, glass (memory)."""
HAND_NEWTON: Span = (2.0, 8.0)
"""Usual force of the hand on the stone, N: judgement, common practice, no source."""
POLISH_SPEED: Span = (0.3, 1.2)
"""Usual speed of the lap under the facet while polishing, m/s (50 to 200 rpm at 60 mm): common practice, no source."""
USUAL_FACET_MM = (5.0, 5.0)
"""The facet that minutes are told for; a larger one takes longer in proportion to its area."""


def removal_nm_per_s(kp_per_pa: float, pressure_pa: float, speed_m_per_s: float) -> float:
    """Depth taken off per second, nm/s."""
    return kp_per_pa * pressure_pa * speed_m_per_s * 1e9


def seconds_to_remove(depth_um: float, kp_per_pa: float, pressure_pa: float, speed_m_per_s: float) -> float:
    """Seconds to take ``depth_um`` µm off; infinite where nothing is removed."""
    rate = removal_nm_per_s(kp_per_pa, pressure_pa, speed_m_per_s)
    return depth_um * 1000.0 / rate if rate > 0 else math.inf


def pressure_pa(force_n: float, width_mm: float, height_mm: float) -> float:
    """Mean pressure of a force (N) on a rectangular face, Pa."""
    if not (width_mm > 0 and height_mm > 0):
        raise ValueError("a face of more than 0 mm is required")
    return force_n / (width_mm * height_mm * 1e-6)


def usual_oxide_minutes(depth_um: Span) -> float:
    """Minutes an oxide usually needs to take a depth (low, high µm) off a facet of 5 mm: the middle of every range."""
    pressure = pressure_pa(middle(HAND_NEWTON), *USUAL_FACET_MM)
    kp = middle((OXIDE.low, OXIDE.high))
    return seconds_to_remove(middle(depth_um), kp, pressure, middle(POLISH_SPEED)) / 60.0


def middle(span: Span) -> float:
    """The geometric middle of a range that spans powers of ten."""
    low, high = span
    return math.sqrt(low * high)
