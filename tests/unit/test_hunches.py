"""Hunches: what cutters suspect, as evidence beside that of the rules, held against the logit by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from tests.unit.shipped import knowledge, session

from lapwise.engine.case import Case
from lapwise.engine.conclusions import OTHER, Fact
from lapwise.engine.diagnosis.habits import Habits
from lapwise.engine.diagnosis.hunches import hunches_on
from lapwise.engine.diagnosis.session import Session
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.rule_model import Habit
from lapwise.engine.knowledge.rule_model import Test as Asks
from lapwise.engine.knowledge.rules import WEIGHED_APART

PLACE = Place("hunches.yaml", 1, own=False)
HAZE, FLOODED = Fact("symptom", "haze"), Fact("wetness", "flooded")
CASE = Case(material="amethyst", lap="tin-lap", compound="cerium-oxide", symptoms=("haze",))


def of(name: str, weights: dict[str, float], *tests: Asks) -> Habit:
    return Habit(name, tests, weights, PLACE)


def test_those_that_hold_add_up_to_one_weight_for_each_cause_with_its_signs() -> None:
    haze, wet = (
        of("h", {"residue": 1.0}, Asks("symptom", ("haze",))),
        of("w", {"residue": 0.5, "too-wet": 0.7, "too-dry": -0.9}, Asks("wetness", ("flooded",))),
    )
    found = {e.cause: e for e in hunches_on((HAZE, FLOODED), Habits((haze, wet)), knowledge())}
    assert {c: e.log_likelihood_ratio for c, e in found.items()} == {"residue": 1.5, "too-wet": 0.7, "too-dry": -0.9}
    assert found["residue"].said.because == "Cutters often find this with “bright but milky or grey” and a flooded lap."
    assert found["too-dry"].said.because == "Cutters seldom find this with a flooded lap."
    assert found["residue"].finding == "symptom: haze; wetness: flooded"
    assert [e.cause for e in hunches_on((HAZE,), Habits((haze, wet)), knowledge())] == ["residue"]


def test_a_hunch_multiplies_the_odds_of_a_cause_against_other() -> None:
    plain = Session(replace(knowledge(), hunches={}))
    hunch = of("h", {"residue": 0.7}, Asks("symptom", ("haze",)))
    with_it = Session(replace(knowledge(), hunches={"h": hunch}))
    before, after = (one.prepare(CASE).belief.p for one in (plain, with_it))
    odds = after["residue"] / after[OTHER] / (before["residue"] / before[OTHER])
    assert odds == pytest.approx(math.exp(0.7))
    shown = next(c for c in with_it.quick(CASE).causes if c.id == "residue")
    assert any(r.because.startswith("Cutters often find this") for r in shown.reasons_for)


def test_no_shipped_hunch_rests_on_what_was_done_or_moves_other() -> None:
    assert len(knowledge().hunches) > 200
    for hunch in knowledge().hunches.values():
        assert not {test.slot for test in hunch.tests} & {*WEIGHED_APART}
        assert set(hunch.weights) <= set(knowledge().causes)


def test_trying_something_moves_the_belief_by_its_own_chances_alone() -> None:
    """What is believed after a try is Bayes' rule on what was believed before, hunches and all."""
    before = session().prepare(CASE)
    step = before.plan.order[0].remedy
    fix = next(o.fix for o in before.options if o.remedy.id == step)
    after = session().prepare(replace(CASE, tried=((step, "no-change"),)))
    assert after.conclusions.evidence == before.conclusions.evidence
    left = {c: p * (1.0 - fix.get(c, 0.0)) for c, p in before.belief.p.items()}
    total = math.fsum(left.values())
    for cause, p in left.items():
        assert after.belief.p[cause] == pytest.approx(p / total, abs=1e-9)
