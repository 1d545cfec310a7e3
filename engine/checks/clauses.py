"""Conditions as clauses: what a rule's ``when`` allows, slot by slot, so that two rules can be compared.

A ``when`` becomes one clause for each way through its ``any``. What follows from one thing on the machine (the
material with its traits and hardness, the lap with its kind, the compound with its grain) is kept as the set of ids
of which all tests hold: so ``material: emerald`` is known to imply ``material: beryl`` and ``trait: silicate``. That
counts only where ids are named: that no known stone is both soft and tough does not make one word imply the other.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import inf

from lapwise.engine.conclusions import Fact
from lapwise.engine.facts import compound_facts, lap_facts, material_facts
from lapwise.engine.inference.normal import accepts
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.rule_model import AllOf, Not, Rule, Test
from lapwise.engine.knowledge.ways import expanded, size
from lapwise.engine.slots import SLOTS

UNKNOWN = "?"
MAX_CLAUSES = 512
"""More ways through the ``any`` of a rule than this are not compared."""

_GROUPS: dict[str, tuple[str, ...]] = {
    "material": ("material", "trait", "mohs", "heat", "toughness", "directional", "cleavage"),
    "lap": ("lap", "lap_trait", "lap_hardness"),
    "compound": ("compound", "compound_kind", "compound_um"),
    "prior": ("prior", "prior_kind", "prior_um"),
    "prior_lap": ("prior_lap", "prior_lap_trait"),
}
_GROUP_OF = {slot: group for group, slots in _GROUPS.items() for slot in slots}
Facts = Mapping[str, frozenset[str | float]]


def things(knowledge: Knowledge) -> dict[str, dict[str, Facts]]:
    """Group to id to the facts that hold when that thing is on the machine."""

    def gathered(facts: Iterable[Fact]) -> Facts:
        out: dict[str, set[str | float]] = {}
        for fact in facts:
            out.setdefault(fact.slot, set()).add(fact.value)
        return {slot: frozenset(values) for slot, values in out.items()}

    return {
        "material": {m.id: gathered(material_facts(m)) for m in knowledge.materials.values()},
        "lap": {lap.id: gathered(lap_facts(lap)) for lap in knowledge.laps.values()},
        "prior_lap": {lap.id: gathered(lap_facts(lap, "prior_")) for lap in knowledge.laps.values()},
        "compound": {c.id: gathered(compound_facts(c, "compound")) for c in knowledge.compounds.values()},
        "prior": {c.id: gathered(compound_facts(c, "prior")) for c in knowledge.compounds.values()},
    }


def _holds(test: Test, facts: Facts) -> bool:
    return any(map(accepts(test), facts.get(test.slot, ())))


def _is_known(slot: str, facts: Facts) -> bool:
    return SLOTS[slot].kind == "many" or bool(facts.get(slot))


@dataclass(frozen=True, slots=True)
class Interval:
    """Numbers between two ends; a strict end is not part of it. ``unknown``: an unknown number will do as well."""

    low: float = -inf
    low_strict: bool = False
    high: float = inf
    high_strict: bool = False
    unknown: bool = False

    def within(self, other: Interval) -> bool:
        """Whether every number here (and the unknown, if allowed) is allowed there."""
        low = self.low > other.low or (self.low == other.low and (self.low_strict or not other.low_strict))
        high = self.high < other.high or (self.high == other.high and (self.high_strict or not other.high_strict))
        return low and high and (other.unknown or not self.unknown)

    def meet(self, other: Interval) -> Interval:
        """The numbers in both."""
        low, low_strict = max((self.low, self.low_strict), (other.low, other.low_strict))
        high, loose = min((self.high, not self.high_strict), (other.high, not other.high_strict))
        return Interval(low, low_strict, high, not loose, self.unknown and other.unknown)

    @property
    def empty(self) -> bool:
        """No number is in it, nor the unknown."""
        none = self.low > self.high or (self.low == self.high and (self.low_strict or self.high_strict))
        return none and not self.unknown


def interval(test: Test, *, negated: bool = False, unknown: bool = False) -> Interval:
    """The numbers a test allows; ``negated``: those it forbids (a negated test has one bound)."""
    if negated:
        if test.at_least is not None:
            return Interval(high=test.at_least, high_strict=True, unknown=unknown)
        if test.above is not None:
            return Interval(high=test.above, unknown=unknown)
        if test.at_most is not None:
            return Interval(low=test.at_most, low_strict=True, unknown=unknown)
        return Interval(low=-inf if test.below is None else test.below, unknown=unknown)
    low, low_strict = max(
        (-inf if test.at_least is None else test.at_least, False),
        (-inf if test.above is None else test.above, test.above is not None),
    )
    high, loose = min(
        (inf if test.at_most is None else test.at_most, True),
        (inf if test.below is None else test.below, test.below is None),
    )
    return Interval(low, low_strict, high, not loose)


@dataclass(frozen=True, slots=True)
class Clause:
    """One way to satisfy a ``when``. A slot that is not there is not restricted.

    ``ids``: group to the ids on the machine for which all its tests hold (``?``: not known). ``named``: groups of
    which ids are named. ``extent``: slot of a group to the ids for which the tests on that slot hold.
    ``words``: slot to the words allowed. ``numbers``: slot to the interval. ``some``: slot to sets of which one member
    each must be there. ``absent``: slot to values that must not be there. ``equal``: slots that hold one value.
    """

    ids: Mapping[str, frozenset[str]] = field(default_factory=dict)
    named: frozenset[str] = frozenset()
    extent: Mapping[str, frozenset[str]] = field(default_factory=dict)
    words: Mapping[str, frozenset[str]] = field(default_factory=dict)
    numbers: Mapping[str, Interval] = field(default_factory=dict)
    some: Mapping[str, frozenset[frozenset[str]]] = field(default_factory=dict)
    absent: Mapping[str, frozenset[str]] = field(default_factory=dict)
    equal: frozenset[frozenset[str]] = frozenset()
    cautious: bool = False

    def implies(self, other: Clause) -> bool:
        """Whether ``other`` holds wherever this does (false also means: cannot be told)."""
        slots = (*other.words, *other.numbers, *other.some, *other.absent)
        return all(self._follows(slot, other) or self._within(slot, other) for slot in slots) and all(
            any(theirs <= mine for mine in self.equal) for theirs in other.equal
        )

    def _follows(self, slot: str, other: Clause) -> bool:
        """Whether what ``other`` asks of a slot follows from what is asked of that slot here."""
        if slot in other.words and not (slot in self.words and self.words[slot] <= other.words[slot]):
            return False
        if slot in other.numbers and not (slot in self.numbers and self.numbers[slot].within(other.numbers[slot])):
            return False
        if slot in other.absent and not (
            other.absent[slot] <= self.absent.get(slot, frozenset()) and (other.cautious or not self.cautious)
        ):
            return False
        mine = self.some.get(slot, frozenset())
        return all(any(one <= theirs for one in mine) for theirs in other.some.get(slot, ()))

    def _within(self, slot: str, other: Clause) -> bool:
        """Whether it follows from the ids named here: all of them are of that kind."""
        group = _GROUP_OF.get(slot)
        return group in self.named and slot in other.extent and self.ids[group] <= other.extent[slot]

    @property
    def impossible(self) -> str:
        """The group or slot that makes it impossible, or ""."""
        return next(
            (name for name, ids in self.ids.items() if not ids),
            next(
                (name for name, words in self.words.items() if not words),
                next((name for name, span in self.numbers.items() if span.empty), ""),
            ),
        )


class Clauses:
    """Turns conditions into clauses, for one knowledge base."""

    def __init__(self, knowledge: Knowledge) -> None:
        self._things = things(knowledge)
        self._domains = {
            slot.name: frozenset(slot.values if slot.closed else getattr(knowledge, slot.ids_of, ()))
            for slot in SLOTS.values()
            if slot.kind == "one"
        }

    def domain(self, slot: str) -> frozenset[str]:
        """Every word a slot that holds one value can hold."""
        return self._domains[slot]

    def of_rule(self, rule: Rule) -> tuple[Clause, ...]:
        """The clauses of a rule, without the impossible ones; () if there are too many to compare."""
        return tuple(c for c in self.of(rule.when, cautious=rule.cautious) if not c.impossible)

    def of(self, when: AllOf, *, cautious: bool = False) -> tuple[Clause, ...]:
        """One clause for each way through the ``any`` of ``when``; () if there are too many."""
        if size(when)[1] > MAX_CLAUSES:
            return ()
        return tuple(self._clause(way, cautious) for way in expanded(when))

    def _clause(self, parts: Iterable[Test | Not], cautious: bool) -> Clause:
        extent: dict[str, frozenset[str]] = {}
        named: set[str] = set()
        words: dict[str, frozenset[str]] = {}
        numbers: dict[str, Interval] = {}
        some: dict[str, frozenset[frozenset[str]]] = {}
        absent: dict[str, frozenset[str]] = {}
        binds: dict[str, set[str]] = {}
        for part in parts:
            negated = isinstance(part, Not)
            test = part.test if isinstance(part, Not) else part
            slot, loose = test.slot, negated and cautious
            if test.bind:
                binds.setdefault(test.bind, set()).add(slot)
                continue
            if slot in _GROUP_OF:
                found = self._matching(_GROUP_OF[slot], test, negated=negated, unknown=loose)
                extent[slot] = extent.get(slot, found) & found
                if slot == _GROUP_OF[slot] and not negated:
                    named.add(slot)
            if SLOTS[slot].kind == "number":
                span = interval(test, negated=negated, unknown=loose)
                numbers[slot] = numbers[slot].meet(span) if slot in numbers else span
            elif SLOTS[slot].kind == "one":
                allowed = frozenset(test.any_of)
                if negated:
                    allowed = self._domains[slot] - allowed | (frozenset({UNKNOWN}) if loose else frozenset())
                words[slot] = words.get(slot, allowed) & allowed
            elif negated:
                absent[slot] = absent.get(slot, frozenset()) | frozenset(test.any_of)
            else:
                some[slot] = some.get(slot, frozenset()) | {frozenset(test.any_of)}
        ids: dict[str, frozenset[str]] = {}
        for slot, found in extent.items():
            group = _GROUP_OF[slot]
            ids[group] = ids.get(group, found) & found
        equal = frozenset(frozenset(s) for s in binds.values())
        return Clause(ids, frozenset(named), extent, words, numbers, some, absent, equal, cautious)

    def _matching(self, group: str, test: Test, *, negated: bool, unknown: bool) -> frozenset[str]:
        found = self._things[group]
        if not negated:
            return frozenset(i for i, facts in found.items() if _holds(test, facts))
        out = {i for i, facts in found.items() if not _holds(test, facts) and (unknown or _is_known(test.slot, facts))}
        return frozenset(out | {UNKNOWN}) if unknown else frozenset(out)


def implies(a: tuple[Clause, ...], b: tuple[Clause, ...]) -> bool:
    """Whether ``b`` holds wherever ``a`` does: each way of ``a`` is within a way of ``b``. No ways: cannot be told."""
    return bool(a) and bool(b) and all(any(x.implies(y) for y in b) for x in a)
