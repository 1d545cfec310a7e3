"""What a test of a rule means for one value, and what must be known before a ``not`` may hold."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from lapwise.engine.conclusions import Value
from lapwise.engine.knowledge.rule_model import Test
from lapwise.engine.slots import SLOTS


@cache
def accepts(test: Test) -> Callable[[Value], bool]:
    """The predicate of ``test`` on one value of its slot; a variable accepts any value.

    One function object per distinct test, so that rules asking the same share a node of the network.
    """
    if test.any_of:
        return frozenset(test.any_of).__contains__
    if test.bind:
        return lambda value: True
    low, above, high, below = test.at_least, test.above, test.at_most, test.below

    def within(value: Value) -> bool:
        return (
            isinstance(value, float)
            and (low is None or value >= low)
            and (above is None or value > above)
            and (high is None or value <= high)
            and (below is None or value < below)
        )

    return within


def known_through(slot: str) -> str | None:
    """The slot that must hold something before a ``not`` on ``slot`` may hold; None if it never may.

    A slot of one value or number is known by itself. A slot of many values is known when its list is complete:
    through ``known_by``, else never (that a symptom was not named does not mean it is absent).
    """
    entry = SLOTS[slot]
    return entry.known_by if entry.kind == "many" else slot
