"""Belief: the balance of weights, what was done as evidence, and what must not matter."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.inference_samples import CAUSES, HERE, SCALES, knowledge, some_facts, some_rules

from lapwise.engine.belief import Observation, look_row, look_table, looked, posterior, priors, tried
from lapwise.engine.conclusions import Evidence, Provenance, RuledOut
from lapwise.engine.inference import PlainRules
from lapwise.engine.knowledge.model import Knowledge, Look

SAID = Provenance("made-up", "Made up.", "practice")
NAMES = (*CAUSES, "other")

chances = st.lists(st.floats(0.01, 1.0), min_size=len(NAMES), max_size=len(NAMES)).map(
    lambda xs: {n: x / math.fsum(xs) for n, x in zip(NAMES, xs, strict=True)}
)
weights = st.lists(st.tuples(st.sampled_from(CAUSES), st.floats(-4.0, 4.0)), max_size=25).map(
    lambda xs: [Evidence(f"symptom: {i}", cause, w, SAID) for i, (cause, w) in enumerate(xs)]
)
doings = st.lists(
    st.lists(st.floats(0.01, 1.0), min_size=len(NAMES), max_size=len(NAMES)),
    max_size=5,
).map(
    lambda tables: [
        Observation(f"tried: remedy-{i}=no-change", dict(zip(NAMES, xs, strict=True)), SAID)
        for i, xs in enumerate(tables)
    ]
)


def base() -> Knowledge:
    return knowledge(*some_rules(random.Random(4), 40))


@given(prior=chances, evidence=weights, done=doings)
@settings(max_examples=150, deadline=None)
def test_the_shown_weights_are_the_odds_against_other(
    prior: dict[str, float], evidence: list[Evidence], done: list[Observation]
) -> None:
    belief = posterior(prior, evidence, done)
    assert math.fsum(belief.p.values()) == pytest.approx(1.0, abs=1e-12)
    for cause in CAUSES:
        shown = belief.prior_log_odds[cause] + sum(e.log_likelihood_ratio for e in belief.weights[cause])
        assert shown == pytest.approx(math.log(belief.p[cause] / belief.p["other"]), abs=1e-9)
    assert belief.weights["other"] == ()


@given(prior=chances, evidence=weights, done=doings, seed=st.integers(0, 99))
@settings(max_examples=80, deadline=None)
def test_the_order_of_the_evidence_changes_no_digit(
    prior: dict[str, float], evidence: list[Evidence], done: list[Observation], seed: int
) -> None:
    before = posterior(prior, evidence, done).p
    rng = random.Random(seed)
    rng.shuffle(evidence)
    rng.shuffle(done)
    assert posterior(prior, evidence, done).p == before


@given(prior=chances, evidence=weights, cause=st.sampled_from(CAUSES), more=st.floats(0.0, 3.0))
@settings(max_examples=80, deadline=None)
def test_more_evidence_for_one_cause_never_lowers_it(
    prior: dict[str, float], evidence: list[Evidence], cause: str, more: float
) -> None:
    before = posterior(prior, evidence).p
    after = posterior(prior, [*evidence, Evidence("more", cause, more, SAID)]).p
    assert after[cause] >= before[cause] - 1e-12
    assert all(after[c] <= before[c] + 1e-12 for c in NAMES if c != cause)


def test_nothing_seen_leaves_the_priors() -> None:
    prior = {"grit": 0.6, "wet": 0.35, "other": 0.05}
    assert posterior(prior).p == pytest.approx(prior, abs=1e-15)


def test_evidence_on_a_cause_ruled_out_is_passed_over() -> None:
    prior = {"grit": 0.95, "other": 0.05}
    assert posterior(prior, [Evidence("x", "wet", 3.0, SAID)]).p == posterior(prior).p


def test_a_symptom_that_fits_no_cause_raises_other() -> None:
    prior = priors(base(), PlainRules(base()).run([]))
    low = [Evidence("symptom: z", c, math.log(SCALES.unexplained / SCALES.background), SAID) for c in CAUSES]
    assert posterior(prior, low).p["other"] > 3 * prior["other"]


def test_no_change_multiplies_by_the_chance_it_had_to_fail() -> None:
    prior = {"grit": 0.5, "wet": 0.4, "other": 0.1}
    p = posterior(prior, (), [tried("clean", "no-change", {"grit": 0.8}, base())]).p
    whole = 0.5 * 0.2 + 0.4 + 0.1
    assert p == pytest.approx({"grit": 0.1 / whole, "wet": 0.4 / whole, "other": 0.1 / whole}, abs=1e-15)


@pytest.mark.parametrize(("outcome", "factor"), [("better", SCALES.better_factor), ("worse", SCALES.worse_factor)])
def test_better_and_worse_move_by_the_stated_factor(outcome: str, factor: float) -> None:
    prior = {"grit": 0.45, "wet": 0.45, "other": 0.1}
    p = posterior(prior, (), [tried("clean", outcome, {"grit": 1.0, "wet": 0.5}, base())]).p  # type: ignore[arg-type]
    assert p["grit"] / p["other"] == pytest.approx(4.5 * factor)
    assert p["wet"] / p["other"] == pytest.approx(4.5 * (1 + (factor - 1) / 2))


def test_a_cure_points_to_what_it_cures_and_leaves_a_doubt() -> None:
    prior = {"grit": 0.1, "wet": 0.8, "other": 0.1}
    p = posterior(prior, (), [tried("clean", "fixed", {"grit": 0.8}, base())]).p
    assert p["grit"] == pytest.approx(0.08 / (0.08 + 0.009))
    assert 0 < p["other"] < 0.02


def test_a_remedy_that_surely_cures_and_did_not_leaves_nothing() -> None:
    p = posterior({"grit": 0.9, "other": 0.1}, (), [tried("clean", "no-change", {"grit": 1.0}, base())]).p
    assert p == {"grit": 0.0, "other": 1.0}


def test_the_same_thing_done_twice_counts_once() -> None:
    prior = {"grit": 0.9, "other": 0.1}
    once = tried("clean", "no-change", {"grit": 0.8}, base())
    assert posterior(prior, (), [once, once]) == posterior(prior, (), [once])
    again = tried("clean", "better", {"grit": 0.8}, base())
    assert posterior(prior, (), [once, again]).p != posterior(prior, (), [once]).p


LOOK = Look(
    id="loupe",
    label="Look through the loupe",
    about="",
    steps=(),
    minutes=1,
    results=("dotted", "clean"),
    result_labels={"dotted": "dotted lines", "clean": "nothing"},
    otherwise={"clean": "often"},
    says={"grit": {"dotted": "usually", "clean": "rarely"}},
    needs=(),
    cautions=(),
    source="practice",
    place=HERE,
)


def test_a_look_table_has_a_row_per_result_and_columns_that_sum_to_one() -> None:
    rows = look_table(LOOK, NAMES, base())
    assert len(rows) == 2
    assert all(math.fsum(column) == pytest.approx(1.0, abs=1e-15) for column in zip(*rows, strict=True))
    assert rows[0][0] == pytest.approx(0.8 / 0.9)
    assert look_row(LOOK, "other", SCALES) == look_row(LOOK, "wet", SCALES)


def test_a_look_counts_by_its_table_and_says_what_was_seen() -> None:
    prior = {"grit": 0.3, "wet": 0.6, "other": 0.1}
    belief = posterior(prior, (), [looked(LOOK, "dotted", ("grit", "wet"), base())])
    ratio = (0.8 / 0.9) / (0.02 / 0.62)
    assert belief.p["grit"] / belief.p["wet"] == pytest.approx(0.5 * ratio)
    assert belief.p["wet"] / belief.p["other"] == pytest.approx(6.0)
    (shown,) = belief.weights["grit"]
    assert (shown.finding, shown.said.because) == ("saw: loupe=dotted", "Look through the loupe: dotted lines.")
    assert belief.weights["wet"] == ()


def test_priors_follow_the_frequency_words_and_what_was_learned() -> None:
    kb = base()
    rare = replace(kb, causes={**kb.causes, "wet": replace(kb.causes["wet"], base="rare")})
    nothing = PlainRules(knowledge()).run([])
    p = priors(rare, nothing, {"dry": 3.0})
    assert math.fsum(p.values()) == pytest.approx(1.0, abs=1e-15)
    assert p["other"] == SCALES.other_share
    assert p["grit"] / p["wet"] == pytest.approx(2.0)
    assert p["dry"] / p["grit"] == pytest.approx(3.0)
    assert list(p) == [*sorted(CAUSES), "other"]


def test_causes_ruled_out_have_no_prior_and_other_keeps_its_share() -> None:
    nothing = PlainRules(knowledge()).run([])
    out = replace(nothing, ruled_out=(RuledOut("grit", SAID),))
    p = priors(base(), out)
    assert "grit" not in p
    assert p["other"] == SCALES.other_share
    gone = replace(nothing, ruled_out=tuple(RuledOut(c, SAID) for c in CAUSES))
    assert priors(base(), gone) == {"other": 1.0}


@pytest.mark.parametrize("prior", [{"grit": 1.0}, {"grit": 0.5, "other": 0.4}, {"grit": 1.1, "other": -0.1}, {}])
def test_priors_that_are_none_are_refused(prior: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="priors"):
        posterior(prior)


def test_impossible_chances_are_refused() -> None:
    with pytest.raises(ValueError, match="outside 0 to 1"):
        tried("clean", "no-change", {"grit": 1.2}, base())
    with pytest.raises(ValueError, match="impossible"):
        posterior({"other": 1.0}, (), [Observation("x", {"other": 0.0}, SAID)])
    with pytest.raises(ValueError, match="never on it"):
        posterior({"other": 1.0}, [Evidence("x", "other", 1.0, SAID)])


@pytest.mark.parametrize("seed", range(20))
def test_from_facts_to_belief_the_order_of_facts_changes_nothing(seed: int) -> None:
    rng = random.Random(seed)
    kb = knowledge(*some_rules(rng, 30))
    facts = some_facts(rng)
    answers = []
    for _ in range(2):
        said = PlainRules(kb).run(facts)
        answers.append(posterior(priors(kb, said), said.evidence))
        rng.shuffle(facts)
    assert answers[0] == answers[1]
