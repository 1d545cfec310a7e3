"""The same rules in plain Python: for what is only supposed, for WHY NOT, and as the check of experta."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Set
from dataclasses import dataclass

from lapwise.engine.conclusions import Conclusions, Fact, Value
from lapwise.engine.inference.conclude import conclude, fact_order, firings_of
from lapwise.engine.inference.normal import accepts, known_through
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.rule_model import AnyOf, Condition, Not, Rule, Test
from lapwise.engine.knowledge.ways import ways


class WorkingMemory:
    """Facts by slot, in a fixed order."""

    def __init__(self, facts: Iterable[Fact] = ()) -> None:
        self._by_slot: dict[str, dict[Value, Fact]] = {}
        for fact in sorted(set(facts), key=fact_order):
            self.add(fact)

    def add(self, fact: Fact) -> None:
        """Put a fact down."""
        self._by_slot.setdefault(fact.slot, {}).setdefault(fact.value, fact)

    def on(self, slot: str) -> list[Fact]:
        """The facts on ``slot``."""
        return list(self._by_slot.get(slot, {}).values())

    def meeting(self, test: Test) -> list[Fact]:
        """The facts that meet ``test`` taken alone (a variable is met by any value)."""
        return self.accepted(test.slot, accepts(test))

    def accepted(self, slot: str, accept: Callable[[Value], bool]) -> list[Fact]:
        """The facts on ``slot`` whose value is accepted."""
        return [fact for value, fact in self._by_slot.get(slot, {}).items() if accept(value)]

    @property
    def slots(self) -> Set[str]:
        """The slots on which something stands, by now."""
        return self._by_slot.keys()


@dataclass(frozen=True, slots=True)
class _Ask:
    """A test of one slot, ready to be put to a working memory. ``through``: what makes a ``not`` of it known."""

    slot: str
    accept: Callable[[Value], bool]
    bind: str
    through: str | None

    @classmethod
    def of(cls, test: Test) -> _Ask:
        return cls(test.slot, accepts(test), test.bind, known_through(test.slot))


@dataclass(frozen=True, slots=True)
class _Way:
    """One way of meeting a rule. ``slots``: those of its tests."""

    tests: tuple[_Ask, ...]
    nots: tuple[_Ask, ...]
    slots: frozenset[str]

    def support(self, board: WorkingMemory, cautious: bool) -> set[Fact] | None:
        """The facts of all its matches, or None if it has none. Something must stand on each of its ``slots``.

        ``cautious``: an unknown satisfies a ``not``. What makes a ``not`` known counts as support only if it stands
        on the same slot.
        """
        found: list[tuple[_Ask, list[Fact]]] = []
        allowed: dict[str, set[Value]] = {}
        for test in self.tests:
            met = board.accepted(test.slot, test.accept)
            if not met:
                return None
            found.append((test, met))
            if test.bind:
                values = {f.value for f in met}
                allowed[test.bind] = values & allowed.get(test.bind, values)
        out: set[Fact] = set()
        for test in self.nots:
            if test.bind in allowed:
                allowed[test.bind] = allowed[test.bind] - {f.value for f in board.on(test.slot)}
            elif board.accepted(test.slot, test.accept):
                return None
            if cautious:
                continue
            if test.through is None or not board.on(test.through):
                return None
            if test.through == test.slot:
                out.update(board.on(test.slot))
        if not all(allowed.values()):
            return None
        for test, met in found:
            out.update(f for f in met if not test.bind or f.value in allowed[test.bind])
        return out


class RuleTest:
    """A rule made ready to be put to many working memories."""

    def __init__(self, rule: Rule) -> None:
        self.rule = rule
        self._cautious = rule.cautious
        self._ways = tuple(
            _Way(tuple(map(_Ask.of, way.tests)), tuple(map(_Ask.of, way.nots)), frozenset(t.slot for t in way.tests))
            for way in ways(rule)
        )
        self.slots = frozenset(ask.slot for way in self._ways for ask in (*way.tests, *way.nots))
        """All slots it speaks of."""

    def fires(self, board: WorkingMemory) -> bool:
        """Whether it fires on the board."""
        return self.support(board) is not None

    def support(self, board: WorkingMemory) -> set[Fact] | None:
        """The facts of all matches, or None if it does not fire."""
        out: set[Fact] | None = None
        for way in self._ways:
            if way.slots <= board.slots and (match := way.support(board, self._cautious)) is not None:
                out = match if out is None else out | match
        return out


class PlainRules:
    """Runs the rules of a knowledge base on the facts of a case, as the rule engine does, but keeps nothing between
    two runs: for one question beside the case, or for rules that are only tried out. Threads may share it."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        ordered = sorted(knowledge.rules.values(), key=lambda r: (r.tier, r.id))
        self.rules = {rule.id: RuleTest(rule) for rule in ordered}

    def run(self, facts: Iterable[Fact]) -> Conclusions:
        """The conclusions from raw ``facts``, tier by tier, every rule once."""
        given = tuple(facts)
        board = WorkingMemory(given)
        fired: dict[str, set[Fact]] = {}
        for name, test in self.rules.items():
            match = test.support(board)
            if match is not None:
                fired[name] = match
                for finding in test.rule.then.findings:
                    board.add(Fact("finding", finding))
        return conclude(self.knowledge, firings_of(self.knowledge, fired), given)


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

    If it does not and none is unmatched, the values that must be the same differ.
    """

    rule: Rule
    fires: bool
    matched: tuple[Checked, ...]
    unmatched: tuple[Checked, ...]


def explain_rule(rule: Rule, facts: Iterable[Fact]) -> RuleCheck:
    """Which conditions of ``rule`` hold on ``facts`` (raw facts and findings) and which do not."""
    board = WorkingMemory(facts)
    fires = RuleTest(rule).fires(board)
    checked = [_check(c, board, rule.cautious) for c in rule.when.parts]
    matched = tuple(c for c in checked if c.holds)
    unmatched = tuple(c for c in checked if not c.holds)
    return RuleCheck(rule, fires, matched, unmatched)


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
