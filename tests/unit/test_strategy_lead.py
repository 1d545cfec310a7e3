"""What comes before the order of least minutes, and what the answer says of it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.unit.shipped import knowledge, session

from lapwise.engine.case import Case
from lapwise.engine.diagnosis.options import HELPED, helped
from lapwise.engine.strategy import DecisionProblem, LastResort, Remedy, led, quick

CHEAP, DEAR = Remedy("cheap", 4, None, 0, (0.9, 0.0)), Remedy("dear", 10, None, 0, (0.0, 0.9))
PROBLEM = DecisionProblem(("a", "b"), (0.8, 0.2), (CHEAP, DEAR), (), LastResort("end", 100))


def test_a_remedy_that_comes_first_leads_and_the_minutes_are_those_of_that_order() -> None:
    plan = led(PROBLEM, quick(PROBLEM), ["dear"])
    assert [s.remedy for s in plan.order] == ["dear", "cheap", "end"]
    # by hand: 10 always, then 4 in 0.8 + 0.2 * 0.1, then 100 in 0.8 * 0.1 + 0.2 * 0.1
    assert plan.expected_minutes == pytest.approx(10 + 4 * 0.82 + 100 * 0.10)


def test_what_helped_is_gone_on_with_save_what_may_do_harm() -> None:
    case = Case(
        material="sphene",
        symptoms=("pits",),
        tried=(("reverse-direction", "better"), ("recharge-lap", "better"), ("speed-up", "better")),
    )
    assert helped(case, knowledge()) == ("recharge-lap", "reverse-direction")
    answer, before = session().quick(case), session().quick(replace(case, tried=()))
    step, untried = (next(s for s in a.plan if s.remedy == "reverse-direction") for a in (answer, before))
    assert step.because[0] == HELPED
    assert step.usual > untried.usual


def test_nothing_changes_where_nothing_comes_first_or_it_leads_already() -> None:
    plan = quick(PROBLEM)
    assert led(PROBLEM, plan, []) is plan
    assert led(PROBLEM, plan, ["cheap"]) is plan
    assert led(PROBLEM, plan, ["unknown"]) is plan


@pytest.mark.parametrize(
    ("first", "case"),
    [
        ("wetter", Case(material="labradorite", compound="aluminium-oxide", prior="diamond-1200",
                        symptoms=("fine-scratches",), facts={"wetness": "dry"})),
        ("clean-lap", Case(material="garnet", lap="zinc-lap", compound="diamond-14000", prior="diamond-1200",
                           symptoms=("haze",), facts={"lap_surface": "caked"})),
        ("press-lighter", Case(material="quartz", symptoms=("slow-polish",), facts={"pressure": "heavy"})),
        ("slow-down", Case(material="beryl", symptoms=("facet-moved",), facts={"speed": "fast"})),
        ("let-cool", Case(material="garnet", symptoms=("hot-stone", "torn-facet"))),
        ("oxide-to-diamond", Case(material="sapphire", lap="tin-lap", compound="aluminium-oxide",
                                  symptoms=("fine-scratches",))),
    ],
)  # fmt: skip
def test_a_fault_that_is_told_is_set_right_early_and_said_so(first: str, case: Case) -> None:
    answer = session().quick(case)
    step = next(s for s in answer.plan[:3] if s.remedy == first)
    assert step.because[0] == next(s.said.because for s in answer.conclusions.first if s.id == first)


@pytest.mark.parametrize("asked", [("find-cleavage", "fluorite", "flaking", {}),
                                   ("loupe-check", "amethyst", "pits", {"included": "yes"})])  # fmt: skip
def test_a_look_that_decides_everything_comes_before_anything_is_cut(
    asked: tuple[str, str, str, dict[str, str]],
) -> None:
    look, material, symptom, facts = asked
    answer = session().quick(Case(material=material, symptoms=(symptom,), facts=facts))
    assert answer.look is not None
    assert answer.look.id == look
    before = [knowledge().remedies[s.remedy] for s in answer.plan[: answer.look.before - 1]]
    assert not [r.id for r in before if r.steps_back or r.id == "shift-off-cleavage"]
