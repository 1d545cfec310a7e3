"""Numbers as they are shown to a person."""

from __future__ import annotations


def short(value: float) -> str:
    """Two digits that count, all of a whole number, never an exponent: 0.25, 1.9, 14, 165, 4890."""
    if value >= 9.95:
        return f"{value:.0f}"
    return f"{value:.2g}"


def spread(low: float, high: float) -> str:
    """``1.9 to 20``."""
    return f"{short(low)} to {short(high)}"
