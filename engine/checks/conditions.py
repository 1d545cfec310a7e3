"""Checks on the conditions of rules: unnecessary ones, and ones that can never hold together."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from lapwise.engine.checks.atoms import Atom, atoms
from lapwise.engine.checks.clauses import Clause, Clauses, implies
from lapwise.engine.checks.model import Fault, check, fault
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.rule_model import AllOf, AnyOf, Rule, Test
from lapwise.engine.knowledge.rule_words import condition_words
from lapwise.engine.slots import SLOTS


@check("impossible-conditions", "error", "the conditions of a rule can never hold together")
def impossible_conditions(knowledge: Knowledge) -> Iterator[Fault]:
    """A rule, or a choice in it, that can never hold for anything known."""
    clauses = Clauses(knowledge)
    for rule in knowledge.rules.values():
        ways = clauses.of(rule.when, cautious=rule.cautious)
        if bad := next((way.impossible for way in ways if way.impossible), ""):
            all_bad = all(way.impossible for way in ways)
            what = "can never fire" if all_bad else "has a choice under 'any' that can never hold"
            yield fault(rule.id, rule.place, f"{what}: nothing known fits what it asks of the {bad}")


@check("unnecessary-conditions", "error", "a condition changes nothing and can be left out")
def unnecessary_conditions(knowledge: Knowledge) -> Iterator[Fault]:
    """A condition that others of the same rule imply, or that two rules together make pointless."""
    clauses = Clauses(knowledge)
    for rule in knowledge.rules.values():
        for what, part in _within(rule, clauses):
            yield fault(rule.id, rule.place, what, part)
    yield from _split(knowledge, clauses)


def _split(knowledge: Knowledge, clauses: Clauses) -> Iterator[Fault]:
    """Rules that differ in one word slot only and together allow all its words."""
    alike: dict[frozenset[Atom], list[Rule]] = {}
    for rule in knowledge.rules.values():
        alike.setdefault(atoms(rule), []).append(rule)
    for a, b in (pair for group in alike.values() for pair in combinations(group, 2)):
        if len(a.when.parts) != len(b.when.parts):
            continue
        rest_a, rest_b = set(a.when.parts) - set(b.when.parts), set(b.when.parts) - set(a.when.parts)
        if len(rest_a) != 1 or len(rest_b) != 1:
            continue
        one, two = rest_a.pop(), rest_b.pop()
        if not (isinstance(one, Test) and isinstance(two, Test) and one.slot == two.slot and one.any_of):
            continue
        if SLOTS[one.slot].kind == "one" and set(one.any_of) | set(two.any_of) >= clauses.domain(one.slot):
            what = f"with the rule '{a.id}', which concludes the same, it covers every value: write one rule"
            yield fault(b.id, b.place, what, condition_words(two))


def _within(rule: Rule, clauses: Clauses) -> Iterator[tuple[str, str]]:
    parts = rule.when.parts
    for i, part in enumerate(parts):
        rest = AllOf(parts[:i] + parts[i + 1 :])
        if isinstance(part, Test) and part.bind:
            if part in rest.parts:
                yield "a condition is there twice", condition_words(part)
                return
            continue
        if part in rest.parts:
            yield "a condition is there twice", condition_words(part)
            return
        alone = clauses.of(AllOf((part,)), cautious=rule.cautious)
        if rest.parts and implies(_possible(clauses.of(rest, cautious=rule.cautious)), alone):
            yield "a condition follows from the others and can be left out", condition_words(part)
            return
        if isinstance(part, AnyOf):
            ways = [clauses.of(option, cautious=rule.cautious) for option in part.options]
            for j, k in ((j, k) for j in range(len(ways)) for k in range(len(ways)) if j != k):
                if implies(_possible(ways[j]), ways[k]) and (j > k or not implies(_possible(ways[k]), ways[j])):
                    yield "a choice under 'any' is already within another", condition_words(part.options[j])
                    return


def _possible(ways: tuple[Clause, ...]) -> tuple[Clause, ...]:
    return tuple(way for way in ways if not way.impossible)
