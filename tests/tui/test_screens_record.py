"""The record's screen: cases listed and opened, own laps as a filter, empty views, files in and out, long work."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.tui.steps import at_rest, keys, screen_text, settle, status, until, words

from lapwise.engine.case import Case
from lapwise.engine.folders import Folders, folders
from lapwise.engine.record.backup import backups_in
from lapwise.engine.record.exchange import export_lines
from lapwise.engine.record.file import backup_folder
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.store import Record
from lapwise.engine.wording import small
from lapwise.tui.app import LapwiseApp
from lapwise.tui.present.words import bench_time
from lapwise.tui.screens.long_work import LongWork
from lapwise.tui.screens.record import EMPTY, RecordScreen
from lapwise.tui.screens.record_cases import CaseRows
from lapwise.tui.widgets.lines import Lines

Make = Callable[..., LapwiseApp]
TOPAZ = Case("topaz", "tin-alloy-lap", "diamond-50000", symptoms=("fine-scratches",))


def log(where: Folders, case: Case, remedy: str, outcome: str, minutes: float | None = None, note: str = "") -> str:
    """One outcome in a case of its own; the id of the case."""
    with Record.open(where) as record:
        case_id = record.open_case(case)
        record.log_outcome(
            case,
            remedy,
            outcome,  # type: ignore[arg-type]
            minutes=minutes,
            note=note,
            knowledge_digest="",
            case_id=case_id,
        )
        return case_id


def sheet(app: LapwiseApp) -> str:
    """What stands on the sheet on top."""
    return app.screen.query_one("#sheet-text", Lines).plain


def exported(where: Folders) -> list[str]:
    """All rows of a record."""
    with Record.open(where, readonly=True) as record:
        return list(export_lines(record))


def theirs(tmp_path: Path, cases: int = 1) -> Path:
    """Another bench's record as a file, with a lap of theirs."""
    giver = folders(tmp_path / "giver")
    with Record.open(giver) as record:
        lap = record.add_lap(OwnLap("Club zinc", "zinc-lap", carries=("diamond-50000",)))
        for _ in range(cases):
            case = Case("topaz", "zinc-lap", "diamond-50000", symptoms=("haze",), own_lap=lap)
            record.log_outcome(case, "clean-lap", "no-change", minutes=None, knowledge_digest="")
    file = tmp_path / "theirs.jsonl"
    file.write_text("\n".join(exported(giver)) + "\n", encoding="utf-8")
    return file


async def name_file(pilot, app: LapwiseApp, path: Path | str) -> None:  # type: ignore[no-untyped-def]
    """Type the name of a file where one is asked for."""
    app.screen.query_one("#blank-file").value = str(path)  # type: ignore[attr-defined]
    await keys(pilot, "enter")


async def bring_in(pilot, app: LapwiseApp, path: Path, *how: str) -> None:  # type: ignore[no-untyped-def]
    """On the record's screen: import a file and say ``how`` it is to be taken in."""
    await keys(pilot, "4", "i")
    await name_file(pilot, app, path)
    await keys(pilot, *how, "enter")


# --- cases ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [60, 80, 120])
async def test_a_line_of_a_case_tells_lap_compound_and_cure_and_no_minutes_nobody_took(
    width: int, make_app: Make, where: Folders
) -> None:
    log(where, TOPAZ, "slow-down", "fixed")
    log(where, TOPAZ, "clean-lap", "fixed", 3.5)
    async with at_rest(make_app(), (width, 24)) as (app, pilot):
        await keys(pilot, "4", "v", "v", "v", "v")
        rows = [" ".join(line.split()) for line in screen_text(app).splitlines()]
        at = next(i for i, row in enumerate(rows) if "fixed" in row)
        assert rows[at].endswith("Topaz fixed 3.5 min")
        assert rows[at + 1].startswith("tin-alloy lap with 5")
        assert rows[at + 1].endswith("→ " + small(app.workspace.knowledge.label("clean-lap")))
        assert rows[at + 2].endswith("Topaz fixed"), "not timed is not 0 min"
        assert rows[at + 3].endswith("→ slow the lap down")
        assert "0 min" not in screen_text(app)


