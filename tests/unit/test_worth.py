"""What an answer holds to be shown: a list that ends, chances that compare, reasons for the remedy, cautions that
apply. Measured on the panel's learning part beside the cases named here.
"""

from __future__ import annotations

import random
from functools import cache

import pytest
from tests.cases.panel.panel import case_of, situations
from tests.unit.shipped import knowledge, session

from lapwise.engine.case import Case
from lapwise.engine.diagnosis.begins import LEAST_SHARE
from lapwise.engine.diagnosis.jsonform import as_json
from lapwise.engine.diagnosis.model import Diagnosis
from lapwise.engine.strategy import DecisionProblem, LastResort, Remedy, ended, quick
from lapwise.engine.strategy.arrays import arrays_of, sequence_end
from lapwise.engine.strategy.lead import FAIR
from lapwise.engine.wording import LEGAL

SAPPHIRE = Case("sapphire", "tin-lap", "diamond-60000", prior="diamond-8000", symptoms=("fine-scratches",))
QUARTZ = Case("quartz", "acrylic-lap", "cerium-oxide", symptoms=("fine-scratches",))


@cache
def answers() -> tuple[Diagnosis, ...]:
    """Answers to every tenth situation of the panel's learning part."""
    return tuple(session().quick(case_of(told)) for told in list(situations("learn").values())[::10])


def told(case: Case) -> set[str]:
    return {c.id for c in session().quick(case).cautions}


# --- where the list ends ---------------------------------------------------------------------------------------------


def invented(seed: int) -> DecisionProblem:
    """A problem without shared set-ups, so that leaving one remedy out changes nothing of the others."""
    draw = random.Random(seed)
    causes = tuple("abcde")
    remedies = tuple(
        Remedy(f"r{n}", draw.uniform(3, 30), None, 0.0, tuple(draw.choice((0.0, 0.02, 0.2, 0.6)) for _ in causes))
        for n in range(9)
    )
    return DecisionProblem(causes, tuple(draw.uniform(0.1, 1) for _ in causes), remedies, (), LastResort("last", 240.0))


def before_the_end(problem: DecisionProblem, plan: object) -> list[int]:
    names = [s.remedy for s in plan.order]  # type: ignore[attr-defined]
    place = {r.id: n for n, r in enumerate(problem.remedies)}
    return [place[name] for name in names[: names.index("last")]]


@pytest.mark.parametrize("seed", range(12))
def test_every_remedy_before_the_end_saves_what_is_asked_and_none_is_lost(seed: int) -> None:
    problem = invented(seed)
    full = quick(problem)
    plan = ended(problem, full, 6.0)
    assert {s.remedy for s in plan.order} == {s.remedy for s in full.order}
    a, order = arrays_of(problem), before_the_end(problem, plan)
    cost = float(a.p @ sequence_end(a, order))
    for r in order if len(order) > 1 else ():
        without = float(a.p @ sequence_end(a, [x for x in order if x != r]))
        fair = next(s.chance for s in full.order if s.remedy == problem.remedies[r].id) >= FAIR
        assert fair or without - cost >= 6.0 - 1e-9
    assert before_the_end(problem, ended(problem, full, 0.0)) == before_the_end(problem, full)
    likely = [s for s in full.order if s.chance >= FAIR and s.remedy != "last"]
    assert 1 <= len(before_the_end(problem, ended(problem, full, 1e9))) <= max(1, len(likely))
    last = full.order[len(before_the_end(problem, full)) - 1].remedy
    assert last in [problem.remedies[r].id for r in before_the_end(problem, ended(problem, full, 1e9, (last,)))]


