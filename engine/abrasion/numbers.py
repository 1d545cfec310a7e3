"""Numbers as they are shown to a person."""

from __future__ import annotations


def short(value: float) -> str:
    """Two or three digits that count, never an exponent: 0.25, 1.9, 14, 165, 4890."""
    if value >= 99.5:
        return f"{value:.0f}"
    if value >= 9.95:
        return f"{round(value, 1):g}"
    return f"{value:.2g}"


def spread(low: float, high: float) -> str:
    """``1.9 to 20``."""
    return f"{short(low)} to {short(high)}"