async def test_a_case_is_opened_by_key_and_tap_and_tells_all_of_it(make_app: Make, where: Folders) -> None:
    with Record.open(where) as record:
        lap = record.add_lap(OwnLap("Old tin", "tin-alloy-lap"))
    case = Case(
        "topaz", "tin-alloy-lap", "diamond-50000", prior="diamond-3000", symptoms=("fine-scratches",), own_lap=lap
    )
    log(where, case, "slow-down", "fixed", 4.0, note="held it still")
    log(where, TOPAZ, "clean-lap", "no-change")
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "4", "enter")
        assert app.screen.query_one(CaseRows).display, "enter leads to the cases"
        await keys(pilot, "down", "enter")
        text = sheet(app)
        for part in (
            "fixed, 4 min in all",
            "“Old tin” with 50000 diamond",
            "Previous step: 3000 diamond",
            "held it still",
        ):
            assert part in text
        assert "Slow the lap down: fixed it, 4 min" in text
        assert "Go on with it" not in screen_text(app), "it is closed"
        await keys(pilot, "escape")
        await pilot.click(CaseRows, offset=(20, 1), times=2)
        await settle(pilot)
        assert "open, not timed." in sheet(app)


async def test_an_open_case_is_gone_on_with_and_the_other_stays(make_app: Make, where: Folders) -> None:
    first = log(where, Case("emerald", "tin-lap", "aluminium-oxide", symptoms=("haze",)), "clean-lap", "no-change", 5.0)
    second = log(where, TOPAZ, "clean-lap", "no-change")
    async with at_rest(make_app()) as (app, pilot):
        assert app.open_case.case_id == second
        await keys(pilot, "4", "enter", "m", "=all stones", "enter", "enter")
        assert "Go on with it" not in screen_text(app), "it is the one at hand"
        await keys(pilot, "escape", "down", "enter", "g")
        assert app.current_mode == "case"
        assert app.open_case.case_id == first
        assert app.open_case.case.material == "emerald"
        await keys(pilot, "n")
    with Record.open(where, readonly=True) as record:
        assert len(record.case(first).case.tried) == 2
        assert record.case(second).open


async def test_what_was_imported_is_marked_and_cannot_be_gone_on_with(
    make_app: Make, where: Folders, tmp_path: Path
) -> None:
    file = theirs(tmp_path)
    async with at_rest(make_app()) as (app, pilot):
        await bring_in(pilot, app, file)
        assert "Added: 1 case row, 1 lap row, 1 step row" in sheet(app)
        await keys(pilot, "escape", "enter")
        assert "open, imported" in screen_text(app)
        await keys(pilot, "enter")
        assert "somebody else's" in sheet(app)
        assert "“Club zinc”" in sheet(app)
        assert "Go on with it" not in screen_text(app)
        await keys(pilot, "escape", "l")
        assert "From other records" in screen_text(app)
        await keys(pilot, "escape", "5")
        assert "From other records" in screen_text(app)
        await keys(pilot, "end")
        assert "somebody else's" in words(app, "#lap-text")


# --- what works ----------------------------------------------------------------------------------------------


async def test_what_never_worked_is_said_in_words(make_app: Make, where: Folders) -> None:
    log(where, TOPAZ, "clean-lap", "no-change")
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "4")
        text = words(app, "#record-text")
        assert f"has not fixed it yet: {small(app.workspace.knowledge.label('clean-lap'))} (once)" in text
        assert "0 of 1" not in screen_text(app)
        assert "├─●─┤" not in text, "no line is drawn, so none is explained"
        assert "v Next" in screen_text(app)
        assert "Nothing yet: a case counts here once it is closed" in " ".join(text.split())


async def test_own_laps_are_a_filter(make_app: Make, where: Folders) -> None:
    with Record.open(where) as record:
        tin, board = (record.add_lap(OwnLap(name, "tin-alloy-lap")) for name in ("Old tin", "Board"))
    for lap, remedy in ((tin, "slow-down"), (tin, "slow-down"), (board, "clean-lap")):
        log(where, Case("topaz", "tin-alloy-lap", "diamond-50000", own_lap=lap), remedy, "fixed", 4.0)
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "4", "l", "=old tin", "enter")
        text = words(app, "#record-text")
        assert "Slow the lap down" in text
        assert app.workspace.knowledge.label("clean-lap") not in text
        assert "Lap Old tin" in screen_text(app)
        assert "Logged 2 cases" in screen_text(app)
        await keys(pilot, "enter")
        assert len(app.screen.query_one(CaseRows).rows) == 2
        await keys(pilot, "l", "=all laps", "enter")
        assert len(app.screen.query_one(CaseRows).rows) == 3