def test_no_filler_stands_among_what_is_worth_trying() -> None:
    """A remedy of 4 % or less saves nothing beside a look, unless it is what cutters begin with; before it had an end
    a list held 49."""
    lengths = [len(a.listed) for a in answers() if not a.stop]
    assert max(lengths) <= 15
    assert sorted(lengths)[len(lengths) // 2] <= 7
    listed = [s for a in answers() for s in a.listed]
    fillers = [s.remedy for s in listed if s.chance <= 0.04 and s.usual < LEAST_SHARE]
    assert not fillers
    assert all(a.listed for a in answers() if not a.stop), "something is always worth trying"


def test_the_rest_stays_in_the_plan_behind_the_end() -> None:
    data = as_json(session().quick(QUARTZ))
    assert 0 < data["worth"] < len(data["plan"])
    assert "slow-down" in {s["remedy"] for s in data["plan"][data["worth"] :]}


# --- chances ---------------------------------------------------------------------------------------------------------


def test_chances_if_tried_now_compare_and_good_by_then_only_rises() -> None:
    for answer in answers():
        p = {c.id: c.probability for c in answer.causes}
        by = 0.0
        for step in answer.plan:
            assert step.now == pytest.approx(sum(p[c] * f for c, f in step.fix.items() if c in p), abs=1e-9)
            assert step.cumulative >= by - 1e-12
            by = step.cumulative
        if answer.plan:
            assert answer.plan[0].now == pytest.approx(answer.plan[0].chance, abs=1e-9)


def test_giving_the_stone_up_makes_no_facet_good() -> None:
    answer = session().quick(Case("topaz", "tin-lap", "aluminium-oxide", symptoms=("pits",)))
    by = 0.0
    ends = [s for s in answer.plan if s.ends]
    assert {"change-stone", "accept-and-finish"} >= {s.remedy for s in ends}
    assert ends
    for step in answer.plan:
        if step.ends:
            assert step.cumulative == pytest.approx(by)
        by = step.cumulative


def test_why_the_first_stands_first_is_so() -> None:
    found = set()
    for answer in answers():
        if not answer.listed:
            assert answer.lead is None
            continue
        first, *others = answer.listed
        likelier = [s for s in others if s.now > first.now + 0.005]
        found.add(answer.lead)
        if answer.lead == "likely":
            assert not likelier
        elif answer.lead == "quick":
            assert likelier
            assert all(s.minutes > first.minutes for s in likelier)
    assert {"likely", "quick", "in-the-way"} <= found


# --- reasons ---------------------------------------------------------------------------------------------------------


def test_the_reason_is_one_for_the_remedy_not_how_often_it_shows_this_way() -> None:
    for answer in answers():
        for step in answer.plan:
            assert not any("like this" in text for text in step.because), step
    step = next(s for s in session().quick(QUARTZ).plan if s.remedy == "wetter")
    assert knowledge().causes["too-dry"].about in step.because[0]
    assert knowledge().remedies["wetter"].about in step.because[0]


# --- cautions --------------------------------------------------------------------------------------------------------


def test_silica_is_said_of_stones_that_hold_it_and_where_the_stone_is_not_known() -> None:
    assert "silica-dust" in told(QUARTZ)
    assert "silica-dust" not in told(SAPPHIRE)
    assert "dust-general" in told(SAPPHIRE)
    assert "silica-dust" in told(Case(None, "tin-lap", "aluminium-oxide", symptoms=("fine-scratches",)))
    for answer in answers():
        material = answer.case.material
        if material and "silica-dust" not in knowledge().materials[material].cautions:
            assert "silica-dust" not in {c.id for c in answer.cautions}, material


def test_a_blade_is_warned_of_only_with_a_blade() -> None:
    assert "blade" not in told(SAPPHIRE)
    assert "blade" in told(Case("sapphire", "ceramic-lap", "diamond-60000", symptoms=("fine-scratches",)))
    with_blade = {r.id for r in knowledge().remedies.values() if "blade" in r.cautions}
    for answer in answers():
        if "blade" in {c.id for c in answer.cautions} and answer.case.lap != "ceramic-lap":
            assert with_blade & {s.remedy for s in answer.listed[:5]}


@pytest.mark.parametrize(
    ("lap", "said"), [("tin-lap", set()), ("copper-lap", {"copper-dust"}), ("tin-lead-lap", {"lead"})]
)
def test_copper_and_lead_are_said_of_laps_that_hold_them(lap: str, said: set[str]) -> None:
    case = Case("quartz", lap, "aluminium-oxide", symptoms=("curved-facet",), facts={"lap_surface": "grooved"})
    answer = session().quick(case)
    assert "recondition-lap" in {s.remedy for s in answer.listed[:5]}, "it names copper and lead itself"
    brought = {c for s in answer.listed[:5] if s.to and s.to["lap"] for c in knowledge().laps[s.to["lap"]].cautions}
    assert {"copper-dust", "lead"} & {c.id for c in answer.cautions} == said | ({"copper-dust", "lead"} & brought)


def test_who_decides_is_said_once() -> None:
    data = as_json(session().quick(QUARTZ))
    assert data["legal"] == LEGAL
    assert not any("employers" in c["text"] for c in data["cautions"])
