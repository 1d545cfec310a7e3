"""What a list of things to try need not hold, and what is said of a step because of where it stands.

Facts of the trade in the cases here: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from tests.cases.panel.panel import case_of, situations
from tests.unit.shipped import knowledge, session

from lapwise.engine.case import Case
from lapwise.engine.diagnosis.listing import (
    CURES,
    HARDLY,
    LEAST_LISTED,
    LEAST_NOW,
    LEAST_USUAL,
    LIKELY,
    SELDOM,
    Chances,
    held,
    is_filler,
    open_looks,
    repeats,
)
from lapwise.engine.diagnosis.model import Diagnosis
from lapwise.engine.diagnosis.options import Option
from lapwise.engine.diagnosis.unknowns import askable
from lapwise.engine.diagnosis.why_not import why_not
from lapwise.engine.pairs import Choice, nearly_the_same
from lapwise.engine.wording import percent
from lapwise.tui.present.answer import place_sentences, together_words
from lapwise.tui.present.words import minutes


@cache
def answers() -> tuple[Diagnosis, ...]:
    """Answers to every eighth situation of the panel's learning part."""
    found = (session().quick(case_of(told)) for told in list(situations("learn").values())[::8])
    return tuple(answer for answer in found if answer.listed)


def option(remedy: str, lap: str | None = None, compound: str | None = None) -> Option:
    to = Choice(lap, compound, "", "practice") if lap else None
    return Option(knowledge().remedies[remedy], {}, to, ())


@pytest.mark.parametrize(
    ("one", "two", "same"),
    [
        (("zinc-lap", "diamond-50000"), ("zinc-lap", "diamond-60000"), True),
        (("tin-lap", "cerium-oxide"), ("tin-alloy-lap", "cerium-oxide"), True),
        (("tin-lap", "cerium-oxide"), ("tin-lap", "aluminium-oxide"), False),
        (("tin-lap", "diamond-8000"), ("tin-lap", "diamond-14000"), False),
        (("tin-lap", "cerium-oxide"), ("acrylic-lap", "cerium-oxide"), False),
        (("tin-lap", "diamond-50000"), ("ceramic-lap", "diamond-50000"), False),
        (("tin-lap", "diamond-100000"), ("tin-alloy-lap", "diamond-60000"), True),
        (("acrylic-lap", "cerium-oxide"), ("phenolic-lap", "cerium-oxide"), True),
        (("phenolic-lap", "cerium-oxide"), ("oxide-composite-lap", "cerium-oxide"), False),
    ],
)
def test_two_pairs_are_one_try_if_no_hand_tells_them_apart(
    one: tuple[str, str], two: tuple[str, str], same: bool
) -> None:
    first, second = Choice(*one, "", "practice"), Choice(*two, "", "practice")
    assert nearly_the_same(first, second, knowledge()) is same
    assert nearly_the_same(second, first, knowledge()) is same


def test_what_an_earlier_remedy_takes_in_is_its_repeat_and_never_the_other_way_round() -> None:
    options = {name: option(name) for name in ("step-back-one", "step-back-two", "clean-lap")}
    assert repeats(["step-back-two", "clean-lap", "step-back-one"], options, knowledge()) == {
        "step-back-one": "step-back-two"
    }
    assert repeats(["step-back-one", "step-back-two"], options, knowledge()) == {}


def test_of_two_changes_to_nearly_the_same_pair_the_later_is_the_repeat() -> None:
    options = {
        "oxide-to-diamond": option("oxide-to-diamond", "tin-lap", "diamond-50000"),
        "change-lap-and-compound": option("change-lap-and-compound", "tin-alloy-lap", "diamond-60000"),
    }
    found = repeats(["oxide-to-diamond", "change-lap-and-compound"], options, knowledge())
    assert found == {"change-lap-and-compound": "oxide-to-diamond"}


def test_no_list_holds_the_same_over_again_or_a_filler_behind_its_second() -> None:
    assert len(answers()) > 40
    for answer in answers():
        options = {o.remedy.id: o for o in session().prepare(answer.case).options}
        names = [step.remedy for step in answer.listed]
        assert not repeats(names, options, knowledge())
        likely = [c.id for c in answer.causes if c.probability >= LIKELY]
        for step in answer.listed[LEAST_LISTED:]:
            meant = any(step.fix.get(cause, 0.0) >= CURES for cause in likely)
            assert meant or not is_filler(step.now, step.usual), (answer.case, step.remedy)


def test_a_filler_cures_seldom_and_is_seldom_begun_with() -> None:
    assert is_filler(LEAST_NOW - 0.01, LEAST_USUAL - 0.01)
    assert is_filler(0.9, SELDOM - 0.001), "hardly anyone would name it, however likely"
    assert not is_filler(LEAST_NOW, SELDOM)
    assert not is_filler(LEAST_NOW - 0.01, LEAST_USUAL)
    assert is_filler(HARDLY - 0.01, LEAST_USUAL)
    assert not is_filler(0.0, 0.5)


