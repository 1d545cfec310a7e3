"""Can this polish ever take off what the last step left? Polish on, go back one step, or two."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from lapwise.engine.abrasion.damage import Span, damage_depth
from lapwise.engine.abrasion.numbers import short, spread
from lapwise.engine.abrasion.preston import COEFFICIENTS, middle, minutes_to_remove

Verdict = Literal["polish-on", "back-one", "back-two"]

USUAL_FACET_MM = (5.0, 5.0)
"""The verdict is passed for a facet of this size; a larger one takes longer in proportion to its area."""
LONG_MINUTES = 2.0
"""A well pre-polished facet takes seconds to half a minute; over two minutes, go back: common practice, no source."""
HOPELESS_MINUTES = 6.0
"""Three times that: the damage is deeper than the step before the polish takes off in its own time. Judgement."""
USUAL_RATIO = 3.0
"""Steps of two to three times in grain, such as 30, 15, 9, 3 µm, each clear the damage of the one before
(a published course on grinding, excerpt read)."""
LARGE_RATIO = 8.0
"""The largest step that polishing with diamond usually bridges (3 µm to 0.4 µm): common practice, no source."""
HUGE_RATIO = 25.0
"""Beyond this more than one step is missing: judgement."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """The verdict with what it rests on.

    ``damage_um``: (low, high) depth left by the step before. ``minutes``: (least, most) to polish it out at this
    facet size, at the best and the poorest of everything. ``ratio``: grain of
    the step before over the grain now, None where sizes say nothing (oxides).
    """

    verdict: Verdict
    damage_um: Span
    minutes: Span | None
    ratio: float | None
    reasons: tuple[str, ...]


def judge(prior_um: float, compound_um: float, kind: str, size_mm: tuple[float, float] = USUAL_FACET_MM) -> Judgement:
    """The verdict on polishing with ``kind`` (oxide, diamond, carbide, none) of ``compound_um`` after ``prior_um``.

    An oxide is judged by minutes (Preston's law; removal hardly depends on the size of the oxide grain), diamond and
    the rest by the step in grain size. Raises ``ValueError`` for sizes not above 0.
    """
    if not (prior_um > 0 and compound_um > 0):
        raise ValueError("grain sizes above 0 are required")
    damage = damage_depth(prior_um)
    minutes = minutes_to_remove(damage, kind, size_mm) if kind in COEFFICIENTS else None
    depth = f"Grains of {prior_um:g} µm leave damage from {spread(*damage)} µm deep."
    if kind == "oxide":
        usual = middle(minutes_to_remove((middle(damage), middle(damage)), kind, USUAL_FACET_MM))
        said = _verdict(usual, LONG_MINUTES, HOPELESS_MINUTES)
        return Judgement(said, damage, minutes, None, (depth, _oxide_reason(usual)))
    ratio = prior_um / compound_um
    return Judgement(_verdict(ratio, LARGE_RATIO, HUGE_RATIO), damage, minutes, ratio, (depth, _ratio_reason(ratio)))


def verdict(prior_um: float, compound_um: float, kind: str) -> Verdict:
    """The verdict alone, see :func:`judge`."""
    return judge(prior_um, compound_um, kind).verdict


def _verdict(value: float, on_up_to: float, one_up_to: float) -> Verdict:
    return "polish-on" if value <= on_up_to else "back-one" if value <= one_up_to else "back-two"


def _oxide_reason(minutes: float) -> str:
    time = f"An oxide takes that off a facet of 5 mm in about {short(minutes)} minutes"
    if minutes <= LONG_MINUTES:
        return f"{time}: polish on."
    if minutes <= HOPELESS_MINUTES:
        return f"{time}, too long: even the surface with a finer step first."
    return f"{time}, far too long: the damage must come off with a coarser step first, then a finer one."


def _ratio_reason(ratio: float) -> str:
    if ratio <= 1:
        return "The previous step was no coarser than this one."
    step = f"The grain is {short(ratio)} times finer than in the previous step"
    if ratio <= USUAL_RATIO:
        return f"{step}: a usual step."
    if ratio <= LARGE_RATIO:
        return f"{step}: a long step; it takes more time than usual."
    if ratio <= HUGE_RATIO:
        return f"{step}: a step is missing in between."
    return f"{step}: more than one step is missing in between."
