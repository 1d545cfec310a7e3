"""Checks a ladder of grits: each step must reach down to the damage of the one before. Sizes in micrometres (µm)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from lapwise.engine.abrasion.damage import damage_depth
from lapwise.engine.abrasion.judgement import HUGE_RATIO, LARGE_RATIO, USUAL_RATIO, verdict
from lapwise.engine.abrasion.numbers import short

COARSER_RATIO = 1.25
"""A step coarser by less than this counts as the same: judgement."""


@dataclass(frozen=True, slots=True)
class Rung:
    """One step: its name, its grain (µm) and its kind (diamond, oxide, carbide, none)."""

    name: str
    um: float
    kind: str = "diamond"


def reach_um(grain_um: float) -> float:
    """Depth (µm) that a step takes off in its usual time: the damage of a step three times coarser.

    That is what the published ladder 30, 15, 9, 3 µm (steps of two to three) asks of every step.
    """
    return damage_depth(USUAL_RATIO * grain_um)[1]


def check_ladder(rungs: Sequence[Rung]) -> tuple[str, ...]:
    """A sentence for each pair of steps that does not fit, in order; empty if the ladder is sound."""
    said = (_oxide(*pair) if pair[1].kind == "oxide" else _grain(*pair) for pair in pairwise(rungs))
    return tuple(sentence for sentence in said if sentence)


def _grain(before: Rung, after: Rung) -> str:
    ratio = before.um / after.um
    damage, reach = damage_depth(before.um)[1], reach_um(after.um)
    if ratio < 1 / COARSER_RATIO:
        return f"{after.name} is coarser than {before.name} before it: it undoes that step."
    if ratio > LARGE_RATIO:
        missing = "a step is" if ratio <= HUGE_RATIO else "more than one step is"
        return (
            f"{after.name} leaves the damage of {before.name} behind: it goes up to {short(damage)} µm deep, and "
            f"{after.name} takes off about {short(reach)} µm in its usual time; {missing} missing."
        )
    if ratio > USUAL_RATIO * 1.1:
        return (
            f"From {before.name} to {after.name} is a long step ({short(ratio)} times finer): allow about "
            f"{short(damage / reach)} times the usual time on {after.name}, and check it under a loupe."
        )
    return ""


def _oxide(before: Rung, after: Rung) -> str:
    if before.kind == "oxide" or verdict(before.um, after.um, "oxide") == "polish-on":
        return ""
    return (
        f"{after.name} after {before.name}: damage up to {short(damage_depth(before.um)[1])} µm deep is more than an "
        "oxide takes off in a usual time; put a finer pre-polish between them."
    )
