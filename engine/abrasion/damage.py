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


RELATIONS: tuple[Relation, ...] = (
    Relation(
        "grain-glass",
        "0.3·L^0.68 < depth < 2·L^0.85, L the grain in µm",
        "optical glasses, loose and bound abrasive",
        "lambropoulos1999",
        True,
    ),
    Relation(
        "roughness-crystal",
        "depth < 1.4 × peak-to-valley roughness",
        "single crystals (silicon, sapphire, fluorides, lithium niobate), ground, lapped or sawn",
        "randi2005",
        False,
    ),
    Relation(
        "grain-coarse-polish",
        "depth = 1/7 to 1/5 of the grain",
        "fused silica polished with coarse powder on pitch or a firm pad",
        "smalltool_ssd",
        False,
    ),
    Relation(
        "roughness-loose",
        "depth = 3.9 ± 0.2 × peak-to-valley roughness",
        "glass ground with loose abrasive",
        "aleinikov1957",
        True,
    ),
)

STRAY_FRACTION = 1e-4
"""Share of stray coarse grains above which damage deepens; with more of them it reaches that of grinding with the
stray size alone (fused silica; Lawrence Livermore report OSTI 942036, abstract read)."""


def damage_depth(grain_um: float) -> Span:
    """(low, high) µm of damage that a cutting or pre-polish step with grains of ``grain_um`` µm leaves.

    ``0.3·L^0.68`` to ``2·L^0.85``: measured on optical glasses (Lambropoulos 1999, constants from memory). Used here
    for every stone as the widest published range: no relation from grain size was found for gem crystals.
    Raises ``ValueError`` if the grain is not above 0.
    """
    if not grain_um > 0:
        raise ValueError("a grain size above 0 is wanted")
    low, high = 0.3 * grain_um**0.68, 2.0 * grain_um**0.85
    return min(low, high), high


def damage_below_roughness(peak_to_valley_um: float) -> float:
    """Upper bound (µm) of the damage below a ground crystal face of this peak-to-valley roughness (µm).

    ``1.4 × p-v`` for single crystals (Randi, Lambropoulos and Jacobs 2005, Appl. Opt. 44, abstract read).
    """
    if peak_to_valley_um < 0:
        raise ValueError("a roughness of 0 or more is wanted")
    return 1.4 * peak_to_valley_um


def damage_after_coarse_polish(grain_um: float) -> Span:
    """(low, high) µm of damage that a coarse polish on a firm tool leaves: a seventh to a fifth of the grain.

    Fused silica on pitch and polyurethane (abstract read).
    """
    if not grain_um > 0:
        raise ValueError("a grain size above 0 is wanted")
    return grain_um / 7.0, grain_um / 5.0


def with_strays(grain_um: float, stray_um: float, fraction: float) -> Span:
    """(low, high) µm of damage where a ``fraction`` of the grains is as coarse as ``stray_um``.

    Above :data:`STRAY_FRACTION` the deeper end is that of the stray grains, as if the whole lap had carried them.
    """
    own = damage_depth(grain_um)
    if fraction <= STRAY_FRACTION or stray_um <= grain_um:
        return own
    return own[0], damage_depth(stray_um)[1]
