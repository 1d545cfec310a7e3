"""The case screen on the real engine: the common path, looks, what-if, lists, layouts, the sample."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from tests.tui.steps import QUARTZ, at_rest, begin, case_screen, keys, screen_text, settle, status, until, words

from lapwise.engine.case import Case
from lapwise.engine.folders import Folders
from lapwise.engine.record.store import Record
from lapwise.tui.app import LapwiseApp
from lapwise.tui.keymap import Choices, write_choices
from lapwise.tui.screens.chooser import Chooser, Filter
from lapwise.tui.screens.sheet import Sheet
from lapwise.tui.screens.welcome import Welcome
from lapwise.tui.widgets.fields import Fields
from lapwise.tui.widgets.rows import Rows

Make = Callable[..., LapwiseApp]


async def test_from_the_start_to_a_plan_in_six_keys(where: Folders, make_app: Make) -> None:
    with Record.open(where) as record:
        case_id = record.open_case(QUARTZ)
        record.log_outcome(QUARTZ, "less-compound", "fixed", minutes=3, knowledge_digest="", case_id=case_id)
    async with at_rest(make_app()) as (app, pilot):
        assert app.open_case.case.material == "quartz", "the machine is as it was last time"
        assert not app.open_case.case.symptoms
        pressed = ["s", "enter"]
        assert len(pressed) <= 6
        await keys(pilot, *pressed)
        answer = case_screen(app).answer
        assert answer is not None
        assert len(answer.plan) > 5
        assert answer.case.symptoms == ("fine-scratches",)
        shown = screen_text(app)
        assert answer.plan[0].label in shown
        assert "%" in shown


async def test_a_look_that_was_answered_moves_the_ranking(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        before = {c.id: c.probability for c in case_screen(app).answer.causes}  # type: ignore[union-attr]
        await keys(pilot, "l", "=loupe", "enter", "enter", "=crooked", "enter")
        assert app.open_case.case.saw == (("loupe-check", "crooked"),)
        after = {c.id: c.probability for c in case_screen(app).answer.causes}  # type: ignore[union-attr]
        assert after["earlier-damage"] > before["earlier-damage"]
        with Record.open(where, readonly=True) as record:
            assert record.last_case().case.saw == (("loupe-check", "crooked"),)  # type: ignore[union-attr]


async def test_what_if_changes_nothing_until_it_is_kept(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "i", "=how wet", "enter", "=dry", "enter")
        assert isinstance(app.screen, Sheet)
        text = screen_text(app)
        assert "wetness were: dry" in text
        assert any(mark in text for mark in "▲▼＋－")
        await keys(pilot, "escape")
        assert "wetness" not in app.open_case.case.facts
        await keys(pilot, "i", "=which stone", "enter", "=citrine", "enter")
        assert "If the stone were " in screen_text(app)
        await keys(pilot, "escape", "i", "=how wet", "enter", "=dry", "enter", "k")
        assert app.open_case.case.facts["wetness"] == "dry"


async def test_the_case_is_still_open_after_a_new_start(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "n")
        tried = app.open_case.case.tried
    async with at_rest(make_app()) as (again, pilot):
        assert again.open_case.case.tried == tried
        assert again.open_case.case.symptoms == ("fine-scratches",)
        assert "still open" in status(again)


async def test_a_record_that_cannot_be_written_is_said_and_loses_no_advice(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        where.data.mkdir(parents=True, exist_ok=True)
        where.record.mkdir()
        await begin(pilot)
        await keys(pilot, "n")
        assert "Not logged" in status(app) or "Not kept" in status(app)
        assert case_screen(app).answer is not None


async def test_a_filter_shortens_the_list_as_one_types(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "m", "enter")
        assert isinstance(app.screen, Chooser)
        from lapwise.tui.widgets.rows import Rows

        everything = len(app.screen.query_one(Rows).rows)
        await keys(pilot, "=spess")
        few = app.screen.query_one(Rows).rows
        assert 1 <= len(few) < everything
        await keys(pilot, "enter")
        assert app.open_case.case.material == "garnet-spessartine"


async def test_the_sample_never_touches_the_record(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "f8")
        await until(pilot, lambda: app.workspace.sample and app.workspace.ready)
        await settle(pilot)
        assert app.open_case.case.material == "garnet-spessartine"
        await keys(pilot, "t", "n", "escape")
        assert "Logged" in status(app)
        await keys(pilot, "f8", "l")
        await until(pilot, lambda: not app.workspace.sample)
        await settle(pilot)
        assert app.open_case.case.material is None
    assert not where.record.exists()


async def test_what_is_cut_goes_on_in_the_lines_the_list_leaves_empty(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(Case("topaz", "tin-lap", "diamond-60000", symptoms=("fine-scratches",)))
        case_screen(app).refresh_view()
        await settle(pilot)
        (first,) = app.screen.query_one("#first", Fields).fields
        assert first.value in " ".join(screen_text(app).split()), "the question is whole"
        await keys(pilot, "r", "=two steps", "enter", "t", "w")
        text = " ".join(screen_text(app).split())
        answer = case_screen(app).answer
        assert answer is not None
        assert answer.gone_worse[0][:110] in text
        assert "(go back two steps and cut below the damage)" in text, "nor is the name cut from what was logged"
        for row in app.screen.query_one(Rows).rows:
            assert row.id.startswith("act:") or app.workspace.knowledge.label(row.id)[:38] in text, "no row is lost"


async def test_in_a_list_the_name_goes_before_what_is_said_about_it(make_app: Make) -> None:
    async with at_rest(make_app(), (100, 40)) as (app, pilot):
        await keys(pilot, "s")
        assert "Part of the facet bright, the rest dull" in screen_text(app)


async def test_several_are_marked_by_space_and_unmarked_again(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "s", "space", "down", "space", "enter")
        two = app.open_case.case.symptoms
        assert len(two) == 2
        await keys(pilot, "s", "enter")
        assert app.open_case.case.symptoms == two, "who only looks changes nothing"
        await keys(pilot, "s", "=haze", "enter")
        assert app.open_case.case.symptoms == (*two, "haze"), "typing and enter adds one as before"
        await keys(pilot, "s", "space", "enter")
        assert len(app.open_case.case.symptoms) == 2, "space on a marked one takes it off"


async def test_a_space_marks_the_row_the_mark_was_moved_to_though_letters_are_typed(make_app: Make) -> None:
    """It was taken as a letter, and the mark jumped to the first row."""
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "s", "=scratch", "down", "down")
        marked = app.screen.query_one(Rows).marked
        await keys(pilot, "space")
        assert app.screen.query_one(Rows).marked == marked
        assert app.screen.query_one(Filter).value == "scratch"
        await keys(pilot, *["backspace"] * 7, "=orange peel")
        assert app.screen.query_one(Filter).value == "orange peel", "a space among letters is a letter"
        await keys(pilot, "=  ")
        assert "[x] Orange peel" in screen_text(app), "pressed twice it marks"
        await keys(pilot, *["backspace"] * 12, "=haze", "down", "up", "enter")
        assert "space marks it" in screen_text(app), "not dropped without a word"
        await keys(pilot, "enter")
        assert app.open_case.case.symptoms == (marked, "orange-peel"), "enter takes what is ticked alone"


async def test_a_row_only_looked_at_is_not_taken_beside_what_is_ticked(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "s", "space", "down", "space", "down", "down", "enter")
        two = app.open_case.case.symptoms
        assert len(two) == 2
        await keys(pilot, "s", "down", "down", "down", "enter")
        assert "space marks it" in screen_text(app)
        await keys(pilot, "enter")
        assert app.open_case.case.symptoms == two


async def test_a_list_shows_the_marked_row_in_full(make_app: Make) -> None:
    async with at_rest(make_app(), (60, 24)) as (app, pilot):
        await keys(pilot, "s", "=direction of cutting")
        about = words(app, "#chooser-about")
        marked = app.screen.query_one(Rows).marked
        assert marked is not None
        symptom = app.workspace.knowledge.symptoms[marked]
        assert about == f"{symptom.label}  {symptom.about}"


@pytest.mark.parametrize("key", ["f5", "f7"])
async def test_another_layout_shows_the_reasons_at_once(make_app: Make, key: str) -> None:
    async with at_rest(make_app(), (80, 30)) as (app, pilot):
        await begin(pilot)
        await keys(pilot, key)
        screen = case_screen(app)
        assert screen.answer is not None
        assert screen.answer.plan[1].because[0][:30] in screen_text(app)
        assert ("More" in screen_text(app)) == (key == "f7")
        await keys(pilot, key)
        assert "More" not in screen_text(app)


async def test_the_welcome_is_explained_not_closed_by_f1(where: Folders, make_app: Make) -> None:
    write_choices(where.config, Choices())
    async with at_rest(make_app()) as (app, pilot):
        await until(pilot, lambda: isinstance(app.screen, Welcome))
        await keys(pilot, "f1")
        assert "Enter begins" in words(app, "#sheet-text")
        await keys(pilot, "escape")
        assert isinstance(app.screen, Welcome)


async def test_the_machine_is_asked_for_with_the_previous_step_and_stays_until_it_is_left(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "m", "enter", "=topaz", "enter")
        assert isinstance(app.screen, Chooser), "lap and compound are not stated yet"
        await keys(pilot, "enter", "=tin lap", "enter", "enter", "=aluminium", "enter")
        case = app.open_case.case
        assert (case.material, case.lap) == ("topaz", "tin-lap")
        assert case.compound is not None
        assert app.screen.query_one(Rows).marked == "prior", "the advice leans on it: it is asked for too"
        await keys(pilot, "enter", "=3k", "enter")
        assert app.open_case.case.prior == "diamond-3000"
        assert isinstance(app.screen, Chooser), "it stays until it is left"
        await keys(pilot, "escape")
        assert len(app.screen_stack) == 1
        await keys(pilot, "m", "down", "enter", "=phenolic", "enter")
        assert app.open_case.case.lap == "phenolic-lap"
        assert app.screen.query_one(Rows).marked == "lap"
        await keys(pilot, "escape")
        assert len(app.screen_stack) == 1


async def test_the_answer_to_the_marked_row_is_worked_out_ahead(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        session = app.workspace._session
        assert session is not None
        ahead: list[Case] = []
        prepare = session.prepare

        def watched(case: Case) -> object:
            ahead.append(case)
            return prepare(case)

        session.prepare = watched  # type: ignore[method-assign, assignment]
        await keys(pilot, "a", "=how wet", "enter")
        await pilot.press("down")
        marked = app.screen.query_one(Rows).marked
        await until(pilot, lambda: any(case.facts.get("wetness") == marked for case in ahead))
        guessed = list(ahead)
        assert app.open_case.case.facts == {}, "nothing is stated by looking"
        await keys(pilot, "enter")
        assert app.open_case.case.facts == {"wetness": marked}
        assert app.open_case.case in guessed
