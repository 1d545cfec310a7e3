"""The plain evaluator: the same conclusions as experta, and why a rule did not fire."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.inference_samples import knowledge, rule, some_facts, some_rules

from lapwise.engine.conclusions import Fact
from lapwise.engine.inference.compile import compile_way, declared
from lapwise.engine.inference.evaluator import PlainRules, explain_rule
from lapwise.engine.inference.experta_import import experta
from lapwise.engine.inference.run import RuleEngine
from lapwise.engine.knowledge.rule_model import AllOf, AnyOf, Not, Then
from lapwise.engine.knowledge.rule_model import Test as Ask
from lapwise.engine.knowledge.ways import ways

STAGES = {"grit": ("polish",), "wet": (), "dry": ("cut", "prepolish"), "slope": (), "soft": (), "other": ()}


@given(rng=st.randoms(use_true_random=False), count=st.integers(1, 12))
@settings(max_examples=80, deadline=None)
def test_it_concludes_what_experta_concludes(rng: random.Random, count: int) -> None:
    base = knowledge(*some_rules(rng, count), causes=STAGES)
    engine = RuleEngine(base)
    for _ in range(3):
        facts = some_facts(rng)
        assert engine.run(facts) == PlainRules(base).run(facts)


@pytest.mark.parametrize("seed", range(10))
def test_it_concludes_what_experta_as_shipped_concludes(seed: int) -> None:
    """Our network and order against experta's own matcher, for rules without ``not`` (its known fault)."""
    rng = random.Random(seed)
    rules = [r for r in some_rules(rng, 40) if not any(way.nots for way in ways(r))]
    fired: dict[str, set[Fact]] = {}

    class Plain(experta.KnowledgeEngine):  # type: ignore[misc]
        def get_rules(self) -> list[object]:
            return [
                compile_way(r, way, lambda rule, on: fired.setdefault(rule.id, set()).update(on))
                for r in rules
                for way in ways(r)
            ]

    plain = Plain()
    seen = 0
    for _ in range(4):
        facts = some_facts(rng)
        fired.clear()
        plain.reset()
        plain.declare(*(declared(f) for f in facts))
        plain.run()
        ours = PlainRules(knowledge(*rules)).run(facts)
        assert {f.rule: set(f.on) for f in ours.trace} == fired
        seen += len(fired)
    assert seen


@given(rng=st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_a_rule_is_explained_as_firing_exactly_if_it_fires(rng: random.Random) -> None:
    base = knowledge(*some_rules(rng, 10))
    facts = some_facts(rng)
    answer = PlainRules(base).run(facts)
    board = [*facts, *(Fact("finding", f) for f in answer.findings)]
    for each in base.rules.values():
        told = explain_rule(each, board)
        assert told.fires is (each.id in {f.rule for f in answer.trace})
        assert not told.fires or not told.unmatched


def test_why_not_tells_unmet_from_unknown() -> None:
    each = rule(
        "r", Ask("lap", ("a",)), Ask("wetness", ("dry",)), Ask("mohs", below=5.0), Not(Ask("carrier", ("oil",)))
    )
    told = explain_rule(each, [Fact("lap", "a"), Fact("mohs", 7.0)])
    assert not told.fires
    assert [c.condition for c in told.matched] == [Ask("lap", ("a",))]
    assert told.matched[0].facts == (Fact("lap", "a"),)
    wetness, mohs, oil = told.unmatched
    assert (wetness.unknown, wetness.facts) == (True, ())
    assert (mohs.unknown, mohs.facts) == (False, (Fact("mohs", 7.0),))
    assert (oil.unknown, oil.facts) == (True, ())


def test_why_not_shows_what_a_not_ran_into() -> None:
    told = explain_rule(rule("r", Not(Ask("carrier", ("oil",)))), [Fact("carrier", "oil")])
    assert told.unmatched[0].facts == (Fact("carrier", "oil"),)
    assert not told.unmatched[0].unknown


def test_why_not_of_an_any() -> None:
    either = AnyOf((AllOf((Ask("lap", ("a",)),)), AllOf((Ask("carrier", ("oil",)), Ask("wetness", ("dry",))))))
    known = explain_rule(rule("r", either), [Fact("lap", "b"), Fact("carrier", "water")])
    assert not known.unmatched[0].unknown
    half = explain_rule(rule("r", either), [Fact("lap", "b"), Fact("carrier", "oil")])
    assert half.unmatched[0].unknown


def test_why_not_of_values_that_must_be_the_same() -> None:
    told = explain_rule(
        rule("r", Ask("lap", bind="x"), Ask("prior_lap", bind="x")), [Fact("lap", "a"), Fact("prior_lap", "b")]
    )
    assert not told.fires
    assert not told.unmatched


def test_a_not_on_a_variable_holds_where_the_list_is_complete_and_empty() -> None:
    """The material is known, so that its list of traits is: it has none, and none is the same as the lap."""
    each = rule("r", Ask("lap", bind="x"), Not(Ask("trait", bind="x")))
    told = explain_rule(each, [Fact("lap", "a"), Fact("material", "b")])
    assert told.fires
    assert not told.unmatched
    unknown = explain_rule(each, [Fact("lap", "a")])
    assert not unknown.fires
    assert [c.unknown for c in unknown.unmatched] == [True]


def test_a_caution_is_explained_with_the_unknown_as_the_dangerous_case() -> None:
    told = explain_rule(rule("r", Not(Ask("wetness", ("wet",))), then=Then(cautions=("eyes",))), [])
    assert told.fires
    assert told.matched[0].holds
