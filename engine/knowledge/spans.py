"""Values with a unit and a source, as materials and compounds state them."""

from __future__ import annotations

from collections.abc import Collection

from lapwise.engine.knowledge.fields import Value
from lapwise.engine.knowledge.model import Level, Span


def span(value: Value, unit: str, low: float = 0.0, high: float = 1e6) -> Span:
    """``{low, high, unit, source, memory}``; ``unit`` is the one wanted here, both ends lie within the bounds."""
    keys = value.fields()
    bottom = keys.number("low", low, high)
    top = keys.number("high", low, high)
    if top < bottom:
        value.refuse("low is greater than high", f"{bottom:g} to {top:g}")
    named = keys.word("unit", (unit,), default=unit)
    out = Span(bottom, top, named, keys.source(), keys.truth("memory"))
    keys.done()
    return out


def level(value: Value, words: Collection[str]) -> Level:
    """``{level, because, source}`` with a level among ``words``."""
    keys = value.fields()
    out = Level(keys.word("level", words), keys.text("because"), keys.source())
    keys.done()
    return out
