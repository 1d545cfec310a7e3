"""From a rule of the knowledge base to rules of experta: one for each way of meeting it."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

from lapwise.engine.conclusions import Fact
from lapwise.engine.inference.experta_import import experta
from lapwise.engine.inference.normal import accepts, known_through
from lapwise.engine.knowledge.rule_model import Rule, Test
from lapwise.engine.knowledge.ways import Conjunct
from lapwise.engine.slots import SLOTS

Record = Callable[[Rule, list[Fact]], None]
"""Called when a rule fires, with the facts of one match."""


class SlotFact(experta.Fact):  # type: ignore[misc]
    """Base of the fact classes, one for each slot; the value stands under ``v``."""

    slot = ""


class Known(experta.Fact):  # type: ignore[misc]
    """Says that slot ``v`` holds something, so that a list which hangs on it is complete."""


class CompiledRule(experta.Rule):  # type: ignore[misc]
    """A rule of the network. Two of them are never the same rule, however alike their conditions."""

    rule_id = ""

    def __hash__(self) -> int:
        return id(self)

    def __eq__(self, other: object) -> bool:
        return self is other


@cache
def fact_class(slot: str) -> type[SlotFact]:
    """The fact class of ``slot``."""
    name = "".join(part.capitalize() for part in slot.split("_"))
    return type(name, (SlotFact,), {"slot": slot})


def declared(fact: Fact) -> SlotFact:
    """The fact as experta takes it."""
    return fact_class(fact.slot)(v=fact.value)


KNOWN_BY = frozenset(s.known_by for s in SLOTS.values() if s.known_by)


def compile_way(rule: Rule, way: Conjunct, record: Record) -> CompiledRule | None:
    """One experta rule, or None if this way can never be met (a ``not`` on what can never be known).

    Its right-hand side calls ``record`` and declares the rule's findings.
    """
    conditions: dict[Any, None] = {}
    for test in way.tests:
        conditions[_pattern(test)] = None
    if not rule.cautious:
        for test in way.nots:
            through = known_through(test.slot)
            if through is None:
                return None
            guard = _pattern(Test(test.slot)) if through == test.slot else Known(v=through)
            conditions[guard] = None
    if not conditions:
        conditions[experta.InitialFact()] = None
    for test in way.nots:
        conditions[experta.NOT(_pattern(test, negative=True))] = None
    compiled = CompiledRule(*conditions, salience=-rule.tier)
    compiled(_right_hand_side(rule, record))
    compiled.rule_id = rule.id
    return compiled


def _right_hand_side(rule: Rule, record: Record) -> Callable[..., None]:
    findings = rule.then.findings

    def fire(engine: Any, **bound: Any) -> None:
        record(rule, [Fact(f.slot, f["v"]) for f in bound.values() if isinstance(f, SlotFact)])
        if findings:
            finding = fact_class("finding")
            engine.declare(*(finding(v=name) for name in findings))

    return fire


@cache
def _pattern(test: Test, negative: bool = False) -> Any:
    """The pattern of ``test``; one object per distinct test, and the same name for the fact in every rule."""
    made = fact_class(test.slot)
    if test.bind:
        pattern = made(v=experta.W(f"var_{test.bind}"))
    elif test == Test(test.slot):
        pattern = made(v=experta.W())
    elif len(test.any_of) == 1:
        pattern = made(v=experta.L(test.any_of[0]))
    else:
        pattern = made(v=experta.P(accepts(test)))
    if not negative:
        pattern.__bind__ = f"fact_{_name(test)}"
    return pattern


def _name(test: Test) -> str:
    bounds = (test.at_least, test.above, test.at_most, test.below)
    return f"{test.slot}|{'|'.join(test.any_of)}|{bounds}|{test.bind}"