async def test_an_empty_view_says_what_will_stand_there(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "4")
        for view in EMPTY:
            assert isinstance(app.screen, RecordScreen)
            assert app.screen.view == view
            assert EMPTY[view] in words(app, "#record-text")
            assert "case screen" in words(app, "#record-text")
            await keys(pilot, "v")
        await keys(pilot, "l")
        assert "no lap of your own yet" in status(app)
        await keys(pilot, "r")
        assert "Another file" in screen_text(app)
        await keys(pilot, "escape", "5")
        assert "will show each lap" in screen_text(app)


async def test_what_is_kept_can_be_read_and_files_are_reached_from_anywhere(make_app: Make, where: Folders) -> None:
    log(where, TOPAZ, "slow-down", "fixed", 4.0)
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "f10")
        await until(pilot, lambda: "What you may rely on" in screen_text(app) or "on disk before" in screen_text(app))
        text = screen_text(app)
        assert "test_" not in text
        assert "An outcome is on disk before" in text
        await keys(pilot, "escape", "f1")
        assert "What you may rely on" in sheet(app)
        await keys(pilot, "escape", "ctrl+p", "=what is kept")
        await until(pilot, lambda: "What you may rely on" in screen_text(app))
        await keys(pilot, "escape", "ctrl+p", "=record: back up")
        await until(pilot, lambda: "Record: Back up" in screen_text(app))
        await keys(pilot, "enter")
        await until(pilot, lambda: app.current_mode == "record" and "Backed up to" in status(app))


# --- files ---------------------------------------------------------------------------------------------------


async def test_rows_table_and_copy_go_out_whole_and_write_over_nothing(
    make_app: Make, where: Folders, tmp_path: Path
) -> None:
    log(where, TOPAZ, "slow-down", "fixed", 4.0)
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "4")
        for typed, name in (("rows", "out.jsonl"), ("table", "out.csv"), ("copy", "out.sqlite3")):
            await keys(pilot, "e", f"={typed}", "enter")
            await name_file(pilot, app, tmp_path / name)
            assert "Written to" in status(app)
            await keys(pilot, "e", f"={typed}", "enter")
            await name_file(pilot, app, tmp_path / name)
            assert "there" in status(app)
            assert "already" in status(app)
    assert (tmp_path / "out.jsonl").read_text().splitlines() == exported(where)
    assert len((tmp_path / "out.csv").read_text().splitlines()) == 2
    assert (tmp_path / "out.sqlite3").stat().st_size
    assert not list(tmp_path.glob(".*.part"))


async def test_a_trial_adds_nothing_and_ones_own_record_is_ones_own(
    make_app: Make, where: Folders, tmp_path: Path
) -> None:
    file = theirs(tmp_path)
    async with at_rest(make_app()) as (app, pilot):
        await bring_in(pilot, app, file, "=only see")
        assert "Would be added: 1 case row" in sheet(app)
        await keys(pilot, "escape")
        assert not where.record.exists() or len(exported(where)) == 1
        await bring_in(pilot, app, file, "=my own")
        await keys(pilot, "escape")
        with Record.open(where, readonly=True) as record:
            assert record.open_cases()[0].yours
        await bring_in(pilot, app, tmp_path / "not there.jsonl")
        assert "not there.jsonl: No such file" in status(app)


