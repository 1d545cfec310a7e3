"""A rule's conditions in normal form: what each way of meeting it asks for, and what that means for one value."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import product

from lapwise.engine.conclusions import Value
from lapwise.engine.knowledge.model import AllOf, AnyOf, Condition, Not, Rule, Test
from lapwise.engine.slots import DERIVED, SLOTS

MOST_WAYS = 256
"""A rule that can be met in more ways than this is refused: it would fill the network and nobody could read it."""


@dataclass(frozen=True, slots=True)
class Conjunct:
    """One way of meeting a rule: all of ``tests`` hold and none of ``nots`` does. Both in the order written."""

    tests: tuple[Test, ...]
    nots: tuple[Test, ...]


def ways(rule: Rule) -> tuple[Conjunct, ...]:
    """Every way of meeting ``rule`` (disjunctive normal form), without repeats, in the order written.

    Raises ``ValueError`` for a ``not`` on a derived fact and for more than :data:`MOST_WAYS` ways.
    """
    found: dict[Conjunct, None] = {}
    for parts in _expand(rule.when, rule.id):
        tests = dict.fromkeys(p for p in parts if isinstance(p, Test))
        nots = dict.fromkeys(p.test for p in parts if isinstance(p, Not))
        if any(t.slot in DERIVED for t in nots):
            raise ValueError(f"rule {rule.id}: 'not' may speak of raw facts only")
        found[Conjunct(tuple(tests), tuple(nots))] = None
    return tuple(found)


def _expand(condition: Condition, rule: str) -> list[tuple[Test | Not, ...]]:
    if isinstance(condition, Test | Not):
        return [(condition,)]
    if isinstance(condition, AnyOf):
        out = [way for option in condition.options for way in _expand(option, rule)]
    else:
        parts = [_expand(part, rule) for part in condition.parts]
        count = 1
        for part in parts:
            count *= len(part)
        if count > MOST_WAYS:
            raise ValueError(f"rule {rule}: can be met in more than {MOST_WAYS} ways; make several rules of it")
        out = [tuple(p for way in choice for p in way) for choice in product(*parts)]
    if len(out) > MOST_WAYS:
        raise ValueError(f"rule {rule}: can be met in more than {MOST_WAYS} ways; make several rules of it")
    return out


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


def conditions_of(condition: Condition) -> tuple[Condition, ...]:
    """The top-level conditions of a rule's ``when``: what WHY NOT shows one by one."""
    return condition.parts if isinstance(condition, AllOf) else (condition,)
