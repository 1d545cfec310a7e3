"""The same rules in plain Python: answers WHY NOT, and stands beside experta as its check."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from lapwise.engine.conclusions import Conclusions, Fact, Value
from lapwise.engine.inference.conclude import conclude, fact_order, firings_of
from lapwise.engine.inference.normal import Conjunct, accepts, conditions_of, known_through, ways
from lapwise.engine.knowledge.model import AnyOf, Condition, Knowledge, Not, Rule, Test


class WorkingMemory:
    """Facts by slot, in a fixed order."""

    def __init__(self, facts: Iterable[Fact] = ()) -> None:
        self._by_slot: dict[str, dict[Value, Fact]] = {}
        for fact in sorted(set(facts), key=fact_order):
            self.add(fact)

    def add(self, fact: Fact) -> bool:
        """Put a fact down; true if it is new."""
        slot = self._by_slot.setdefault(fact.slot, {})
        return slot.setdefault(fact.value, fact) is fact

    def on(self, slot: str) -> list[Fact]:
        """The facts on ``slot``."""
        return list(self._by_slot.get(slot, {}).values())

    def meeting(self, test: Test) -> list[Fact]:
        """The facts that meet ``test`` taken alone (a variable is met by any value)."""
        accept = accepts(test)
        return [f for f in self.on(test.slot) if accept(f.value)]


def support(way: Conjunct, board: WorkingMemory, cautious: bool) -> set[Fact] | None:
    """The facts of all matches of ``way``, or None if it has none.

    ``cautious``: an unknown satisfies a ``not``. What makes a ``not`` known counts as support only if it stands
    on the same slot.
    """
    found: set[Fact] = set()
    allowed: dict[str, set[Value]] = {}
    for test in way.tests:
        values = {f.value for f in board.meeting(test)}
        if not values:
            return None
        if test.bind:
            allowed[test.bind] = values & allowed.get(test.bind, values)
    for test in way.nots:
        if test.bind in allowed and test.bind:
            allowed[test.bind] = allowed[test.bind] - {f.value for f in board.on(test.slot)}
        elif board.meeting(test):
            return None
        through = known_through(test.slot)
        if cautious:
            continue
        if through is None or not board.on(through):
            return None
        if through == test.slot:
            found.update(board.on(test.slot))
    if not all(allowed.values()):
        return None
    for test in way.tests:
        found.update(f for f in board.meeting(test) if not test.bind or f.value in allowed[test.bind])
    return found


def evaluate(knowledge: Knowledge, facts: Iterable[Fact]) -> Conclusions:
    """The conclusions from raw ``facts``, without experta: tier by tier, every rule once."""
    given = tuple(facts)
    board = WorkingMemory(given)
    fired: dict[str, set[Fact]] = {}
    for rule in sorted(knowledge.rules.values(), key=lambda r: (r.tier, r.id)):
        matches = [m for way in ways(rule) if (m := support(way, board, rule.cautious)) is not None]
        if matches:
            fired[rule.id] = set().union(*matches)
            for name in rule.then.findings:
                board.add(Fact("finding", name))
    return conclude(knowledge, firings_of(knowledge, fired), given)


# --- why not -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Checked:
    """One condition of a rule against a case. ``facts``: those that meet it, else those that stand in its place.

    ``unknown``: it fails only because nothing is known on what it asks.
    """

    condition: Condition
    holds: bool
    unknown: bool
    facts: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class RuleCheck:
    """A rule against a case: does it fire, and which of its top-level conditions hold.

    ``clash``: every condition holds by itself, but the values that must be the same differ.
    """

    rule: Rule
    fires: bool
    matched: tuple[Checked, ...]
    unmatched: tuple[Checked, ...]
    clash: bool


def explain_rule(rule: Rule, facts: Iterable[Fact]) -> RuleCheck:
    """Which conditions of ``rule`` hold on ``facts`` (raw facts and findings) and which do not."""
    board = WorkingMemory(facts)
    fires = any(support(way, board, rule.cautious) is not None for way in ways(rule))
    checked = [_check(c, board, rule.cautious) for c in conditions_of(rule.when)]
    matched = tuple(c for c in checked if c.holds)
    unmatched = tuple(c for c in checked if not c.holds)
    return RuleCheck(rule, fires, matched, unmatched, clash=not fires and not unmatched)


def _check(condition: Condition, board: WorkingMemory, cautious: bool) -> Checked:
    if isinstance(condition, Test):
        met = board.meeting(condition)
        there = board.on(condition.slot)
        return Checked(condition, bool(met), not there, tuple(met or there))
    if isinstance(condition, Not):
        return _check_not(condition, board, cautious)
    is_any = isinstance(condition, AnyOf)
    inner = condition.options if isinstance(condition, AnyOf) else condition.parts
    parts = [_check(part, board, cautious) for part in inner]
    holds = any(p.holds for p in parts) if is_any else all(p.holds for p in parts)
    failing = [p for p in parts if not p.holds]
    # an "any" could still come true if one option is unknown, an "all" only if whatever fails is unknown
    unknown = not holds and (any(p.unknown for p in failing) if is_any else all(p.unknown for p in failing))
    shown = [f for p in parts if p.holds == holds for f in p.facts]
    return Checked(condition, holds, unknown, tuple(sorted(set(shown), key=fact_order)))


def _check_not(condition: Not, board: WorkingMemory, cautious: bool) -> Checked:
    test = condition.test
    there = board.on(test.slot)
    if not test.bind and (met := board.meeting(test)):  # what a variable may not equal hangs on the other conditions
        return Checked(condition, False, False, tuple(met))
    through = known_through(test.slot)
    known = through is not None and bool(board.on(through))
    return Checked(condition, known or cautious, not known and not cautious, tuple(there))
