"""Trying and logging on the case screen: outcomes on disk, undo, time and note, the clock, something new."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from tests.tui.conftest import Clock
from tests.tui.steps import (
    QUARTZ,
    at_rest,
    begin,
    case_screen,
    kept,
    keys,
    screen_text,
    send,
    settle,
    status,
    until,
    words,
)

from lapwise.engine.case import Case
from lapwise.engine.errors import Damaged
from lapwise.engine.folders import Folders
from lapwise.engine.record.store import Record
from lapwise.tui.app import LapwiseApp
from lapwise.tui.running import LONGEST_SECONDS, RUNNING_FILE, keep_running, read_running
from lapwise.tui.screens.case_picture import PlanRows
from lapwise.tui.screens.sheet import Sheet

Make = Callable[..., LapwiseApp]


async def test_an_outcome_is_on_disk_when_the_screen_says_so(where: Folders, make_app: Make, clock: Clock) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        first = case_screen(app).answer.plan[0].remedy  # type: ignore[union-attr]
        await keys(pilot, "t")
        clock.seconds += 300
        await keys(pilot, "n")
        assert "Logged: no change, 5 min" in status(app)
        assert kept(where) == [(first, "no-change")]
        screen = case_screen(app)
        assert screen.answer is not None
        assert first not in [s.remedy for s in screen.answer.plan], "no change takes it out"
        assert app.controller.trying is None, "the next remedy stands first, but nobody has begun it"
        assert app.controller.elapsed() is None
        assert screen.picture.marked_step() == screen.answer.plan[0]
        assert "»" not in screen_text(app)
        clock.seconds += 60
        await keys(pilot, "n")
        assert app.open_case.last is not None
        assert app.open_case.last.minutes is None, "how long it took is not known"


async def test_a_try_that_runs_while_another_line_is_marked_is_asked_about(
    where: Folders, make_app: Make, clock: Clock
) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        first, second = (step.remedy for step in case_screen(app).answer.plan[:2])  # type: ignore[union-attr]
        await keys(pilot, "t", "down", "n")
        assert isinstance(app.screen, Sheet)
        assert "Which one do you mean?" in screen_text(app)
        assert app.open_case.case.tried == ()
        await keys(pilot, "escape")
        assert "Nothing was logged" in status(app)
        assert app.open_case.case.tried == ()
        clock.seconds += 120
        await keys(pilot, "w", "2")
        assert kept(where) == [(second, "worse")]
        assert app.open_case.last is not None
        assert app.open_case.last.minutes is None
        assert (app.controller.trying, app.controller.elapsed()) == (first, 120), "the clock of the other goes on"
        await keys(pilot, "u")
        assert (app.controller.trying, app.controller.elapsed()) == (first, 120)
        await keys(pilot, "down", "down", "b", "1")
        assert kept(where) == [(first, "better")]
        assert app.open_case.last.minutes == 2
        assert app.controller.trying is None


async def test_the_mark_stays_with_the_try_when_the_list_gets_another_order(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "down", "down", "t")
        trying = app.controller.trying
        app.controller.put("wetness", "wet")
        await settle(pilot)
        assert app.controller.trying == trying
        assert case_screen(app).picture.marked_step().remedy == trying  # type: ignore[union-attr]
        await keys(pilot, "n")
        assert app.open_case.case.tried == ((trying, "no-change"),)


async def test_fixed_closes_the_case_and_the_next_keeps_the_machine(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "t", "f")
        with Record.open(where, readonly=True) as record:
            assert record.open_cases() == []
        assert "Fixed" in words(app, "#plan-title")
        await keys(pilot, "x")
        assert app.open_case.case.material == "quartz"
        assert app.open_case.case.lap == "acrylic-lap"
        assert app.open_case.case.symptoms == ()
        assert app.open_case.case_id is None


async def test_after_a_fix_with_another_pair_the_machine_shows_that_pair(where: Folders, make_app: Make) -> None:
    """The record had the new pair, the next case with "the same machine" the old one."""
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(replace(QUARTZ, compound="diamond-50000", prior="diamond-3000"))
        case_screen(app).refresh_view()
        await settle(pilot)
        answer = case_screen(app).answer
        assert answer is not None
        step = next(s for s in answer.plan if s.to and s.to["compound"] not in (None, "diamond-50000"))
        app.screen.query_one(PlanRows).mark(step.remedy)
        await keys(pilot, "f")
        pair = (step.to["lap"] or "acrylic-lap", step.to["compound"])  # type: ignore[index]
        await keys(pilot, "x")
        case = app.open_case.case
        assert (case.material, case.lap, case.compound) == ("quartz", *pair)
        assert "which fixed it" in status(app)
    async with at_rest(make_app()) as (again, pilot):
        case = again.open_case.case
        assert (case.lap, case.compound) == pair, "nor is it forgotten with the program"
        await keys(pilot, "s", "=haze", "enter", "f", "s", "=pits", "enter")
        assert "same machine" in status(again)


async def test_undo_is_a_new_row_and_brings_the_remedy_back(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        first = case_screen(app).answer.plan[0].remedy  # type: ignore[union-attr]
        await keys(pilot, "n", "u")
        assert kept(where) == []
        assert case_screen(app).answer.plan[0].remedy == first  # type: ignore[union-attr]
        with Record.open(where, readonly=True) as record:
            steps = record.last_case().steps  # type: ignore[union-attr]
        assert [s.kind for s in steps] == ["try", "undo"]
        await keys(pilot, "u")
        assert "nothing to undo" in status(app)


async def test_a_remedy_offered_again_says_how_it_went(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        first = case_screen(app).answer.plan[0]  # type: ignore[union-attr]
        await keys(pilot, "n")
        assert "tried once" not in screen_text(app)
        app.controller.put("wetness", "wet")  # what brought no change may be tried again
        await settle(pilot)
        again = case_screen(app).answer
        assert again is not None
        assert first.remedy in [s.remedy for s in again.listed]
        line = next(t for t in screen_text(app).splitlines() if "tried once, no change" in t)
        assert first.label[:12] in line
        app.screen.query_one(PlanRows).mark(first.remedy)
        await keys(pilot, "b")
        assert "tried twice, better" in screen_text(app)


async def test_undo_keeps_what_was_stated_since(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "n")
        app.controller.put("wetness", "dry")
        await settle(pilot)
        await keys(pilot, "u")
        assert kept(where) == []
        assert app.open_case.case.facts["wetness"] == "dry"


async def test_undo_opens_a_fixed_case_again(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "f", "u")
        with Record.open(where, readonly=True) as record:
            assert len(record.open_cases()) == 1
        assert case_screen(app).answer is not None


async def test_time_and_note_can_be_corrected(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "n", "e", "=7.5", "enter", "=wet rag", "enter")
        with Record.open(where, readonly=True) as record:
            steps = [s for s in record.last_case().steps if s.kind == "try" and not s.withdrawn]  # type: ignore[union-attr]
        assert [(s.minutes, s.note) for s in steps] == [(7.5, "wet rag")]
        await keys(pilot, "e", "end", "=x", "enter", "enter")
        assert "a number" in words(app, "#ask-complaint"), "7.5x is no number of minutes"
        await keys(pilot, "escape")


async def test_two_minutes_on_one_facet_are_marked_quietly(make_app: Make, clock: Clock) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "t")
        clock.seconds += 119
        case_screen(app)._tick()
        assert "two minutes" not in words(app, "#trying")
        assert "1:59" in words(app, "#trying")
        clock.seconds += 1
        case_screen(app)._tick()
        assert "two minutes" in words(app, "#trying")


async def test_the_clock_of_a_try_goes_on_after_the_program_was_cut_off(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "down", "t")
        trying = app.controller.trying
    note = where.data / RUNNING_FILE
    kept_note = json.loads(note.read_text())
    note.write_text(json.dumps({**kept_note, "began": kept_note["began"] - 90}))
    async with at_rest(make_app()) as (again, pilot):
        screen = case_screen(again)
        assert again.controller.trying == trying
        assert 90 <= (again.controller.elapsed() or 0) < 100
        assert "The clock is still running" in status(again)
        await keys(pilot, "b")
        assert screen.open_case.last is not None
        assert screen.open_case.last.minutes == pytest.approx(1.5, abs=0.2)
        await keys(pilot, "f")
    assert not note.exists(), "nothing is being tried any more"


DAMAGED = (
    *("", "[]", "{", '{"case": 1}', '{"case": "x", "remedy": "y", "began": "soon"}', "[" * 9000),
    '{"case": "x", "remedy": "y", "began": 1' + "0" * 400 + "}",
)


@pytest.mark.parametrize("text", DAMAGED, ids=range(len(DAMAGED)))
async def test_a_clock_that_cannot_be_read_is_said_and_the_screens_start(
    make_app: Make, where: Folders, text: str
) -> None:
    with Record.open(where) as record:
        case_id = record.open_case(QUARTZ, knowledge_digest="test")
    (where.data / RUNNING_FILE).write_text(text)
    with pytest.raises(Damaged, match="lost its clock"):
        read_running(where.data, case_id)
    async with at_rest(make_app()) as (app, _):
        assert app.controller.trying is None
        assert any("lost its clock" in words for words in app.workspace.words)


def test_only_the_clock_of_this_case_and_of_today_is_taken_up(tmp_path: Path) -> None:
    assert read_running(tmp_path, "mine") is None
    keep_running(tmp_path, "mine", "let-cool", 60)
    assert read_running(tmp_path, "other") is None
    assert read_running(tmp_path, "mine") == ("let-cool", pytest.approx(60, abs=5))
    keep_running(tmp_path, "mine", "let-cool", LONGEST_SECONDS + 60)
    assert read_running(tmp_path, "mine") is None
    keep_running(tmp_path, "mine", "let-cool", -600)  # the clock was set back in between
    assert read_running(tmp_path, "mine") == ("let-cool", 0.0)
    keep_running(tmp_path / "not there", "mine", "let-cool", 60)  # a folder that cannot be written is let be


async def test_a_log_that_failed_leaves_the_clock_running(
    make_app: Make, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "t")
        clock.seconds += 45

        def full(*_: object) -> None:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr(app.workspace.cases, "log", full)
        await keys(pilot, "n")
        assert "Not logged" in status(app)
        assert app.controller.elapsed() == 45
        assert app.open_case.case.tried == ()


async def test_what_is_stated_while_a_log_is_on_its_way_stays_stated(
    where: Folders, make_app: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(QUARTZ)
        case_screen(app).refresh_view()
        await until(pilot, lambda: case_screen(app).answer is not None)
        log = app.workspace.cases.log

        def slow(*given: object) -> object:
            time.sleep(0.2)
            return log(*given)  # type: ignore[arg-type]

        monkeypatch.setattr(app.workspace.cases, "log", slow)
        send(app, "n", "n")
        await asyncio.sleep(0.05)
        await pilot.pause(0)
        app.controller.put("wetness", "dry")
        await settle(pilot)
        assert app.open_case.case.facts["wetness"] == "dry"
        assert len(app.open_case.case.tried) == 1
        assert len(kept(where)) == 1
    with Record.open(where, readonly=True) as record:
        assert len(record.cases()) == 1, "one case, whichever came first"
        assert record.last_case().case.facts["wetness"] == "dry"  # type: ignore[union-attr]


async def test_something_new_is_offered_once_there_is_a_record(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "g")
        assert "First say what you see" in status(app)
        await begin(pilot)
        await keys(pilot, "n", "g")
        assert isinstance(app.screen, Sheet)
        assert "when you have time to find out" in words(app, "#sheet-text")
        await keys(pilot, "t")
        assert app.controller.trying in {s.remedy for s in case_screen(app).answer.plan}  # type: ignore[union-attr]


async def test_a_try_asked_for_before_the_plan_is_there_begins_with_it(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(QUARTZ)
        screen = case_screen(app)
        screen.refresh_view()
        assert app.controller.ranking
        screen.do_try()
        await settle(pilot)
        assert screen.answer is not None
        assert app.controller.trying == screen.answer.plan[0].remedy


async def test_a_closed_case_says_what_follows(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "f")
        for key in ("f", "t"):
            await keys(pilot, key)
            assert "x begins the next one" in status(app)
        await keys(pilot, "x")
        await keys(pilot, "y")
        assert status(app) == "", "what was said of an earlier action does not stay"


async def test_undoing_a_look_leaves_the_clock_of_the_try(make_app: Make, clock: Clock) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "t", "l", "enter", "enter", "enter")
        assert len(app.open_case.case.saw) == 1
        clock.seconds += 30
        await keys(pilot, "u")
        assert app.open_case.case.saw == ()
        assert app.controller.elapsed() == 30


async def test_minutes_typed_take_the_place_of_those_before(make_app: Make, clock: Clock) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "t")
        clock.seconds += 60
        await keys(pilot, "n", "e", "=3.5", "enter", "enter")
        assert app.open_case.last is not None
        assert app.open_case.last.minutes == 3.5
        assert "3.5 min" in status(app)
        await keys(pilot, "h")
        assert "[corrected below:" in words(app, "#sheet-text")


async def test_the_own_clock_does_not_run_in_the_sample(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "t", "f8")
        assert app.workspace.sample
        assert app.controller.trying is None
        await keys(pilot, "f8")
        assert not app.workspace.sample
        assert app.controller.trying is not None, "and goes on behind it"


async def test_stating_something_on_a_closed_case_begins_another(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "f")
        closed = app.open_case.case
        for key in ("g", "i", "l"):
            await keys(pilot, key)
            assert "x begins the next one" in status(app)
        await keys(pilot, "m", "=stage", "enter", "=polish", "enter", "escape")
        assert app.open_case.case == closed, "what is so already changes nothing"
        await keys(pilot, "s", "=haze", "enter")
        assert "A new case" in status(app)
        assert app.open_case.case.symptoms == ("haze",)
        assert app.open_case.case.material == "quartz"
        assert app.open_case.case.tried == ()
    with Record.open(where, readonly=True) as record:
        assert len(record.cases()) == 2


async def test_undoing_a_timed_log_lets_the_try_go_on(make_app: Make, clock: Clock) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "t")
        trying = app.controller.trying
        clock.seconds += 120
        await keys(pilot, "n", "u")
        assert app.controller.trying == trying
        assert app.controller.elapsed() == 120


async def test_corrections_of_other_facets_alone_are_no_trouble_to_advise_on(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(Case("quartz", corrections=((12.0, 42.0, 0.1, 0.2),)))
        case_screen(app).refresh_view()
        await settle(pilot)
        assert case_screen(app).answer is None
        assert app.open_case.case_id is not None, "but they are kept"


async def test_a_record_that_can_no_longer_be_read_does_not_end_the_program(
    make_app: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looking back on own laps and what was seen lately ended it (WorkerFailed)."""
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "f")

        def unreadable() -> object:
            raise Damaged("the record is damaged: run `lapwise record check`")

        monkeypatch.setattr(app.workspace.cases, "lately", unreadable)
        await keys(pilot, "x")
        assert "the record is damaged" in status(app)
        assert app.open_case.case.symptoms == ()
        await keys(pilot, "s", "=haze", "enter")
        assert case_screen(app).answer is not None
