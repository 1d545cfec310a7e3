"""Can this polish ever take off what the last step left? Polish on, go back one step, or two."""

from __future__ import annotations

from typing import Literal

from lapwise.engine.abrasion.damage import damage_depth
from lapwise.engine.abrasion.preston import usual_oxide_minutes

Verdict = Literal["polish-on", "back-one", "back-two"]

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


def verdict(prior_um: float, compound_um: float, kind: str) -> Verdict:
    """The verdict on polishing with ``kind`` (oxide, diamond, carbide, none) of ``compound_um`` after ``prior_um``.

    An oxide is judged by minutes on a facet of 5 mm (Preston's law; removal hardly depends on the size of the oxide
    grain), diamond and the rest by the step in grain size. Raises ``ValueError`` for sizes not above 0.
    """
    if not (prior_um > 0 and compound_um > 0):
        raise ValueError("grain sizes above 0 are required")
    if kind == "oxide":
        return _verdict(usual_oxide_minutes(damage_depth(prior_um)), LONG_MINUTES, HOPELESS_MINUTES)
    return _verdict(prior_um / compound_um, LARGE_RATIO, HUGE_RATIO)


def _verdict(value: float, on_up_to: float, one_up_to: float) -> Verdict:
    return "polish-on" if value <= on_up_to else "back-one" if value <= one_up_to else "back-two"
