"""The case screen on the real engine: the common path, the record behind it, undo, what-if, looks, the clock."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from tests.tui.conftest import Clock
from tests.tui.steps import keys, screen_text, send, settle, status, until, words
from textual.pilot import Pilot

from lapwise.engine.case import Case
from lapwise.engine.folders import Folders
from lapwise.engine.record.store import Record
from lapwise.tui.app import LapwiseApp
from lapwise.tui.running import LONGEST_SECONDS, RUNNING_FILE, keep_running, read_running
from lapwise.tui.screens.case import CaseScreen
from lapwise.tui.screens.chooser import Chooser
from lapwise.tui.screens.sheet import Sheet
from lapwise.tui.service import Bench

Make = Callable[..., LapwiseApp]
QUARTZ = Case("quartz", "acrylic-lap", "cerium-oxide", symptoms=("fine-scratches",))


def case_screen(app: LapwiseApp) -> CaseScreen:
    screen = app.screen
    assert isinstance(screen, CaseScreen)
    return screen


async def begin(pilot: Pilot[None]) -> None:
    """Quartz with hairlines on the bench, ranked."""
    app = pilot.app
    assert isinstance(app, LapwiseApp)
    app.restate(QUARTZ)
    case_screen(app).refresh_view()
    await settle(pilot)


def kept(where: Folders) -> list[tuple[str, str]]:
    """(remedy, outcome) of the newest case as another process would read it."""
    with Record.open(where, readonly=True) as record:
        last = record.last_case()
        assert last is not None
        return list(last.case.tried)


async def test_from_the_start_to_a_plan_in_six_keys(where: Folders, make_app: Make) -> None:
    with Record.open(where) as record:
        case_id = record.open_case(QUARTZ)
        record.log_outcome(QUARTZ, "less-compound", "fixed", minutes=3, knowledge_digest="", case_id=case_id)
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert app.desk.case.material == "quartz", "the machine is as it was last time"
        assert not app.desk.case.symptoms
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


async def test_an_outcome_is_on_disk_when_the_screen_says_so(where: Folders, make_app: Make, clock: Clock) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
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
        assert screen.trying == screen.answer.plan[0].remedy, "the next remedy follows by itself"
        clock.seconds += 60
        assert screen.elapsed() == 60


async def test_fixed_closes_the_case_and_the_next_keeps_the_machine(where: Folders, make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await begin(pilot)
        await keys(pilot, "t", "f")
        with Record.open(where, readonly=True) as record:
            assert record.open_cases() == []
        assert "Fixed" in words(app, "#plan-title")
        await keys(pilot, "x")
        assert app.desk.case.material == "quartz"
        assert app.desk.case.lap == "acrylic-lap"
        assert app.desk.case.symptoms == ()
        assert app.desk.case_id is None


async def test_undo_is_a_new_row_and_brings_the_remedy_back(where: Folders, make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await begin(pilot)
        first = case_screen(app).answer.plan[0].remedy  # type: ignore[union-attr]
        await keys(pilot, "n", "u")
        assert kept(where) == []
        assert case_screen(app).answer.plan[0].remedy == first  # type: ignore[union-attr]
        with Record.open(where, readonly=True) as record:
            steps = record.last_case().steps  # type: ignore[union-attr]
        assert [s.kind for s in steps] == ["try", "undo"]
        await keys(pilot, "u")
        assert "nothing to take back" in status(app)


async def test_undo_keeps_what_was_stated_since(where: Folders, make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await begin(pilot)
        await keys(pilot, "n")
        case_screen(app).put("wetness", "dry")
        await settle(pilot)
        await keys(pilot, "u")
        assert kept(where) == []
        assert app.desk.case.facts["wetness"] == "dry"


async def test_undo_opens_a_fixed_case_again(where: Folders, make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await begin(pilot)
        await keys(pilot, "f", "u")
        with Record.open(where, readonly=True) as record:
            assert len(record.open_cases()) == 1
        assert case_screen(app).answer is not None


async def test_time_and_note_can_be_corrected(where: Folders, make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await begin(pilot)
        await keys(pilot, "n", "e", "=7.5", "enter", "=wet rag", "enter")
        with Record.open(where, readonly=True) as record:
            steps = [s for s in record.last_case().steps if s.kind == "try" and not s.withdrawn]  # type: ignore[union-attr]
        assert [(s.minutes, s.note) for s in steps] == [(7.5, "wet rag")]
        await keys(pilot, "e", "end", "=x", "enter", "enter")
        assert "a number" in words(app, "#ask-complaint"), "7.5x is no number of minutes"
        await keys(pilot, "escape")


async def test_a_look_that_was_answered_moves_the_ranking(where: Folders, make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await begin(pilot)
        before = {c.id: c.probability for c in case_screen(app).answer.causes}  # type: ignore[union-attr]
        await keys(pilot, "l", "=loupe", "enter", "enter", "=crooked", "enter")
        assert app.desk.case.saw == (("loupe-check", "crooked"),)
        after = {c.id: c.probability for c in case_screen(app).answer.causes}  # type: ignore[union-attr]
        assert after["earlier-damage"] > before["earlier-damage"]
        with Record.open(where, readonly=True) as record:
            assert record.last_case().case.saw == (("loupe-check", "crooked"),)  # type: ignore[union-attr]


async def test_what_if_changes_nothing_until_it_is_kept(make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await begin(pilot)
        await keys(pilot, "i", "=how wet", "enter", "=dry", "enter")
        assert isinstance(app.screen, Sheet)
        text = screen_text(app)
        assert "wetness were: dry" in text
        assert any(mark in text for mark in "▲▼＋－")
        await keys(pilot, "escape")
        assert "wetness" not in app.desk.case.facts
        await keys(pilot, "i", "=how wet", "enter", "=dry", "enter", "k")
        assert app.desk.case.facts["wetness"] == "dry"


async def test_two_minutes_on_one_facet_are_marked_quietly(make_app: Make, clock: Clock) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await begin(pilot)
        await keys(pilot, "t")
        clock.seconds += 119
        case_screen(app)._tick()
        assert "two minutes" not in words(app, "#trying")
        assert "1:59" in words(app, "#trying")
        clock.seconds += 1
        case_screen(app)._tick()
        assert "two minutes" in words(app, "#trying")


async def test_the_case_is_still_open_after_a_new_start(where: Folders, make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await begin(pilot)
        await keys(pilot, "n")
        tried = app.desk.case.tried
    again = make_app()
    async with again.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert again.desk.case.tried == tried
        assert again.desk.case.symptoms == ("fine-scratches",)
        assert "still open" in status(again)


async def test_the_better_order_waits_for_the_mark(make_app: Make, clock: Clock) -> None:
    app = make_app(exact_seconds=2.0)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        app.restate(QUARTZ)
        screen = case_screen(app)
        await settle(pilot)
        answer = await app.bench.do(app.bench.quick, app.desk.case)
        screen.show_answer(answer)
        better = replace(answer, plan=tuple(reversed(answer.plan)), exact=True)

        async def ready(case: Case) -> object:
            return better

        app.bench.exact_in_time = ready  # type: ignore[method-assign, assignment]
        await pilot.press("down")
        await screen._improve(app.bench, app.desk.case)
        assert screen.answer is answer, "the mark is on its way down the list"
        await pilot.press("up")
        clock.seconds += 60
        await screen._improve(app.bench, app.desk.case)
        assert screen.answer is better


async def test_a_record_that_cannot_be_written_is_said_and_loses_no_advice(where: Folders, make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        where.data.mkdir(parents=True, exist_ok=True)
        where.record.mkdir()
        await begin(pilot)
        await keys(pilot, "n")
        assert "Not logged" in status(app) or "Not kept" in status(app)
        assert case_screen(app).answer is not None


async def test_a_filter_shortens_the_list_as_one_types(make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "m", "enter")
        assert isinstance(app.screen, Chooser)
        from lapwise.tui.widgets.rows import Rows

        everything = len(app.screen.query_one(Rows).rows)
        await keys(pilot, "=spess")
        few = app.screen.query_one(Rows).rows
        assert 1 <= len(few) < everything
        await keys(pilot, "enter")
        assert app.desk.case.material == "garnet-spessartine"


async def test_the_sample_never_touches_the_record(where: Folders, make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "f8")
        await until(pilot, lambda: app.bench.sample and app.bench.ready)
        await settle(pilot)
        assert app.desk.case.material == "garnet-spessartine"
        await keys(pilot, "t", "n")
        assert "Logged" in status(app)
        await keys(pilot, "f8")
        await until(pilot, lambda: not app.bench.sample)
        await settle(pilot)
        assert app.desk.case.material is None
    assert not where.record.exists()


async def test_only_the_newest_question_is_thought_through(where: Folders, monkeypatch: pytest.MonkeyPatch) -> None:
    bench = Bench(where, exact_seconds=1.0)
    asked: list[Case] = []

    def slow(case: Case, cancelled: object = None) -> str:
        asked.append(case)
        time.sleep(0.1)
        return case.material or ""

    monkeypatch.setattr(bench, "exact", slow)
    cases = [replace(QUARTZ, material=m) for m in ("quartz", "topaz", "beryl", "opal")]
    answers = await asyncio.gather(*(bench.exact_in_time(case) for case in cases))
    assert answers[-1] == "opal"
    assert len(asked) <= 2, "what was asked anew is not worked out"
    bench.close()


async def test_the_clock_of_a_try_goes_on_after_the_program_was_cut_off(where: Folders, make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await begin(pilot)
        await keys(pilot, "down", "t")
        trying = case_screen(app).trying
    note = where.data / RUNNING_FILE
    kept_note = json.loads(note.read_text())
    note.write_text(json.dumps({**kept_note, "began": kept_note["began"] - 90}))
    again = make_app()
    async with again.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        screen = case_screen(again)
        assert screen.trying == trying
        assert 90 <= (screen.elapsed() or 0) < 100
        assert "The clock of the try runs on" in status(again)
        await keys(pilot, "b")
        assert screen.desk.last is not None
        assert screen.desk.last.minutes == pytest.approx(1.5, abs=0.2)
        await keys(pilot, "f")
    assert not note.exists(), "nothing is being tried any more"


@pytest.mark.parametrize("text", ["", "[]", "{", '{"case": 1}', '{"case": "x", "remedy": "y", "began": "soon"}'])
def test_a_clock_that_cannot_be_read_is_none(tmp_path: Path, text: str) -> None:
    (tmp_path / RUNNING_FILE).write_text(text)
    assert read_running(tmp_path, "x") is None


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
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await begin(pilot)
        await keys(pilot, "t")
        clock.seconds += 45

        def full(*_: object) -> None:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr(app.bench, "log", full)
        await keys(pilot, "n")
        assert "Not logged" in status(app)
        assert case_screen(app).elapsed() == 45
        assert app.desk.case.tried == ()


async def test_what_is_stated_while_a_log_is_on_its_way_stays_stated(
    where: Folders, make_app: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        app.restate(QUARTZ)
        case_screen(app).refresh_view()
        await until(pilot, lambda: case_screen(app).answer is not None)
        log = app.bench.log

        def slow(*given: object) -> object:
            time.sleep(0.2)
            return log(*given)  # type: ignore[arg-type]

        monkeypatch.setattr(app.bench, "log", slow)
        send(app, "n", "n")
        await asyncio.sleep(0.05)
        await pilot.pause(0)
        case_screen(app).put("wetness", "dry")
        await settle(pilot)
        assert app.desk.case.facts["wetness"] == "dry"
        assert len(app.desk.case.tried) == 1
        assert len(kept(where)) == 1
    with Record.open(where, readonly=True) as record:
        assert len(record.cases()) == 1, "one case, whichever came first"
        assert record.last_case().case.facts["wetness"] == "dry"  # type: ignore[union-attr]


async def test_something_new_is_offered_once_there_is_a_record(make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "g")
        assert "First say what you see" in status(app)
        await begin(pilot)
        await keys(pilot, "n", "g")
        assert isinstance(app.screen, Sheet)
        assert "finding out matters more than time" in words(app, "#sheet-text")
        await keys(pilot, "t")
        assert case_screen(app).trying in {s.remedy for s in case_screen(app).answer.plan}  # type: ignore[union-attr]
