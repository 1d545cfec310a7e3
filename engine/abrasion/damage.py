"""How deep a grinding or lapping step cracks the stone below its surface. Depths and sizes in micrometres (µm).

No relation holds for every process (Blaineau 2013, fused silica, abstract read: the ratios depend on how the surface
was ground), so every answer is a range and says which material it was measured on.
"""

from __future__ import annotations

from dataclasses import dataclass

Span = tuple[float, float]
"""(low, high)."""


@dataclass(frozen=True, slots=True)
class Relation:
    """A published relation. ``source``: key of the sources; ``memory``: the constants are recalled, not read."""

    id: str
    formula: str
    holds_for: str
    source: str
    memory: bool


RELATION = Relation(
    "grain-glass",
    "0.3·L^0.68 < depth < 2·L^0.85, L the grain in µm",
    "optical glasses, loose and bound abrasive",
    "damage_by_grain_1999",
    True,
)


def damage_depth(grain_um: float) -> Span:
    """(low, high) µm of damage that a cutting or pre-polish step with grains of ``grain_um`` µm leaves.

    ``0.3·L^0.68`` to ``2·L^0.85``: measured on optical glasses (Lambropoulos 1999, constants from memory). Used here
    for every stone as the widest published range: no relation from grain size was found for gem crystals.
    Raises ``ValueError`` if the grain is not above 0.
    """
    if not grain_um > 0:
        raise ValueError("a grain size above 0 is required")
    low, high = 0.3 * grain_um**0.68, 2.0 * grain_um**0.85
    return min(low, high), high
