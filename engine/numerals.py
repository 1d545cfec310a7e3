"""Numbers as a person types them."""

from __future__ import annotations

import math
import re

_TIMES = re.compile(r"[x×*]", re.IGNORECASE)
LONGEST_MM = 200.0
MM_PER_INCH = 25.4


def read_number(text: str, unit: str = "") -> float | None:
    """A finite number, or None: decimal point or comma, a true minus sign, a fraction such as 12 1/4, and ``unit``
    or a degree sign behind it."""
    plain = text.replace("\N{MINUS SIGN}", "-").replace("\N{NO-BREAK SPACE}", " ").strip().lower()
    plain = plain.removesuffix(unit).removesuffix("°").strip()
    plain = plain.replace(",", ".") if plain.count(",") == 1 and "." not in plain else plain
    whole, _, part = plain.rpartition(" ")
    try:
        if "/" in part:
            over, under = part.split("/", 1)
            fraction = float(over) / float(under)
            value = float(whole) + math.copysign(fraction, float(whole)) if whole.strip() else fraction
        else:
            value = float(plain)
    except (ValueError, ZeroDivisionError):
        return None
    return value if math.isfinite(value) and "_" not in plain else None


def read_length(text: str) -> float | None:
    """A length in mm, or None: ``200``, ``200 mm``, ``8 in``, ``8"``, ``1/4 inch``. One inch is 25.4 mm exactly (the
    international inch of 1959)."""
    plain = text.strip().lower()
    inches = next((unit for unit in ("inches", "inch", "in", '"', "\N{DOUBLE PRIME}") if plain.endswith(unit)), None)
    if inches is None:
        return read_number(text, "mm")
    value = read_number(plain.removesuffix(inches))
    return None if value is None else value * MM_PER_INCH


def read_size(text: str) -> tuple[float, float] | None:
    """``9x6`` or ``9 x 6 mm`` as (across, tip to dop) in mm; ``9`` for a facet as long as it is wide. None if it is
    not of that form, or a side is not over 0 and at most :data:`LONGEST_MM`."""
    sides = [read_number(part, "mm") for part in _TIMES.split(text)]
    if not 1 <= len(sides) <= 2 or not all(side is not None and 0 < side <= LONGEST_MM for side in sides):
        return None
    across, along = sides[0], sides[-1]
    assert across is not None
    assert along is not None
    return across, along
