"""What a cutter reads of an answer on the case screen: figures that compare, what comes before the first try, where the
list ends and why, steps before cautions; the same words as in the shell.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from tests.tui.steps import QUARTZ, at_rest, case_screen, keys, screen_text, settle, words
from tests.unit import shipped

from lapwise.engine.case import Case
from lapwise.engine.diagnosis import Session
from lapwise.engine.diagnosis.why_not import why_not
from lapwise.engine.folders import Folders
from lapwise.engine.record.store import Record
from lapwise.engine.wording import percent
from lapwise.tui.app import LapwiseApp
from lapwise.tui.open_case import restated
from lapwise.tui.present.answer import ask_first, lead_sentence
from lapwise.tui.present.words import minutes
from lapwise.tui.screens import case_view
from lapwise.tui.screens.case_picture import PlanRows
from lapwise.tui.screens.case_sheets import how_lines, left_out_sheet, remedy_sheet
from lapwise.tui.screens.chooser import Chooser
from lapwise.tui.screens.sheet import Sheet
from lapwise.tui.widgets.lines import Lines

Make = Callable[..., LapwiseApp]
LEAST = shipped.knowledge().scales.look_minutes
PARTLY = Case("quartz", "acrylic-lap", "cerium-oxide", symptoms=("partial-polish",))


@pytest.fixture(scope="module")
def session() -> Session:
    return shipped.session()


def open_at(where: Folders, case: Case) -> None:
    with Record.open(where) as record:
        record.open_case(restated(case))


# --- pure ------------------------------------------------------------------------------------------------------------


def test_a_facet_dull_in_part_is_asked_first_where_it_is_dull(session: Session) -> None:
    answer = session.answer(PARTLY)
    ask = ask_first(answer, answer.unknown_that_would_help, shipped.knowledge())
    assert ask is not None
    assert (ask.kind, ask.words) == ("map", "Which side is dull?")
    (field,) = case_view.first_fields(
        answer, answer.unknown_that_would_help, {"map": "2", "fact": "a", "look": "l"}, shipped.knowledge()
    )
    assert field.name == "First press 2:"
    assert field.value.startswith("Which side is dull? Saves about")


@pytest.mark.parametrize("symptom", list(shipped.knowledge().symptoms))
def test_what_comes_first_saves_what_a_look_has_to_save(symptom: str, session: Session) -> None:
    answer = session.answer(Case("quartz", "acrylic-lap", "cerium-oxide", symptoms=(symptom,)))
    ask = ask_first(answer, answer.unknown_that_would_help, shipped.knowledge())
    best = max((u.value_minutes for u in answer.unknown_that_would_help), default=0.0)
    if not answer.listed:
        assert ask is None
    elif ask is None:
        assert best < LEAST
        assert answer.look is None or answer.look.before > 1
    elif ask.kind == "look":
        assert answer.look is not None
        assert answer.look.before == 1
    else:
        assert ask.kind == "map" or ask.minutes >= LEAST


def test_a_lap_or_compound_not_named_is_asked_before_all_else(session: Session) -> None:
    for case, wanted in (
        (Case("quartz", symptoms=("haze",)), "lap"),
        (Case("quartz", "tin-lap", symptoms=("haze",)), "compound"),
        (Case("quartz", "plated-diamond-lap", symptoms=("partial-polish",)), None),
    ):
        ask = ask_first(session.answer(case), (), shipped.knowledge())
        assert (ask.id if ask is not None and ask.kind == "machine" else None) == wanted


def painted(answer_row: object, width: int) -> str:
    lines = answer_row.paint(width)  # type: ignore[attr-defined]
    return "".join(line.plain for line in (lines if isinstance(lines, list) else [lines]))


@pytest.mark.parametrize("width", [56, 70, 77, 116])
def test_a_line_shows_the_chance_if_tried_now_and_good_by_then(width: int, session: Session) -> None:
    answer = session.quick(QUARTZ)
    title = case_view.plan_title(answer, width).plain
    assert len(title) == width
    assert "chance" in title
    assert "takes" in title
    for place, step in enumerate(answer.listed, 1):
        row = case_view.plan_row(place, step, QUARTZ, session.knowledge, trying=False, large=False)
        text = painted(row, width)
        assert len(text) == width
        assert percent(step.now) in text
        assert text.rstrip().endswith(percent(step.cumulative))
        assert ("█" in text or "▏" in text or "·" in text) == (width >= 62), "a bar where there is room"


def test_giving_up_has_no_chance_on_the_screen(session: Session) -> None:
    case = Case("topaz", "tin-lap", "aluminium-oxide", symptoms=("pits",))
    answer = session.quick(case)
    ends = [s for s in answer.plan if s.ends]
    assert ends
    for step in ends:
        text = painted(case_view.plan_row(1, step, case, session.knowledge, trying=False, large=False), 77)
        assert "%" not in text
        sheet = "\n".join(Lines(remedy_sheet(step, answer, session.knowledge)).plain.splitlines()[:8])
        assert "Chance" not in sheet


def test_all_steps_of_every_remedy_are_seen_at_80_by_24(session: Session) -> None:
    """The sheet shows 18 lines of 72 cells there; before, the cautions stood in front of the steps."""
    for case in (QUARTZ, PARTLY):
        answer = session.quick(case)
        for step in answer.plan:
            lines = remedy_sheet(step, answer, session.knowledge)
            steps = session.knowledge.remedies[step.remedy].steps
            wrapped = "".join(x.plain.ljust(72) for x in Lines(lines)._wrapped(72)[:18])
            flat = " ".join(wrapped.split())
            assert " ".join(steps[-1].split()) in flat, step.remedy


def test_why_not_is_one_sentence_for_shell_and_screen(session: Session) -> None:
    from lapwise.engine.diagnosis.explain import explain

    case = Case("opal", "acrylic-lap", "cerium-oxide", symptoms=("haze",), tried=(("clean-lap", "no-change"),))
    answer = session.quick(case)
    kinds = set()
    for remedy in session.knowledge.remedies:
        reason = why_not(remedy, answer)
        assert (reason is None) == (remedy in {s.remedy for s in answer.listed})
        if reason is not None:
            assert explain(remedy, session, answer).standing == reason
            kinds.add(reason.split(":")[0])
    assert {"Do not do it here", "It does not apply here", "It is left out", "Not worth trying now"} <= kinds
    quartz = session.quick(QUARTZ)
    double = max(quartz.rest, key=lambda s: s.now - s.chance)
    assert double.now > 2 * double.chance
    assert "what is listed cures the same" in (why_not(double.remedy, quartz) or ""), "it is no unlikely remedy"
    veto = answer.vetoed[0].remedy
    text = Lines(left_out_sheet(veto, answer, session.knowledge)).plain
    assert session.knowledge.remedies[veto].steps[0] not in text, "nobody should find a way to do it here"
    tried = Lines(left_out_sheet("clean-lap", answer, session.knowledge)).plain
    assert "brought no change" in tried


# --- on the screen ---------------------------------------------------------------------------------------------------


async def test_an_own_rule_in_the_place_of_a_veto_is_said_at_the_start_and_among_the_cautions(
    where: Folders, make_app: Make
) -> None:
    where.own_rules.mkdir(parents=True)
    (where.own_rules / "mine.yaml").write_text(
        "rules:\n  no-force-on-cracks:\n    when: [{material: zircon}]\n"
        "    then: {for: {loaded-lap: slightly}}\n    because: It is so.\n    source: practice\n"
    )
    said = "your own rule 'no-force-on-cracks' takes the place of a shipped one that forbids"
    open_at(where, Case("quartz", symptoms=("cracks",)))
    async with at_rest(make_app(), (120, 40)) as (app, pilot):
        assert said in words(app, "#sheet-text")
        await keys(pilot, "escape", "c")
        assert said in words(app, "#sheet-text")


async def test_the_list_ends_and_the_rest_says_why_not(where: Folders, make_app: Make) -> None:
    open_at(where, QUARTZ)
    async with at_rest(make_app()) as (app, pilot):
        answer = case_screen(app).answer
        assert answer is not None
        rows = [row.id for row in app.screen.query_one(PlanRows).rows]
        assert rows == [*(s.remedy for s in answer.listed), "act:case.other"]
        shown = screen_text(app)
        takes = minutes(sum(step.minutes for step in answer.listed if not step.ends))
        assert f"together: {percent(answer.listed[-1].cumulative)}, {takes}" in shown
        ask = ask_first(answer, case_screen(app).controller.helps, shipped.knowledge())
        first = lead_sentence(answer) if ask is None else ask.words
        assert " ".join(shown.split()).count(first) == 1, "what comes first, or why the first is first, is said once"
        await keys(pilot, "end", "enter")
        assert isinstance(app.screen, Chooser)
        await keys(pilot, "=run wetter")
        assert "Not yet: few cutters would try it this early" in screen_text(app)
        await keys(pilot, "enter")
        assert isinstance(app.screen, Sheet)
        assert "Not yet: few cutters would try it this early" in screen_text(app)
        await keys(pilot, "t")
        assert app.controller.trying == "wetter"
        assert "wetter" in [row.id for row in app.screen.query_one(PlanRows).rows], "what is tried stays in sight"
        await keys(pilot, "n")
        assert app.open_case.case.tried == (("wetter", "no-change"),)


async def test_the_first_line_leads_to_the_facet_map(where: Folders, make_app: Make) -> None:
    open_at(where, PARTLY)
    async with at_rest(make_app()) as (app, pilot):
        assert "First press 2: Which side is dull? Saves about" in screen_text(app)
        await pilot.click("#first", offset=(12, 0))
        await settle(pilot)
        assert type(app.screen).__name__ == "CorrectionScreen"


@pytest.mark.parametrize(("size", "how"), [((80, 24), False), ((120, 30), False), ((200, 50), True)])
async def test_steps_and_reasons_stand_beside_the_plan_where_there_is_room(
    size: tuple[int, int], how: bool, where: Folders, make_app: Make
) -> None:
    open_at(where, QUARTZ)
    async with at_rest(make_app(), size) as (app, pilot):
        answer = case_screen(app).answer
        assert answer is not None
        await keys(pilot, "down")
        step = answer.listed[1]
        plain = Lines(how_lines(step, answer, shipped.knowledge())).plain
        shown = words(app, "#case-how")
        assert (plain in shown) == how
        assert (step.because[0] in shown) == how
        assert "█" in screen_text(app), "bars stay"


async def test_what_if_asks_for_stone_lap_and_compound_first_in_whole_questions(where: Folders, make_app: Make) -> None:
    open_at(where, QUARTZ)
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "i")
        shown = screen_text(app)
        order = [shown.index(q) for q in ("Which stone is it?", "Which lap is on the machine?", "Which compound is on")]
        assert order == sorted(order)
        assert order[-1] < shown.index("Would help most")
        helps = app.controller.helps
        assert helps
        assert all(u.question in shown for u in helps), "questions stand in full"


async def test_the_plan_of_the_stone_is_read_by_one_key(where: Folders, make_app: Make) -> None:
    open_at(where, QUARTZ)
    async with at_rest(make_app(), (80, 60)) as (app, pilot):
        await keys(pilot, "p")
        assert isinstance(app.screen, Sheet)
        said = " ".join(words(app, "#sheet-text").split())
        assert "Steps" in said
        assert "Other ways to polish it" in said
        assert "rpm" in said


async def test_the_plan_asks_for_the_stone_where_none_is_stated(where: Folders, make_app: Make) -> None:
    open_at(where, Case(symptoms=("haze",)))
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "p")
        assert isinstance(app.screen, Chooser)
        await keys(pilot, "=tourmaline", "enter")
        assert isinstance(app.screen, Sheet)
        assert app.controller.case.material is None
