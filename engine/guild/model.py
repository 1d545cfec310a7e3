"""A share: the counts a bench gives away. Nothing else is in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

FORMAT = 1
WHAT = "lapwise share"
KINDS = ("fix", "cause")
LEVELS = ("all", "material", "lap", "compound")
COLUMNS = ("kind", "level", "name", "remedy", "cause", "trials", "hits")
MOST_ROWS = 500_000
MOST_COUNT = 10**15
"""Of one row, in millionths: a thousand million trials."""
MOST_CASES = 10**8

Cell = tuple[str, str, str, str, str]
"""kind, level, name, remedy, cause. ``fix``: a remedy against a cause. ``cause``: how often met, no remedy."""


@dataclass(frozen=True, slots=True)
class Noise:
    """How a share was blurred. ``epsilon``: of differential privacy for a case; ``scale``: of the noise, in trials."""

    epsilon: float
    scale: float


@dataclass(frozen=True, slots=True)
class Share:
    """What a bench gives. ``rows``: cell to (trials, hits) in millionths; of a cause the cases expected and met.

    ``token``: drawn for this share alone, so that a guild knows it again when it comes twice; it stands for nobody.
    ``knowledge``: the digest of the shipped knowledge. ``quarter``: when it was written, ``2026-Q3``.
    """

    token: str
    quarter: str
    knowledge: str
    version: str
    cases: int
    rows: Mapping[Cell, tuple[int, int]]
    noise: Noise | None = None
