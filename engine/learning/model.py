"""What learning hands out: the shipped view, the record's, and the two together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from lapwise.engine.flat import flat, rounded
from lapwise.engine.learning.beta import interval


@dataclass(frozen=True, slots=True)
class Estimate:
    """A chance with its interval (90 %) and the number of trials behind it (0 for judgement alone)."""

    mean: float
    low: float
    high: float
    trials: float

    def as_json(self) -> dict[str, float]:
        """Flat, rounded to what is worth printing."""
        return rounded(flat(self), mean=4, low=4, high=4, trials=2)


def jeffreys_estimate(hits: float, trials: float) -> Estimate | None:
    """What ``hits`` in ``trials`` say by themselves (Jeffreys interval), None without a trial."""
    if trials <= 0:
        return None
    hits = min(max(hits, 0.0), trials)
    low, high = interval(hits + 0.5, max(trials - hits, 0.0) + 0.5)
    return Estimate(hits / trials, low, high, trials)


def prior_estimate(mean: float, size: float, trials: float = 0.0) -> Estimate:
    """A Beta of this mean worth ``size`` trials, of which ``trials`` were logged."""
    low, high = interval(max(mean * size, 1e-3), max((1.0 - mean) * size, 1e-3))
    return Estimate(mean, low, high, trials)


@dataclass(frozen=True, slots=True)
class Chance:
    """P(a remedy fixes a cause): what the shipped knowledge says, what a guild found (None without its file), what your
    record says, and all of it together."""

    remedy: str
    cause: str
    shipped: Estimate
    guild: Estimate | None
    yours: Estimate | None
    together: Estimate

    def as_json(self) -> dict[str, Any]:
        """Flat JSON."""
        return flat(self)


@dataclass(frozen=True, slots=True)
class CauseFactor:
    """How much more (or less) often a cause was met than the shipped knowledge expects, in cases.

    ``guild``: the factor a guild found, None without its file; ``factor`` is all of it together.
    """

    cause: str
    factor: float
    seen: float
    expected: float
    guild: float | None = None

    def as_json(self) -> dict[str, Any]:
        """Flat JSON."""
        return rounded(flat(self), factor=4, seen=2, expected=2, guild=4)


@dataclass(frozen=True, slots=True)
class Works:
    """How often one thing worked. ``name``: a remedy, or ``lap|compound``. ``minutes``: mean, None if not logged."""

    name: str
    worked: int
    trials: int
    estimate: Estimate
    minutes: float | None = None

    def as_json(self) -> dict[str, Any]:
        """Flat JSON."""
        return rounded(flat(self, estimate="interval"), minutes=1)


@dataclass(frozen=True, slots=True)
class WhatWorks:
    """What the record says of a material (None: of everything), best first."""

    material: str | None
    cases: int
    pairs: tuple[Works, ...]
    remedies: tuple[Works, ...]
    minutes_by_cause: Mapping[str, float]
    by_month: tuple[tuple[str, int, float], ...]
    """Month, facets finished, mean minutes to a good facet."""
    cured: tuple[tuple[str, str, int], ...] = ()
    """Material, remedy, how often it cured there; the stone with the most cures first."""

    def as_json(self) -> dict[str, Any]:
        """Flat JSON."""
        return {
            "material": self.material,
            "cases": self.cases,
            "pairs": [w.as_json() for w in self.pairs],
            "remedies": [w.as_json() for w in self.remedies],
            "minutes_by_cause": {c: round(m, 1) for c, m in self.minutes_by_cause.items()},
            "by_month": [{"month": m, "facets": n, "minutes": round(t, 1)} for m, n, t in self.by_month],
            "cured": [{"material": m, "remedy": r, "times": n} for m, r, n in self.cured],
        }
