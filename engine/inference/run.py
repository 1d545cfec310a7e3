"""The rule engine of a process: facts in, conclusions out."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from lapwise.engine.conclusions import Conclusions, Fact, Value
from lapwise.engine.inference.agenda import FixedOrder
from lapwise.engine.inference.compile import KNOWN_BY, Known, compile_way, declared
from lapwise.engine.inference.conclude import conclude, fact_order, firings_of
from lapwise.engine.inference.experta_import import experta
from lapwise.engine.inference.matcher import GrowingMatcher
from lapwise.engine.inference.normal import accepts
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.rule_model import Rule, Test
from lapwise.engine.knowledge.ways import Conjunct, ways
from lapwise.engine.slots import SLOTS


class _Bench(experta.KnowledgeEngine):  # type: ignore[misc]
    """experta's engine with our order of firing and our network; its rules are added from outside."""

    __matcher__ = GrowingMatcher
    __strategy__ = FixedOrder

    def get_rules(self) -> list[Any]:
        return []

    def get_deffacts(self) -> list[Any]:
        return [self._declare_initial_fact]


@dataclass(slots=True)
class _Candidate:
    """A way of meeting a rule, what its tests ask of which slot, and whether the network has it."""

    rule: Rule
    way: Conjunct
    asks: tuple[tuple[str, Callable[[Value], bool]], ...]
    built: bool = False

    @classmethod
    def of(cls, rule: Rule, way: Conjunct) -> _Candidate:
        return cls(rule, way, tuple((test.slot, accepts(test)) for test in way.tests))


class RuleEngine:
    """Runs the rules of a knowledge base on the facts of a case.

    Make one for a process and keep it: experta never frees an engine. Rules enter its network when facts first come
    up that they could fire on, and stay there; so a process that answers one case builds only what that case
    needs. Threads may share it; one runs at a time.
    """

    def __init__(self, knowledge: Knowledge, *, build_all: bool = False) -> None:
        """``build_all``: put every rule into the network at once (for tests and measurements)."""
        self.knowledge = knowledge
        self._lock = threading.Lock()
        ordered = sorted(knowledge.rules.values(), key=lambda r: (r.tier, r.id))
        self._candidates = [_Candidate.of(rule, way) for rule in ordered for way in ways(rule)]
        self._nots: dict[str, list[Test]] = {}
        for candidate in self._candidates:
            if candidate.way.nots:
                self._nots.setdefault(candidate.rule.id, []).extend(candidate.way.nots)
        self._fired: dict[str, set[Fact]] = {}
        self._given: frozenset[Fact] | None = None
        self._last: Conclusions | None = None
        self._engine = _Bench()
        if build_all:
            for candidate in self._candidates:
                self._build(candidate)

    def run(self, facts: Iterable[Fact]) -> Conclusions:
        """The conclusions from raw ``facts``, whatever their order. Raises ``ValueError`` for a fact that is none.

        A case that only grew, by nothing that a ``not`` of a fired rule denies, goes on from where the last one
        ended; any other starts from the beginning. If a run fails, the next one starts from the beginning.
        """
        given = frozenset(_checked(f) for f in facts)
        with self._lock:
            if given == self._given and self._last is not None:
                return self._last
            before, self._given = self._given, None
            try:
                self._infer(given, before)
            finally:
                self._engine.running = False
            firings = firings_of(self.knowledge, self._fired)
            self._last = conclude(self.knowledge, firings, given)
            self._given = given
            return self._last

    def _infer(self, given: frozenset[Fact], before: frozenset[Fact] | None) -> None:
        wanted = self._wanted(given)
        added = given - before if before is not None and before < given else None
        if wanted or added is None or self._upsets(added):
            for candidate in wanted:
                self._build(candidate)
            self._engine.reset()
            self._fired.clear()
            added = given
        ordered = sorted(added, key=fact_order)
        known = [Known(v=slot) for slot in sorted({f.slot for f in added} & KNOWN_BY)]
        self._engine.declare(*known, *(declared(f) for f in ordered))
        self._engine.run()

    def _build(self, candidate: _Candidate) -> None:
        candidate.built = True
        compiled = compile_way(candidate.rule, candidate.way, self._record)
        if compiled is not None:
            self._engine.matcher.add_rule(compiled)

    def _record(self, rule: Rule, facts: list[Fact]) -> None:
        self._fired.setdefault(rule.id, set()).update(facts)

    def _wanted(self, given: frozenset[Fact]) -> list[_Candidate]:
        """Ways not built yet that could be met: each of their tests alone is met by a fact or a possible finding."""
        values: dict[str, list[Value]] = {"finding": []}
        for fact in given:
            values.setdefault(fact.slot, []).append(fact.value)
        possible = values["finding"]
        wanted = []
        for candidate in self._candidates:  # by tier: a finding comes before the rules that need it
            for slot, accept in candidate.asks:
                if not any(map(accept, values.get(slot, ()))):
                    break
            else:
                possible.extend(candidate.rule.then.findings)
                if not candidate.built:
                    wanted.append(candidate)
        return wanted

    def _upsets(self, added: frozenset[Fact]) -> bool:
        """True if one of ``added`` is what a ``not`` of a rule that fired denies: it may hold no longer."""
        denied = [t for rule in self._fired for t in self._nots.get(rule, ())]
        return any(t.slot == f.slot and accepts(t)(f.value) for f in added for t in denied)


def _checked(fact: Fact) -> Fact:
    if fact.slot not in SLOTS or fact.slot == "finding":
        raise ValueError(f"no raw fact has the slot {fact.slot!r}")
    value = fact.value
    # a truth value equals 1 or 0 in a pattern, and would match what was never meant
    if isinstance(value, bool) or (SLOTS[fact.slot].kind == "number") != isinstance(value, int | float):
        raise ValueError(f"{fact.slot} cannot hold {value!r}")
    return Fact(fact.slot, float(value)) if isinstance(value, int) else fact