def test_what_is_left_out_as_a_repeat_says_of_what() -> None:
    said = [(step, why_not(step.remedy, answer)) for answer in answers() for step in answer.rest if step.part_of]
    assert said, "no list here leaves a repeat out: choose others"
    for step, reason in said:
        assert reason is not None
        assert step.part_of in reason


def test_a_look_that_settles_what_is_stated_is_not_offered_nor_asked_after_it() -> None:
    case = Case("topaz", "tin-lap", "aluminium-oxide", symptoms=("stays-dull",))
    assert "find-cleavage" in {look.id for look in open_looks(case, knowledge())}
    near = replace(case, facts={"cleavage_near": "yes"})
    assert "find-cleavage" not in {look.id for look in open_looks(near, knowledge())}
    seen = replace(case, saw=(("find-cleavage", "near"),))
    assert "cleavage_near" not in {u.key for u in session().unknowns(seen)}


def test_a_table_is_not_asked_how_many_facets_it_is() -> None:
    case = Case("beryl", "tin-lap", "aluminium-oxide", symptoms=("haze",))
    assert "extent" in askable(case, set(), knowledge())
    table = Case.from_json({**case.as_json(), "facet": {"part": "table"}})
    assert table.facet.part == "table"
    assert "extent" not in askable(table, set(), knowledge())


def test_after_a_coarse_step_the_finer_one_follows_straight_after_the_repeat() -> None:
    """Common practice, no source: 1200 again, then 3000 or 8000, then the polish."""
    told = Case("quartz", "tin-lap", "aluminium-oxide", prior="diamond-1200", symptoms=("scratches-cutting-direction",))
    step = next(s for s in session().quick(told).plan if s.remedy == "step-back-one")
    assert step.then == (knowledge().remedies["add-middle-step"].label,)
    fine = session().quick(replace(told, prior="diamond-8000"))
    assert next(s for s in fine.plan if s.remedy == "step-back-one").then == ()


def test_behind_the_first_stands_the_best_chance_for_its_minutes() -> None:
    """Of what cutters begin with, and then of the rest; what is done in one go stands together, giving up last."""
    remedies = knowledge().remedies
    options = {
        name: option(name) for name in ("slow-down", "step-back-one", "clean-lap", "clean-everything", "set-aside")
    }
    now = {"slow-down": 0.2, "step-back-one": 0.4, "clean-lap": 0.1, "clean-everything": 0.3, "set-aside": 0.2}
    chances = Chances(now, dict.fromkeys(now, 0.1), "slow-down")
    worth = ["slow-down", "set-aside", "clean-lap", "step-back-one", "clean-everything"]
    names, part_of = held(worth, (), ("slow-down", "clean-lap"), options, {}, chances, knowledge())
    assert not part_of
    assert "clean-lap" in remedies["clean-everything"].one_go
    assert names[:3] == ["slow-down", "clean-lap", "clean-everything"]
    assert names[3] == "step-back-one"


def test_one_that_hardly_anyone_would_name_stays_only_in_a_list_too_short() -> None:
    options = {name: option(name) for name in ("clean-lap", "slow-down", "new-compound")}
    now = dict.fromkeys(options, 0.3)
    chances = Chances(now, {"clean-lap": 0.5, "slow-down": 0.001, "new-compound": 0.01}, "clean-lap")
    names, _ = held(["clean-lap", "slow-down", "new-compound"], (), ("clean-lap",), options, {}, chances, knowledge())
    assert names == ["clean-lap", "new-compound"], "of two fillers the likelier to be begun with"


def test_a_likely_cause_has_a_remedy_meant_for_it() -> None:
    found = 0
    for answer in answers():
        options = {o.remedy.id: o for o in session().prepare(answer.case).options if not o.remedy.ends}
        for cause in (c for c in answer.causes if c.probability >= LIKELY and c.id in knowledge().causes):
            if max((o.fix.get(cause.id, 0.0) for o in options.values()), default=0.0) >= CURES:
                listed = [options[s.remedy].fix.get(cause.id, 0.0) for s in answer.listed if s.remedy in options]
                assert max(listed) >= CURES, (answer.case, cause.id)
                found += 1
    assert found > 20


def test_what_costs_nothing_is_named_beside_the_first_and_never_its_contrary() -> None:
    found = [answer for answer in answers() if answer.listed[0].beside]
    assert found, "nothing is named beside the first here: choose others"
    by_label = {r.label: r for r in knowledge().remedies.values()}
    for answer in found:
        listed = {step.remedy for step in answer.listed}
        for label in answer.listed[0].beside:
            remedy = by_label[label]
            assert remedy.beside
            assert not {remedy.id, remedy.opposite} & listed
            assert remedy.id not in {veto.remedy for veto in answer.vetoed}
        assert any(text.startswith("While you try it, ") for text in place_sentences(1, answer))
        assert not any(step.beside for step in answer.listed[1:])
        assert not answer.listed[0].ends
    ends = [answer for answer in map(session().quick, map(case_of, situations("learn").values())) if answer.plan]
    ends = [answer for answer in ends if answer.listed[0].ends]
    assert ends, "none begins with giving up: choose others"
    assert not any(a.listed[0].beside for a in ends)