async def test_a_copy_is_made_and_brought_back(make_app: Make, where: Folders) -> None:
    log(where, TOPAZ, "slow-down", "fixed", 4.0)
    before = exported(where)
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "4", "b")
        assert "Backed up to" in status(app)
        await keys(pilot, "r")
        assert "made by you" in screen_text(app)
        await keys(pilot, "enter")
        assert "Added: nothing new" in sheet(app)
    copy = next(path for path in backups_in(backup_folder(where)) if path.stem.endswith("-backup"))
    for path in where.data.glob("record.sqlite3*"):
        path.unlink()
    copy.rename(where.data / "kept elsewhere.sqlite3")
    async with at_rest(make_app()) as (again, pilot):
        assert "Record (4), then r" in sheet(again)
        await keys(pilot, "escape", "4", "r", "=another", "enter")
        await name_file(pilot, again, where.data / "kept elsewhere.sqlite3")
        assert "Added: 1 case row, 1 step row" in sheet(again)
        await keys(pilot, "escape")
        assert "Slow the lap down" in words(again, "#record-text") or again.open_case.case.material != "topaz"
    assert exported(where) == before


async def test_a_damaged_record_is_checked_and_repaired(make_app: Make, where: Folders) -> None:
    for _ in range(3):
        log(where, TOPAZ, "slow-down", "fixed", 4.0)
    with Record.open(where) as record, record.writing() as connection:
        connection.execute("UPDATE case_now SET open = 1 - open")
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "4", "k")
        assert "out of step" in sheet(app)
        await keys(pilot, "y")
        assert "worked out again" in sheet(app)
        await keys(pilot, "escape", "k")
        assert "in order: 3 cases" in status(app)


async def test_long_work_shows_what_is_left_and_stopped_leaves_all_as_it_was(
    make_app: Make, where: Folders, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log(where, TOPAZ, "slow-down", "fixed", 4.0)
    file, before = theirs(tmp_path, 3), exported(where)
    go, at_it = threading.Event(), threading.Event()

    def slow(record, source, *, progress, **how):  # type: ignore[no-untyped-def]
        """The import, held up in its midst until the test lets it go."""
        from lapwise.engine.record.exchange import import_lines

        def told(done: int, share: float | None) -> None:
            progress(200, 0.4)
            at_it.set()
            assert go.wait(20)
            progress(300, 0.5)

        monkeypatch.setattr("lapwise.engine.record.exchange.EVERY", 1)
        return import_lines(record, source, progress=told, **how)

    monkeypatch.setattr("lapwise.tui.screens.record_files.import_lines", slow)
    for module in ("app", "pilot"):  # the screen does not rest while it is held up
        monkeypatch.setattr(f"textual.{module}.wait_for_idle", asyncio.sleep)
    async with at_rest(make_app()) as (app, pilot):
        for way in ("escape", "tap", "elsewhere"):
            go.clear()
            at_it.clear()
            await keys(pilot, "4", "i")
            app.screen.query_one("#blank-file").value = str(file)  # type: ignore[attr-defined]
            await pilot.press("enter")
            await until(pilot, lambda: bool(app.screen.query("#chooser-filter")))
            await pilot.press("enter")
            await until(pilot, lambda: at_it.is_set() and isinstance(app.screen, LongWork))
            await until(pilot, lambda: "40 %" in words(app, "#long-work-far"))
            await until(pilot, lambda: "left" in screen_text(app))
            assert "Importing" in screen_text(app)
            assert isinstance(app.screen, LongWork)
            work = app.screen._underway
            if way == "escape":
                await pilot.press("escape")
            elif way == "tap":
                await pilot.click("#long-work-bar", offset=(30, 0))
            else:
                app.action_area("laps")
            await until(pilot, lambda work=work: work.stopping)  # type: ignore[misc]
            go.set()
            await settle(pilot)
            assert "everything is as it was" in status(app)
            assert exported(where) == before
            assert not isinstance(app.screen, LongWork)
        go.set()
        await bring_in(pilot, app, file)
        assert "Added: 3 case rows" in sheet(app), "and not stopped, it is taken in"


def test_times_are_those_of_the_bench(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "BENCH-05:30")  # POSIX counts the other way: half past five ahead
    time.tzset()
    try:
        assert bench_time("2026-03-01T20:05:00+00:00") == "2026-03-02 01:35"
        assert bench_time("2026-03-01T20:05:00.123Z") == "2026-03-02 01:35"
        assert bench_time("damaged") == "damaged"
    finally:
        monkeypatch.undo()
        time.tzset()
