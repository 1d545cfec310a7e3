"""Checks that compare rules with each other: redundant, subsumed and conflicting ones."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from lapwise.engine.checks.atoms import OVERRULED, Atom, atoms, opposed
from lapwise.engine.checks.clauses import Clause, Clauses, implies
from lapwise.engine.checks.model import Fault, check, fault
from lapwise.engine.knowledge.model import MEMORY, PRACTICE, Knowledge
from lapwise.engine.knowledge.rule_model import Rule


class _Pairs:
    """Rules with their clauses and conclusions, worked out once; compares two of them."""

    def __init__(self, knowledge: Knowledge) -> None:
        clauses = Clauses(knowledge)
        self.rules = tuple(knowledge.rules.values())
        self.clauses: dict[str, tuple[Clause, ...]] = {r.id: clauses.of_rule(r) for r in self.rules}
        self.atoms: dict[str, frozenset[Atom]] = {r.id: atoms(r) for r in self.rules}

    def implies(self, a: Rule, b: Rule) -> bool:
        """Whether ``b`` fires wherever ``a`` does."""
        return implies(self.clauses[a.id], self.clauses[b.id])

    def equal(self, a: Rule, b: Rule) -> bool:
        """Whether both fire on the same cases."""
        return self.implies(a, b) and self.implies(b, a)

    def sharing(self) -> Iterator[tuple[Rule, Rule]]:
        """Pairs of rules that share a conclusion."""
        return (pair for pair in self.speaking_of_the_same() if self.atoms[pair[0].id] & self.atoms[pair[1].id])

    def speaking_of_the_same(self) -> Iterator[tuple[Rule, Rule]]:
        """Pairs of rules that conclude something, whatever it is, about the same thing; each pair once, in order."""
        about: dict[str, list[int]] = {}
        for number, rule in enumerate(self.rules):
            for name in sorted({name for _, name, _ in self.atoms[rule.id]}):
                about.setdefault(name, []).append(number)
        found = {pair for numbers in about.values() for pair in combinations(numbers, 2)}
        return ((self.rules[i], self.rules[j]) for i, j in sorted(found))


@check("redundant-rules", "error", "two rules say the same under the same conditions")
def redundant_rules(knowledge: Knowledge) -> Iterator[Fault]:
    """Two rules that fire on the same cases and conclude the same."""
    pairs = _Pairs(knowledge)
    for a, b in pairs.sharing():
        if pairs.atoms[a.id] == pairs.atoms[b.id] and pairs.equal(a, b):
            yield fault(b.id, b.place, f"says the same as the rule '{a.id}', under the same conditions")


@check("subsumed-rules", "error", "a rule concludes nothing that a more general rule does not conclude already")
def subsumed_rules(knowledge: Knowledge) -> Iterator[Fault]:
    """A special rule whose conclusions a more general one already draws."""
    pairs = _Pairs(knowledge)
    for one, two in pairs.sharing():
        for a, b in ((one, two), (two, one)):
            covered = pairs.atoms[a.id] <= pairs.atoms[b.id]
            same = pairs.atoms[a.id] == pairs.atoms[b.id]
            if covered and pairs.implies(a, b) and not (same and pairs.implies(b, a)):
                what = f"adds nothing: wherever it fires, the more general rule '{b.id}' concludes it already"
                yield fault(a.id, a.place, what)
                break


@check("conflicting-rules", "error", "rules that fire together conclude the opposite")
def conflicting_rules(knowledge: Knowledge) -> Iterator[Fault]:
    """Conclusions that cannot both be meant, in one rule or in two that fire together."""
    pairs = _Pairs(knowledge)
    for rule in pairs.rules:
        for first, second, about in opposed(pairs.atoms[rule.id], pairs.atoms[rule.id]):
            if first < second:
                what = f"says both '{first}' and '{second}' of the same thing"
                yield fault(rule.id, rule.place, what, about)
    for one, two in pairs.speaking_of_the_same():
        against = opposed(pairs.atoms[one.id], pairs.atoms[two.id])
        if not against:
            continue
        same = pairs.equal(one, two)
        for first, second, about in against:
            if same and not _disagree(one, two):
                what = f"says '{second}' where the rule '{one.id}' says '{first}' under the same conditions"
                yield fault(two.id, two.place, what, about)
            elif (first, second) in OVERRULED and not same and pairs.implies(one, two):
                yield _overruled(one, two, first, second, about)
            elif (second, first) in OVERRULED and not same and pairs.implies(two, one):
                yield _overruled(two, one, second, first, about)


def _overruled(special: Rule, general: Rule, said: str, over: str, about: str) -> Fault:
    what = f"says '{said}' but never with effect: the more general rule '{general.id}' says '{over}'"
    return fault(special.id, special.place, what, about)


def _disagree(a: Rule, b: Rule) -> bool:
    """Two published sources that differ: both stand, and the advice says that they disagree."""
    unnamed = {PRACTICE, MEMORY, ""}
    return a.source != b.source and a.source not in unnamed and b.source not in unnamed
