"""What must hold of the answer to any case at all: made-up cases over every id of the shipped knowledge."""

from __future__ import annotations

import json
import math
import random
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from types import MappingProxyType

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.unit import shipped

from lapwise.engine.case import FACET_PARTS, STAGES, STOP_SYMPTOM, Case, FacetSetting, Outcome, Trial
from lapwise.engine.diagnosis import Session
from lapwise.engine.diagnosis.explain import as_json as explanation_json
from lapwise.engine.diagnosis.explain import explain
from lapwise.engine.diagnosis.jsonform import as_json
from lapwise.engine.diagnosis.model import Diagnosis
from lapwise.engine.diagnosis.options import HELPED, MEANT
from lapwise.engine.slots import CONDITIONS, SLOTS

FEW = settings(max_examples=30, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
KNOWLEDGE = shipped.knowledge()
ANSWERS = {
    key: ("0", "3", "6", "8", "45")
    if SLOTS[key].kind == "number"
    else tuple(getattr(KNOWLEDGE, SLOTS[key].values[0][1:]))
    if SLOTS[key].values[0].startswith("@")
    else SLOTS[key].values
    for key in CONDITIONS
}


@cache
def session() -> Session:
    return Session(KNOWLEDGE)


def maybe(names: object) -> st.SearchStrategy[str | None]:
    return st.none() | st.sampled_from(sorted(names))  # type: ignore[call-overload]


TOLD_OUTCOMES: tuple[Outcome, ...] = ("better", "no-change", "worse")
LOOK_RESULTS = [(look.id, result) for look in KNOWLEDGE.looks.values() for result in look.results]
MAPS = st.lists(st.text("BD?.", min_size=3, max_size=3), min_size=3, max_size=3).filter(
    lambda rows: any(mark in "BD" for row in rows for mark in row)
)


@st.composite
def facets(draw: st.DrawFn) -> FacetSetting:
    trials = draw(st.lists(MAPS, max_size=1))
    return FacetSetting(
        part=draw(maybe(FACET_PARTS)),
        angle=draw(st.none() | st.floats(0, 90, width=16)),
        index=draw(st.none() | st.integers(1, 64).map(float)),
        gear=draw(st.sampled_from((None, 64, 96))),
        size_mm=draw(st.sampled_from((None, (9.0, 6.0), (2.0, 3.0)))),
        adapter=draw(st.sampled_from((None, "45", "none"))),
        trials=tuple(Trial(0.0, 0.0, "/".join(rows)) for rows in trials),
    )


@st.composite
def cases(draw: st.DrawFn, *, done: bool = True) -> Case:
    keys = draw(st.lists(st.sampled_from(CONDITIONS), unique=True, max_size=6))
    outcomes: st.SearchStrategy[Outcome] = st.sampled_from(TOLD_OUTCOMES)
    tries = st.tuples(st.sampled_from(sorted(KNOWLEDGE.remedies)), outcomes)
    return Case(
        material=draw(maybe(KNOWLEDGE.materials)),
        lap=draw(maybe(KNOWLEDGE.laps)),
        compound=draw(maybe(KNOWLEDGE.compounds)),
        stage=draw(st.sampled_from(STAGES)),
        symptoms=tuple(draw(st.lists(st.sampled_from(sorted(KNOWLEDGE.symptoms)), unique=True, max_size=3))),
        facts=MappingProxyType({k: draw(st.sampled_from(ANSWERS[k])) for k in keys}),
        prior=draw(maybe(KNOWLEDGE.compounds)),
        facet=draw(facets()),
        tried=tuple(draw(st.lists(tries, max_size=3))) if done else (),
        saw=tuple(draw(st.lists(st.sampled_from(LOOK_RESULTS), max_size=2))) if done else (),
    )


def said(answer: Diagnosis) -> str:
    """All of an answer but the case as it was told."""
    return json.dumps({**as_json(answer), "case": None}, allow_nan=False)


@given(case=cases())
@FEW
def test_what_is_supposed_is_answered_like_what_is_so(case: Case) -> None:
    assert session().what_if(case) == session().quick(case)


@FEW
@given(cases(), st.randoms(use_true_random=False))
def test_the_order_of_facts_and_symptoms_changes_nothing(case: Case, shuffle: random.Random) -> None:
    facts, symptoms = list(case.facts.items()), list(case.symptoms)
    shuffle.shuffle(facts)
    shuffle.shuffle(symptoms)
    other = replace(case, facts=MappingProxyType(dict(facts)), symptoms=tuple(symptoms))
    assert said(session().quick(case)) == said(session().quick(other))


@FEW
@given(cases())
def test_what_is_told_as_unknown_changes_nothing(case: Case) -> None:
    silent = {key: "unknown" for key in CONDITIONS if key not in case.facts}
    other = replace(
        case,
        facts=MappingProxyType({**case.facts, **silent}),
        material=case.material or "unknown",
        lap=case.lap or "unknown",
        compound=case.compound or "unknown",
        prior=case.prior or "unknown",
    )
    assert said(session().quick(case)) == said(session().quick(other))


@FEW
@given(cases())
def test_chances_sum_to_one_and_the_weights_shown_make_them_up(case: Case) -> None:
    answer = session().quick(case)
    assert math.fsum(c.probability for c in answer.causes) == pytest.approx(1.0, abs=1e-12)
    other = next(c.probability for c in answer.causes if c.id == "other")
    for cause in answer.causes:
        weights = [r.log_likelihood_ratio for r in (*cause.reasons_for, *cause.reasons_against)]
        assert cause.prior_log_odds + math.fsum(weights) == pytest.approx(math.log(cause.probability / other), abs=1e-9)
    order = [c.probability for c in answer.causes]
    assert order == sorted(order, reverse=True)


def independent_chances(answer: Diagnosis, fix: Mapping[str, Mapping[str, float]]) -> list[float]:
    """P(fixed at this step | nothing before it helped), from the causes shown, by the plain sum over worlds."""
    p = {c.id: c.probability for c in answer.causes}
    out = []
    for at, step in enumerate(answer.plan):
        reached = {
            c: p[c] * math.prod(1.0 - fix[earlier.remedy].get(c, 0.0) for earlier in answer.plan[:at]) for c in p
        }
        fixed = math.fsum(reached[c] * fix[step.remedy].get(c, 0.0) for c in p)
        out.append(fixed / math.fsum(reached.values()))
    return out


@FEW
@given(cases())
def test_every_step_has_the_chance_of_a_recomputation_and_the_reasons_that_make_it_up(case: Case) -> None:
    answer = session().quick(case)
    prepared = session().prepare(case)
    options = {o.remedy.id: o for o in prepared.options}
    left, worlds = 1.0, {c.id: c.probability for c in answer.causes}
    for step, chance in zip(
        answer.plan, independent_chances(answer, {r: o.fix for r, o in options.items()}), strict=True
    ):
        assert step.chance == pytest.approx(chance, abs=1e-9)
        left *= 1.0 if step.ends else 1.0 - chance
        assert step.now == pytest.approx(
            math.fsum(c.probability * options[step.remedy].fix.get(c.id, 0.0) for c in answer.causes), abs=1e-9
        )
        assert step.cumulative == pytest.approx(1.0 - left, abs=1e-9)
        assert step.minutes >= options[step.remedy].remedy.minutes
        told = {HELPED, *(s.said.because for s in prepared.conclusions.first if s.id == step.remedy)}
        told |= {
            said.because for _, said in options[step.remedy].favours
        }  # what a rule has for the remedy stands first
        reasons = [text for text in step.because if text not in told]
        named = reasons[0].split(":", 1)[0] if reasons else ""
        fix = options[step.remedy].fix
        parts = {c: worlds[c] * fix.get(c, 0.0) for c in worlds}
        if named and max(parts.values()) > 0:
            # the first reason must name the cause that brings most of the chance once the earlier steps did nothing
            main = max(parts, key=lambda c: parts[c])
            if any(weight > 0 for weight, _ in options[step.remedy].favours) and fix[main] < MEANT * max(fix.values()):
                # a rule speaks for it already, and for that cause it is not meant
                main = max((c for c in parts if fix.get(c, 0.0) >= MEANT * max(fix.values())), key=lambda c: parts[c])
            label = KNOWLEDGE.causes[main].label.lower()
            assert label in reasons[0].lower(), (step.remedy, main, reasons[0])
        worlds = {c: p * (1.0 - fix.get(c, 0.0)) for c, p in worlds.items()}


@FEW
@given(cases(), st.data())
def test_a_remedy_that_brought_no_change_leaves_the_plan(case: Case, data: st.DataObject) -> None:
    plan = [s.remedy for s in session().quick(case).plan]
    if not plan:
        return
    remedy = data.draw(st.sampled_from(plan[:10]))
    after = session().quick(case.with_tried(remedy, "no-change"))
    assert remedy not in [s.remedy for s in after.plan]
    if remedy not in dict(case.tried):
        assert remedy in [s.remedy for s in session().quick(case.with_tried(remedy, "better")).plan]


@FEW
@given(cases())
def test_the_plan_holds_nothing_forbidden_nothing_twice_and_no_look(case: Case) -> None:
    answer = session().quick(case)
    plan = [s.remedy for s in answer.plan]
    assert len(set(plan)) == len(plan)
    assert not {v.remedy for v in answer.vetoed} & set(plan)
    assert not set(KNOWLEDGE.looks) & set(plan)
    assert not {look for look, _ in case.saw} & {v.id for v in answer.looks}
    if answer.look is not None:
        assert 1 <= answer.look.before <= len(plan) + 1
    assert bool(plan) != bool(answer.stop)
    if plan and answer.runner_up is not None:
        assert answer.runner_up.remedy != plan[0]
        assert answer.runner_up.extra_minutes >= -1e-9


@FEW
@given(cases())
def test_cautions_cover_stone_lap_compound_and_the_first_remedies(case: Case) -> None:
    answer = session().quick(case)
    wanted: set[str] = set()
    for table, name in (
        (KNOWLEDGE.materials, case.material),
        (KNOWLEDGE.laps, case.lap),
        (KNOWLEDGE.compounds, case.compound),
    ):
        if name:
            wanted |= set(table[name].cautions)
    if case.material is None:
        wanted |= {c.id for c in KNOWLEDGE.cautions.values() if c.general}
    said = {c for step in answer.listed[:5] for c in step.cautions}
    if answer.look is not None:
        said |= set(KNOWLEDGE.looks[answer.look.id].cautions)
    wanted |= {c for c in said if not KNOWLEDGE.cautions[c].substance}
    assert wanted <= {c.id for c in answer.cautions}


@FEW
@given(cases())
def test_fumes_stop_all_advice(case: Case) -> None:
    answer = session().quick(replace(case, symptoms=(*case.symptoms, STOP_SYMPTOM)))
    assert not answer.plan
    assert answer.look is None
    assert answer.stop is not None
    assert "fresh air" in answer.stop


@settings(FEW, max_examples=12)
@given(cases(), st.data())
def test_every_case_can_be_written_as_json_and_explained(case: Case, data: st.DataObject) -> None:
    answer = session().answer(case)
    assert json.loads(said(answer))["plan"] is not None
    targets = st.sampled_from([*KNOWLEDGE.causes, *KNOWLEDGE.remedies, "other"])
    told = explain(data.draw(targets), session(), answer)
    assert told.standing
    json.dumps(explanation_json(told), allow_nan=False)


WHOLE = Case(
    material="topaz",
    lap="tin-lap",
    compound="aluminium-oxide",
    prior="diamond-1200",
    symptoms=("fine-scratches", "haze"),
    facts=MappingProxyType({"wetness": "dry"}),
    tried=(("clean-lap", "no-change"),),
    saw=(("loupe-check", "crooked"),),
)


@pytest.mark.parametrize("target", [*KNOWLEDGE.causes, *KNOWLEDGE.remedies, "other"])
def test_every_cause_and_remedy_is_explained(target: str) -> None:
    answer = session().quick(WHOLE)
    told = explain(target, session(), answer)
    standing = {c.id for c in answer.causes} | {s.remedy for s in answer.plan}
    assert told.standing
    assert (told.place is not None) == (target in {s.remedy for s in answer.plan})
    if told.kind == "remedy" and told.now is not None:
        assert math.fsum(p for _, p in told.shares) <= told.now + 1e-12
    if target not in standing:
        assert told.fired or told.quiet or "no" in told.standing.lower() or "stage" in told.standing
    for rule in told.quiet:
        assert rule.unmet
    if target in {v.remedy for v in answer.vetoed}:
        assert not told.details, "nobody is told how to do what must not be done"