def test_after_what_helped_its_contrary_is_not_offered() -> None:
    """Common practice, no source: it took more water gladly, so it is not run drier."""
    told = Case("quartz", "tin-lap", "cerium-oxide", symptoms=("slow-polish",), tried=(("wetter", "better"),))
    answer = session().quick(told)
    assert "drier" not in {step.remedy for step in answer.plan}
    reason = why_not("drier", answer)
    assert reason is not None
    assert "The contrary helped: run wetter." in reason


def test_what_a_trouble_leaves_behind_is_said_unless_the_first_move_cuts_it_away() -> None:
    """Common practice, no source: a chip does not polish out."""
    seen = set()
    for answer in answers():
        left = [s for s in sorted(answer.case.symptoms) if knowledge().symptoms[s].remains]
        back = bool(knowledge().remedies[answer.listed[0].remedy].steps_back) or answer.listed[0].ends
        assert answer.remains == (() if back else tuple(knowledge().symptoms[s].remains for s in left))
        seen.add((bool(left), back))
    assert {(True, True), (True, False)} <= seen


def test_after_a_change_it_is_put_back_first() -> None:
    told = Case("quartz", "tin-lap", "cerium-oxide", symptoms=("fine-scratches",), facts={"onset": "after-change"})
    assert session().quick(told).began
    assert not session().quick(replace(told, tried=(("clean-lap", "no-change"),))).began
    assert not session().quick(replace(told, facts={"onset": "sudden"})).began


@pytest.mark.parametrize(
    ("lap", "compound", "told", "untold"),
    [
        ("ceramic-lap", "diamond-50000", "graphite", "metal face"),
        ("tin-lap", "diamond-50000", "metal face", "graphite"),
        (None, None, "graphite", "\0"),
    ],
)
def test_how_a_remedy_is_done_is_told_for_this_lap(
    lap: str | None, compound: str | None, told: str, untold: str
) -> None:
    known = knowledge()
    here = known.laps[lap] if lap else None
    steps = " ".join(known.remedies["lubricate-lap"].steps_on(here, known.compounds.get(compound or "")))
    assert told in steps
    assert untold not in steps


def test_every_step_is_told_on_some_lap_and_the_first_on_all() -> None:
    known = knowledge()
    for remedy in known.remedies.values():
        for lap in known.laps.values():
            steps = remedy.steps_on(lap, None)
            assert steps
            assert set(steps) <= set(remedy.steps)
        told = {s for lap in known.laps.values() for c in known.compounds.values() for s in remedy.steps_on(lap, c)}
        assert told == set(remedy.steps), remedy.id


def test_the_list_adds_up_to_its_minutes() -> None:
    for answer in answers():
        cures = [step for step in answer.listed if not step.ends]
        words = together_words(answer)
        assert bool(words) is (len(cures) > 1)
        if words:
            assert words == f"All together: {percent(cures[-1].cumulative)}, {minutes(sum(s.minutes for s in cures))}"


def test_nobody_goes_to_wax_or_pitch_for_a_harder_lap() -> None:
    for stone in ("lapis-lazuli", "nephrite", "turquoise", "opal"):
        case = Case(stone, "cloth-or-leather-lap", "chromium-oxide", symptoms=("undercutting",))
        to = {s.remedy: s.to for s in session().quick(case).plan}.get("harder-lap")
        assert to is None or to["lap"] not in ("wax-lap", "pitch-lap")


def test_what_a_veto_forbids_no_other_change_leads_to() -> None:
    """A stone that tears is not taken to a coarser diamond under another name (common practice, no source)."""
    case = Case("kyanite", "tin-lap", "diamond-50000", symptoms=("torn-facet",))
    answer = session().quick(case)
    assert "coarser-compound" in {veto.remedy for veto in answer.vetoed}
    coarse = knowledge().compounds["diamond-50000"].typical_um or 0.0
    for step in answer.plan:
        compound = knowledge().compounds.get((step.to or {}).get("compound") or "")
        if compound is not None and compound.kind == "diamond" and not step.remedy.startswith("add-"):
            assert (compound.typical_um or 0.0) <= coarse, step.remedy


def test_a_step_put_in_between_is_a_usual_one() -> None:
    """3000 follows 1200, 8000 follows 3000 (common practice, no source)."""
    for prior, follows in (("diamond-1200", "diamond-3000"), ("diamond-3000", "diamond-8000")):
        answer = session().quick(Case("quartz", "tin-lap", "cerium-oxide", prior=prior, symptoms=("stays-dull",)))
        to = {s.remedy: s.to for s in answer.plan}.get("add-middle-step")
        assert to is not None
        assert to["compound"] == follows


def test_nobody_gives_up_before_the_last_try() -> None:
    for answer in answers():
        ends = [step.ends for step in answer.listed[1:]]
        assert ends == sorted(ends)
