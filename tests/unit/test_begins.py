"""What to begin with: habits as log odds, held against the logit by hand; own cases take over."""

from __future__ import annotations

import math

import pytest
from tests.unit.shipped import knowledge

from lapwise.engine.conclusions import Fact
from lapwise.engine.diagnosis.begins import LEAST_CHANCE, beginnings, believed
from lapwise.engine.diagnosis.habits import Habits
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.rule_model import Habit
from lapwise.engine.knowledge.rule_model import Test as Asks
from lapwise.engine.strategy import DecisionProblem, LastResort, Remedy, quick

PLACE = Place("habits.yaml", 1, own=False)
WASH, TURN = Remedy("clean-lap", 4, None, 0, (0.6, 0.0)), Remedy("adjust-angle", 10, None, 0, (0.0, 0.6))
PROBLEM = DecisionProblem(("a", "b"), (0.5, 0.5), (WASH, TURN), (), LastResort("end", 100))
HAZE, OXIDE = Fact("symptom", "haze"), Fact("compound_kind", "oxide")
NONE: frozenset[str] = frozenset()


def shares(
    habits: dict[str, Habit], facts: tuple[Fact, ...], told: frozenset[str] = NONE, evidence: float = 0.0
) -> dict[str, float]:
    table = Habits(habits.values())
    belief, order = believed(PROBLEM, [], {"loupe-check": 0.0}, told), [s.remedy for s in quick(PROBLEM).order]
    found = beginnings(belief, facts, table, knowledge().scales, order, evidence)
    assert [b.share for b in found] == sorted((b.share for b in found), reverse=True)
    assert sum(b.share for b in found) == pytest.approx(1.0)
    return {b.move: b.share for b in found}


def test_a_habit_multiplies_the_odds_of_a_move_where_all_it_asks_for_holds() -> None:
    habit = Habit("h", (Asks("symptom", ("haze",)), Asks("compound_kind", ("oxide",))), {"adjust-angle": 0.7}, PLACE)
    before, after = shares({}, (HAZE, OXIDE)), shares({"h": habit}, (HAZE, OXIDE))
    assert before["adjust-angle"] == pytest.approx(before["clean-lap"])  # the same chance, and minutes do not count
    odds = after["adjust-angle"] / after["clean-lap"]
    assert odds == pytest.approx(math.exp(0.7))  # McFadden 1974: log odds add up
    assert shares({"h": habit}, (HAZE,)) == before


def test_the_chance_counts_with_its_weight_and_what_a_rule_puts_first_with_its_own() -> None:
    scales = knowledge().scales
    found = shares({}, (), told=frozenset(["adjust-angle"]))
    assert found["adjust-angle"] / found["clean-lap"] == pytest.approx(math.exp(scales.begin_told))
    against_look = found["clean-lap"] / found["loupe-check"]
    assert against_look == pytest.approx((0.3 + LEAST_CHANCE) ** scales.begin_chance)


def test_the_place_in_the_order_by_belief_counts_the_first_in_full_and_the_second_half() -> None:
    belief = believed(PROBLEM, ["adjust-angle", "clean-lap"], {}, NONE)
    found = beginnings(belief, (), Habits(()), knowledge().scales, (), 0.0)
    odds = {b.move: b.share for b in found}
    assert odds["adjust-angle"] / odds["clean-lap"] == pytest.approx(math.exp(knowledge().scales.begin_order / 2))


def test_the_order_by_belief_takes_over_as_evidence_grows() -> None:
    habit = Habit("h", (), {"adjust-angle": 5.0}, PLACE)
    assert quick(PROBLEM).order[0].remedy == "clean-lap"
    firsts = [next(iter(shares({"h": habit}, (), evidence=cases))) for cases in (0.0, 10.0, 1000.0)]
    assert firsts == ["adjust-angle", "adjust-angle", "clean-lap"]


def test_a_number_is_met_within_its_span() -> None:
    habit = Habit("h", (Asks("mohs", at_least=7.0, below=8.0),), {"adjust-angle": 1.0}, PLACE)
    met, missed = (shares({"h": habit}, (Fact("mohs", m),)) for m in (7.0, 8.0))
    assert met["adjust-angle"] > missed["adjust-angle"] == pytest.approx(shares({}, ())["adjust-angle"])


def test_every_shipped_habit_speaks_of_what_may_stand_in_a_case() -> None:
    for habit in knowledge().habits.values():
        assert all(m in knowledge().remedies or m in knowledge().looks for m in habit.weights)
        assert all(abs(w) >= 0.1 for w in habit.weights.values())
    assert len(knowledge().habits) > 300
