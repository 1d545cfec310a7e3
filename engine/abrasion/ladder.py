"""Checks a ladder of grits: each step must reach down to the damage of the one before. Sizes in micrometres (µm)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from lapwise.engine.abrasion.damage import damage_depth
from lapwise.engine.abrasion.judgement import HUGE_RATIO, LARGE_RATIO, USUAL_RATIO, judge
from lapwise.engine.abrasion.numbers import short

Fault = Literal["leaves-damage", "long-step", "idle-step", "coarser"]
IDLE_RATIO = 1.25
"""A step finer by less than this changes nothing worth its time: judgement."""


@dataclass(frozen=True, slots=True)
class Rung:
    """One step: its name, its grain (µm) and its kind (diamond, oxide, carbide, none)."""

    name: str
    um: float
    kind: str = "diamond"


@dataclass(frozen=True, slots=True)
class LadderWarning:
    """What is wrong between two steps. ``damage_um``: deepest damage the first leaves; ``reach_um``: depth the second
    takes off in its usual time; ``ratio``: the step in grain size."""

    fault: Fault
    before: str
    after: str
    damage_um: float
    reach_um: float
    ratio: float
    text: str


def reach_um(grain_um: float) -> float:
    """Depth (µm) that a step takes off in its usual time: the damage of a step three times coarser.

    That is what the published ladder 30, 15, 9, 3 µm (steps of two to three) asks of every step.
    """
    return damage_depth(USUAL_RATIO * grain_um)[1]


def check_ladder(rungs: Sequence[Rung]) -> tuple[LadderWarning, ...]:
    """Every pair of steps that does not fit, in order; empty if the ladder is sound."""
    out = []
    for before, after in pairwise(rungs):
        warning = _oxide(before, after) if after.kind == "oxide" else _grain(before, after)
        if warning is not None:
            out.append(warning)
    return tuple(out)


def _grain(before: Rung, after: Rung) -> LadderWarning | None:
    ratio = before.um / after.um
    damage, reach = damage_depth(before.um)[1], reach_um(after.um)

    def warn(fault: Fault, text: str) -> LadderWarning:
        return LadderWarning(fault, before.name, after.name, damage, reach, ratio, text)

    if ratio < 1 / IDLE_RATIO:
        return warn("coarser", f"{after.name} is coarser than {before.name} before it: it undoes that step.")
    if ratio < IDLE_RATIO and after.kind == before.kind:
        return warn("idle-step", f"{after.name} is hardly finer than {before.name}: the step is not worth its time.")
    if ratio > LARGE_RATIO:
        missing = "a step is" if ratio <= HUGE_RATIO else "more than one step is"
        text = (
            f"{after.name} leaves the damage of {before.name} behind: it goes up to {short(damage)} µm deep, and "
            f"{after.name} takes off about {short(reach)} µm in its usual time; {missing} missing."
        )
        return warn("leaves-damage", text)
    if ratio > USUAL_RATIO * 1.1:
        text = (
            f"From {before.name} to {after.name} is a long step ({short(ratio)} times finer): allow about "
            f"{short(damage / reach)} times the usual time on {after.name}, and check it under a loupe."
        )
        return warn("long-step", text)
    return None


def _oxide(before: Rung, after: Rung) -> LadderWarning | None:
    if before.kind == "oxide":
        return None
    judged = judge(before.um, after.um, "oxide")
    if judged.verdict == "polish-on":
        return None
    text = (
        f"{after.name} after {before.name}: damage up to {short(judged.damage_um[1])} µm deep is more than an oxide "
        "takes off in a usual time; put a finer pre-polish between them."
    )
    return LadderWarning(
        "leaves-damage", before.name, after.name, judged.damage_um[1], reach_um(after.um), before.um / after.um, text
    )
