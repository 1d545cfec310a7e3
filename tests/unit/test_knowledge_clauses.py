"""Rules compared by their clauses, against the plain evaluator on thousands of random cases."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from types import MappingProxyType

import pytest
from tests.unit.knowledge_samples import load_sample

from lapwise.engine.case import Case
from lapwise.engine.checks.clauses import Clauses, Interval, implies, interval
from lapwise.engine.facts import facts_of
from lapwise.engine.inference.evaluator import explain_rule
from lapwise.engine.knowledge import rule_model
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.rule_model import AllOf, AnyOf, Not, Rule, Then

WORDS = {
    "material": ("glimmer", "blue-glimmer", "sky-glimmer", "dullite"),
    "trait": ("glassy-kind", "flawed-kind"),
    "lap": ("soft-disc", "hard-disc"),
    "lap_trait": ("gentle", "stiff"),
    "compound_kind": ("oxide", "carbide"),
    "wetness": ("dry", "damp", "wet", "flooded"),
    "lap_shared": ("yes", "no"),
    "symptom": ("lines", "fog"),
}
NUMBERS = {"mohs": (4.0, 6.5, 7.0), "lap_hardness": (2.0, 8.0)}
OPEN = ("symptom",)


def a_test(chance: random.Random) -> rule_model.Test:
    if chance.random() < 0.25:
        slot = chance.choice(tuple(NUMBERS))
        bound = chance.choice(("at_least", "above", "at_most", "below"))
        return rule_model.Test(slot, **{bound: chance.choice(NUMBERS[slot])})
    slot = chance.choice(tuple(WORDS))
    return rule_model.Test(slot, any_of=tuple(chance.sample(WORDS[slot], chance.choice((1, 1, 2)))))


def a_part(chance: random.Random) -> rule_model.Test | Not:
    test = a_test(chance)
    return Not(test) if chance.random() < 0.3 and test.slot not in OPEN else test


def a_rule(chance: random.Random, number: int) -> Rule:
    parts: list[rule_model.Test | Not | AnyOf] = [a_part(chance) for _ in range(chance.choice((1, 1, 2, 3)))]
    if chance.random() < 0.3:
        options = tuple(AllOf(tuple(a_part(chance) for _ in range(chance.choice((1, 2))))) for _ in range(2))
        parts.append(AnyOf(options))
    then = Then(vetoes=("wash",)) if chance.random() < 0.5 else Then(looks=("peek",))
    return Rule(f"r{number}", "t", AllOf(tuple(parts)), then, "so", "practice", "", 0, Place("f", 1))


def a_case(chance: random.Random) -> Case:
    def some(*values: str) -> str | None:
        return chance.choice((None, *values))

    facts = {k: v for k in ("wetness", "lap_shared") if (v := some(*WORDS[k]))}
    return Case(
        material=some(*WORDS["material"]),
        lap=some(*WORDS["lap"]),
        compound=some("red-powder", "grey-grit"),
        symptoms=tuple(s for s in WORDS["symptom"] if chance.random() < 0.4),
        facts=MappingProxyType(facts),
    )


@pytest.fixture(scope="module")
def knowledge(tmp_path_factory: pytest.TempPathFactory) -> Knowledge:
    return load_sample(tmp_path_factory.mktemp("sample")).knowledge


def test_what_implies_never_fires_alone(knowledge: Knowledge) -> None:
    chance = random.Random(7)
    clauses = Clauses(knowledge)
    rules = [a_rule(chance, i) for i in range(170)]
    ways = {r.id: clauses.of_rule(r) for r in rules}
    cases = [facts_of(a_case(chance), knowledge) for _ in range(250)]
    fires = {r.id: {i for i, facts in enumerate(cases) if explain_rule(r, facts).fires} for r in rules}
    pairs = [(a, b) for a, b in itertools.permutations(rules, 2) if implies(ways[a.id], ways[b.id])]
    assert len(pairs) > 100, "the test has something to say"
    wrong = [(a, b) for a, b in pairs if not fires[a.id] <= fires[b.id]]
    assert wrong == []
    # And it misses little: of the pairs no case tells apart, most are known to imply.
    seen = [(a, b) for a, b in itertools.permutations(rules, 2) if fires[a.id] and fires[a.id] <= fires[b.id]]
    assert len(pairs) > 0.25 * len(seen)


def test_impossible_rules_never_fire(knowledge: Knowledge) -> None:
    chance = random.Random(8)
    clauses = Clauses(knowledge)
    rules = [a_rule(chance, i) for i in range(250)]
    dead = [r for r in rules if all(way.impossible for way in clauses.of(r.when, cautious=r.cautious))]
    assert len(dead) > 20
    cases = [facts_of(a_case(chance), knowledge) for _ in range(150)]
    assert not [r for r in dead for facts in cases if explain_rule(r, facts).fires]


@pytest.mark.parametrize("bound", ["at_least", "above", "at_most", "below"])
def test_intervals(bound: str) -> None:
    test = rule_model.Test("mohs", **{bound: 6.0})
    span, rest = interval(test), interval(test, negated=True)
    for value in (5.0, 6.0, 7.0):
        holds = {"at_least": value >= 6, "above": value > 6, "at_most": value <= 6, "below": value < 6}[bound]
        point = Interval(value, False, value, False)
        assert point.within(span) is holds
        assert point.within(rest) is not holds
    assert span.meet(rest).empty
    assert not replace(span.meet(rest), unknown=True).empty


def test_too_many_ways_are_not_compared(knowledge: Knowledge) -> None:
    either = AnyOf(tuple(AllOf((rule_model.Test("wetness", any_of=(w,)),)) for w in WORDS["wetness"]))
    assert Clauses(knowledge).of(AllOf((either,) * 5)) == ()
    assert not implies((), ())
