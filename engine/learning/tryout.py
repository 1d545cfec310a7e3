"""Something new: a choice a person may ask for, in proportion to the chance that it is the best (Thompson sampling).

The advice itself never does this. It is an offer, shown as such, for days on which finding out matters more than time.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from lapwise.engine.learning.learner import Learned


@dataclass(frozen=True, slots=True)
class Tryout:
    """A remedy to try for once. ``chance``: as drawn, ``usual``: as the advice has it. ``trials`` logged so far."""

    remedy: str
    chance: float
    usual: float
    trials: float


def something_new(
    learned: Learned, posterior: Mapping[str, float], remedies: Mapping[str, float], seed: int
) -> Tryout | None:
    """One remedy, drawn so that little-tried ones get their turn: the most P(fixes) per minute under drawn chances.

    ``posterior``: cause to probability. ``remedies``: remedy that stands in the plan to its minutes. The same seed
    gives the same choice. None if nothing could help.
    """
    dice = random.Random(seed)
    best: tuple[float, Tryout] | None = None
    for remedy in sorted(remedies):
        drawn, usual, trials = 0.0, 0.0, 0.0
        for cause in _causes(learned, remedy, posterior):
            found = learned.chance(remedy, cause)
            mean, size = found.together.mean, learned.size(remedy, cause)
            drawn += posterior[cause] * dice.betavariate(max(mean * size, 1e-3), max((1 - mean) * size, 1e-3))
            usual += posterior[cause] * mean
            trials += found.yours.trials if found.yours else 0.0
        if usual <= 0:
            continue
        rate = drawn / max(remedies[remedy], 0.1)
        if best is None or rate > best[0]:
            best = rate, Tryout(remedy, drawn, usual, trials)
    return best[1] if best else None


def _causes(learned: Learned, remedy: str, posterior: Mapping[str, float]) -> Iterable[str]:
    known = learned.knowledge.remedies.get(remedy)
    return [c for c in sorted(known.fixes if known else ()) if posterior.get(c, 0.0) > 0.0]
