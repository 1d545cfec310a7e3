"""A rule's conditions in normal form: what each way of meeting it asks for; and how much one rule may ask."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from math import prod

from lapwise.engine.knowledge.rule_model import AllOf, AnyOf, Condition, Not, Rule, Test
from lapwise.engine.slots import DERIVED

MOST_WAYS = 256
"""A rule that can be met in more ways than this is refused: it would fill the network and nobody could read it."""
MOST_CONDITIONS = 40
"""A rule with more tests than this is refused: comparing it with the others takes the square of their number."""


@dataclass(frozen=True, slots=True)
class Conjunct:
    """One way of meeting a rule: all of ``tests`` hold and none of ``nots`` does. Both in the order written."""

    tests: tuple[Test, ...]
    nots: tuple[Test, ...]


def too_much(when: AllOf) -> str:
    """What is too much about these conditions, in words; "" if nothing is. Works nothing out, so it is quick."""
    conditions, count = size(when)
    if conditions > MOST_CONDITIONS:
        return f"asks {conditions} things; at most {MOST_CONDITIONS} are read in one rule: split it into several rules"
    if count > MOST_WAYS:
        return f"can be met in {count} ways; at most {MOST_WAYS} are worked out: split it into several rules"
    return ""


def size(condition: Condition) -> tuple[int, int]:
    """(tests, ways of meeting it), without working them out."""
    if isinstance(condition, Test | Not):
        return 1, 1
    inner = condition.options if isinstance(condition, AnyOf) else condition.parts
    sizes = [size(part) for part in inner]
    counts = [count for _, count in sizes]
    return sum(tests for tests, _ in sizes), sum(counts) if isinstance(condition, AnyOf) else prod(counts)


def ways(rule: Rule) -> tuple[Conjunct, ...]:
    """Every way of meeting ``rule`` (disjunctive normal form), without repeats, in the order written.

    Raises ``ValueError`` for a ``not`` on a derived fact and for what is :func:`too_much`; loading refuses both.
    """
    if problem := too_much(rule.when):
        raise ValueError(f"rule {rule.id}: {problem}")
    found: dict[Conjunct, None] = {}
    for parts in expanded(rule.when):
        tests = dict.fromkeys(p for p in parts if isinstance(p, Test))
        nots = dict.fromkeys(p.test for p in parts if isinstance(p, Not))
        if any(t.slot in DERIVED for t in nots):
            raise ValueError(f"rule {rule.id}: 'not' may speak of raw facts only")
        found[Conjunct(tuple(tests), tuple(nots))] = None
    return tuple(found)


def expanded(condition: Condition) -> list[tuple[Test | Not, ...]]:
    """Every way of meeting a condition, each as the tests it asks for."""
    if isinstance(condition, Test | Not):
        return [(condition,)]
    if isinstance(condition, AnyOf):
        return [way for option in condition.options for way in expanded(option)]
    parts = [expanded(part) for part in condition.parts]
    return [tuple(p for way in choice for p in way) for choice in product(*parts)]
