"""A problem cut down to what the exact programme holds."""

from __future__ import annotations

from dataclasses import dataclass

from lapwise.engine.strategy.model import DecisionProblem


@dataclass(frozen=True, slots=True)
class Reduced:
    """A smaller problem. ``lossless``: what was left out cannot change the answer."""

    problem: DecisionProblem
    dropped_remedies: tuple[str, ...]
    dropped_looks: tuple[str, ...]
    lossless: bool
