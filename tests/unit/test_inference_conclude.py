"""What the rules that fired say: weights, what is ruled out, what no cause explains."""

from __future__ import annotations

import math

import pytest
from tests.unit.inference_samples import CAUSES, SCALES, knowledge, rule

from lapwise.engine.conclusions import Fact, Favour, Provenance, Suggestion, Veto
from lapwise.engine.inference import PlainRules
from lapwise.engine.knowledge.rule_model import Not, Then
from lapwise.engine.knowledge.rule_model import Test as Ask

A_SAYS = {"a": {"grit": "usually", "wet": "never"}}
LOW = math.log(SCALES.unexplained / SCALES.background)


def test_a_symptom_weighs_on_every_cause_standing() -> None:
    answer = PlainRules(knowledge(says=A_SAYS)).run([Fact("symptom", "a")])
    weights = {e.cause: e.log_likelihood_ratio for e in answer.evidence}
    assert set(weights) == set(CAUSES)
    assert weights["grit"] == pytest.approx(math.log(0.8 / 0.15))
    assert weights["wet"] == pytest.approx(math.log(0.02 / 0.15))
    assert weights["dry"] == pytest.approx(LOW)
    assert {e.finding for e in answer.evidence} == {"symptom: a"}
    assert answer.unexplained == ()
    said = {e.cause: e.said for e in answer.evidence}
    assert said["grit"] == Provenance("", "Made up.", "practice")
    assert said["dry"] == Provenance("", "This hardly ever shows as “A”.", "practice")


def test_a_symptom_is_unexplained_when_all_that_make_it_are_ruled_out() -> None:
    out = rule("out", Ask("lap", ("b",)), then=Then(rules_out=("grit", "other")))
    answer = PlainRules(knowledge(out, says=A_SAYS)).run([Fact("symptom", "a"), Fact("lap", "b")])
    assert answer.unexplained == ("a",)
    assert [r.cause for r in answer.ruled_out] == ["grit"]
    assert "grit" not in {e.cause for e in answer.evidence}


def test_a_symptom_without_a_table_is_unexplained_and_counts_against_every_cause() -> None:
    answer = PlainRules(knowledge(says=A_SAYS)).run([Fact("symptom", "b")])
    assert answer.unexplained == ("b",)
    assert {(e.cause, round(e.log_likelihood_ratio, 12)) for e in answer.evidence} == {
        (c, round(LOW, 12)) for c in CAUSES
    }
    assert {e.said.rule for e in answer.evidence} == {""}


def test_a_cause_is_ruled_out_at_a_stage_it_does_not_belong_to() -> None:
    stages = {"grit": ("polish",), "wet": (), "dry": ("cut", "prepolish"), "other": ("cut",)}
    base = knowledge(causes=stages)
    (gone,) = PlainRules(base).run([Fact("stage", "polish")]).ruled_out
    assert (gone.cause, gone.said.rule) == ("dry", "")
    assert gone.said.because == "This is seen only when cutting or pre-polishing."
    assert PlainRules(base).run([]).ruled_out == ()


def test_evidence_for_and_against_has_the_strength_of_its_word() -> None:
    said = rule(
        "r",
        Ask("lap", ("a",)),
        Ask("mohs", above=6.0),
        then=Then(evidence_for={"grit": "strongly"}, evidence_against={"wet": "slightly"}),
    )
    answer = PlainRules(knowledge(said)).run([Fact("lap", "a"), Fact("mohs", 7.5)])
    assert [(e.cause, e.log_likelihood_ratio, e.finding) for e in answer.evidence] == [
        ("grit", 2.0, "lap: a; mohs: 7.5"),
        ("wet", -0.4, "lap: a; mohs: 7.5"),
    ]


def test_evidence_that_rests_on_absence_says_what_is_absent() -> None:
    said = rule("r", Not(Ask("trait", ("b", "c"))), then=Then(evidence_for={"grit": "slightly"}))
    (item,) = PlainRules(knowledge(said)).run([Fact("material", "a")]).evidence
    assert item.finding == "trait: not b or c"


def test_the_rest_of_what_a_rule_may_say() -> None:
    then = Then(
        vetoes=("press",),
        not_applicable=("film",),
        favours={"clean": "moderately"},
        disfavours={"wait": "slightly"},
        looks=("loupe",),
        cautions=("eyes",),
    )
    said = Provenance("r", "Made up.", "practice")
    answer = PlainRules(knowledge(rule("r", Ask("lap", ("a",)), then=then))).run([Fact("lap", "a")])
    assert answer.vetoes == (Veto("press", True, said), Veto("film", False, said))
    assert answer.favours == (Favour("clean", 1.0, said), Favour("wait", -0.4, said))
    assert answer.looks == (Suggestion("loupe", said),)
    assert answer.cautions == (Suggestion("eyes", said),)


def test_everything_stands_in_the_order_of_the_rule_ids() -> None:
    then = Then(evidence_for={"wet": "slightly", "grit": "slightly"}, looks=("loupe",))
    base = knowledge(*(rule(n, Ask("lap", ("a",)), then=then) for n in ("b", "c", "a")))
    answer = PlainRules(base).run([Fact("lap", "a")])
    assert [(e.said.rule, e.cause) for e in answer.evidence] == [(r, c) for r in "abc" for c in ("grit", "wet")]
    assert [p.said.rule for p in answer.looks] == ["a", "b", "c"]


def test_what_comes_first_is_named_with_its_rule_and_a_look_among_it_is_offered_too() -> None:
    base = knowledge(rule("dry", Ask("lap", ("b",)), then=Then(first=("wetter",), looks_first=("ink",))))
    answer = PlainRules(base).run([Fact("lap", "b")])
    assert [(s.id, s.said.rule) for s in answer.first] == [("ink", "dry"), ("wetter", "dry")]
    assert [s.id for s in answer.looks] == ["ink"]
