"""P(fix | cause) has one place: the plan, what a try says afterwards, and what is logged use the same chances."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.unit import shipped

from lapwise.engine.belief import look_row, tried
from lapwise.engine.case import STOP_SYMPTOM, Case
from lapwise.engine.diagnosis import Session
from lapwise.engine.diagnosis.shown import shown_for_try

KNOWLEDGE = shipped.knowledge()
FEW = settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])


@cache
def session() -> Session:
    return Session(KNOWLEDGE)


@st.composite
def cases(draw: st.DrawFn) -> Case:
    symptoms = sorted(set(KNOWLEDGE.symptoms) - {STOP_SYMPTOM})
    return Case(
        material=draw(st.none() | st.sampled_from(sorted(KNOWLEDGE.materials))),
        lap=draw(st.none() | st.sampled_from(sorted(KNOWLEDGE.laps))),
        compound=draw(st.none() | st.sampled_from(sorted(KNOWLEDGE.compounds))),
        symptoms=tuple(draw(st.lists(st.sampled_from(symptoms), min_size=1, max_size=2, unique=True))),
    )


def normal(mass: dict[str, float]) -> dict[str, float]:
    total = sum(mass.values())
    return {cause: m / total for cause, m in mass.items()}


def fires_on_trying(before: Case, after: Case) -> bool:
    """Whether a rule speaks of the try itself, which the plan cannot know beforehand."""
    one, two = session().prepare(before).conclusions, session().prepare(after).conclusions
    return one.evidence != two.evidence or one.ruled_out != two.ruled_out


@FEW
@given(case=cases(), pick=st.integers(0, 60))
def test_after_a_try_the_session_believes_what_the_plan_expected(case: Case, pick: int) -> None:
    prepared = session().prepare(case)
    if not prepared.options:
        return
    option = prepared.options[pick % len(prepared.options)]
    after = replace(case, tried=((option.remedy.id, "no-change"),))
    if fires_on_trying(case, after):
        return
    place = {c: i for i, c in enumerate(prepared.problem.causes)}
    planned = next((r for r in prepared.problem.remedies if r.id == option.remedy.id), None)
    if planned is None:
        return
    expected = normal({c: p * (1.0 - planned.fix[place[c]]) for c, p in prepared.belief.p.items()})
    assert session().prepare(after).belief.p == pytest.approx(expected, abs=1e-12)


@FEW
@given(case=cases(), pick=st.integers(0, 60))
def test_after_a_look_the_session_believes_what_the_plan_expected(case: Case, pick: int) -> None:
    prepared = session().prepare(case)
    results = [(look.id, result) for look in KNOWLEDGE.looks.values() for result in look.results]
    name, result = results[pick % len(results)]
    chances = {c: look_row(KNOWLEDGE.looks[name], c, KNOWLEDGE.scales)[result] for c in prepared.belief.p}
    expected = normal({c: p * chances[c] for c, p in prepared.belief.p.items()})
    assert session().prepare(replace(case, saw=((name, result),))).belief.p == pytest.approx(expected, abs=1e-12)


@FEW
@given(case=cases(), pick=st.integers(0, 60))
def test_what_is_logged_is_what_the_plan_was_made_with(case: Case, pick: int) -> None:
    answer = session().quick(case)
    prepared = session().prepare(case)
    if not answer.plan:
        return
    remedy = answer.plan[pick % len(answer.plan)].remedy
    shown = shown_for_try(answer, remedy, "no-change", KNOWLEDGE)
    fix = next(o.fix for o in prepared.options if o.remedy.id == remedy)
    assert shown["fix"] == pytest.approx(dict(fix), abs=1e-4)
    done = tried(remedy, "no-change", fix, KNOWLEDGE)
    expected = normal({c: p * done.of(c) for c, p in prepared.belief.p.items()})
    for cause, p in shown["after"].items():
        assert p == pytest.approx(expected[cause], abs=1e-2), cause
