"""Correction, record and laps on the real engine, by keys and by mouse."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from rich.cells import cell_len
from tests.tui.steps import at_rest, keys, screen_text, settle, status, until, words

from lapwise.engine.case import Case, FacetSetting, Trial
from lapwise.engine.folders import Folders, folders
from lapwise.engine.machine import MachineProfile, save_profile
from lapwise.engine.record.exchange import export_lines, import_lines
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.store import Record
from lapwise.tui.app import LapwiseApp
from lapwise.tui.present.words import taken
from lapwise.tui.screens.correction import CorrectionScreen
from lapwise.tui.screens.laps import LapsScreen
from lapwise.tui.screens.record import RecordScreen, minute_lines
from lapwise.tui.screens.settings import Setting, resized, settings_of, trials_of
from lapwise.tui.widgets.facet_map import FacetPicture
from lapwise.tui.widgets.rows import Rows

Make = Callable[..., LapwiseApp]
FACET = FacetSetting(part="pavilion", angle=42.0, index=30.0, gear=96, size_mm=(9.0, 6.0))
PROFILE = MachineProfile(gear=96, numbers_run="clockwise", fine_mark="degrees", fine_mark_size=0.1, knob="reversed")


def correction(app: LapwiseApp) -> CorrectionScreen:
    screen = app.screen
    assert isinstance(screen, CorrectionScreen)
    return screen


async def mark(pilot, app: LapwiseApp, letters: str) -> None:  # type: ignore[no-untyped-def]
    """Type a whole map, row by row."""
    picture = app.screen.query_one("#facet", FacetPicture)
    picture.row = picture.column = 0
    if not app.choices.goes_on:
        await keys(pilot, "m")
    await keys(pilot, "=" + letters.replace("/", "").translate(str.maketrans("BD?", "bdk")))


# --- correction ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("letters", "sense", "side"),
    [
        ("BBD/BBD/BBD", "counter-clockwise ↺", "right"),
        ("DBB/DBB/DBB", "clockwise ↻", "left"),
        ("BBB/BBB/DDD", "Raise the angle ↑", "girdle end"),
        ("DDD/BBB/BBB", "Lower the angle ↓", "culet end"),
    ],
)
async def test_the_arrow_stands_at_the_dull_side_and_the_words_say_the_turn(
    make_app: Make, letters: str, sense: str, side: str
) -> None:
    """Dull on the right: counter-clockwise seen from behind the handpiece; the dull side must go down. Common
    practice, no source; the geometry itself is checked against full rotations in tests of the engine."""
    async with at_rest(make_app(), (100, 30)) as (app, pilot):
        app.controller.state(Case("quartz", prior="diamond-3000", facet=FACET))
        await keys(pilot, "2")
        await mark(pilot, app, letters)
        text = words(app, "#advice")
        assert sense in text
        picture = screen_text(app)
        assert "DOWN" in picture
        row = next(line for line in picture.splitlines() if "DOWN" in line)
        if side in ("right", "left"):
            outline = [at for at, letter in enumerate(row[:50]) if "⠀" <= letter <= "⣿"]
            assert len(outline) == 2
            word = row[:50].find("DOWN")
            assert word > outline[1] if side == "right" else 0 <= word < outline[0]
        else:
            assert f"▼ {side} must go DOWN ▼" in picture
        assert app.open_case.case.facet.trials[-1].map == letters
        assert app.open_case.case_id is not None, "every mark is kept as it is made"


async def test_turned_as_told_until_it_is_done(make_app: Make, where: Folders) -> None:
    save_profile(where, PROFILE)
    async with at_rest(make_app(), (100, 30)) as (app, pilot):
        app.controller.state(Case("quartz", prior="diamond-3000", facet=FACET))
        await keys(pilot, "2")
        await mark(pilot, app, "BBD/BBD/BBD")
        text = words(app, "#advice")
        assert "marks of the fine index" in text
        assert "knob clockwise ↻, against the way the stone goes" in text, "the knob of this machine is reversed"
        answer = correction(app).answer
        assert answer is not None
        assert answer.turn.degrees < 0
        await keys(pilot, "t", "f")
        assert correction(app).setting.turn == answer.next_turn
        await mark(pilot, app, "BBB/BBB/BBB")
        assert correction(app).answer.done  # type: ignore[union-attr]
        assert "Bright all over: done" in status(app)
        assert "Settings so far" in words(app, "#advice")
        trials = app.open_case.case.facet.trials
        assert [t.fresh for t in trials] == [False, True]
        await keys(pilot, "u")
        assert app.open_case.case.facet.trials[-1].map == "BBB/BBB/BB?", "one mark is taken back, not the map"
        for _ in range(10):  # eight marks, the f, and the turn itself
            await keys(pilot, "u")
        assert "Back to the setting before" in status(app)
        assert [t.map for t in app.open_case.case.facet.trials] == ["BBD/BBD/BBD"]
        await keys(pilot, "u")
        assert [t.map for t in app.open_case.case.facet.trials] == ["BBD/BBD/BB?"]


async def test_cells_by_click_and_drag(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "2")
        picture = app.screen.query_one("#facet", FacetPicture)
        wide, high = picture._cell()
        left = picture._left(wide) + 1

        def place(row: int, column: int) -> tuple[int, int]:
            return (left + column * wide + wide // 2, 2 + row * high + high // 2)

        await pilot.click("#facet", offset=place(1, 1))
        await settle(pilot)
        assert picture.grid == ("???", "?B?", "???")
        for mark in "D?B":
            await pilot.click("#facet", offset=place(1, 1))
            await settle(pilot)
            assert picture.grid[1][1] == mark, "a tap never says that there is no stone"
        await pilot.mouse_down("#facet", offset=place(0, 2))
        await pilot.hover("#facet", offset=place(1, 2))
        await pilot.hover("#facet", offset=place(2, 2))
        await pilot.mouse_up("#facet", offset=place(2, 2))
        await settle(pilot)
        assert picture.grid == ("??B", "?BB", "??B")


async def test_ink_map_finer_rest_and_no_stone(make_app: Make) -> None:
    async with at_rest(make_app(), (120, 40)) as (app, pilot):
        await keys(pilot, "2", "m", "i", "b", "d", "o")
        assert app.open_case.case.facet.trials == (Trial(0.0, 0.0, "RN./???/???", ink=True),)
        await keys(pilot, "B")
        assert app.open_case.case.facet.trials[0].map == "RN./RRR/RRR"
        await keys(pilot, "i", "plus")
        assert len(app.screen.query_one("#facet", FacetPicture).grid) == 4
        await keys(pilot, "minus", "minus", "minus")
        assert len(app.screen.query_one("#facet", FacetPicture).grid) == 3
        before = app.open_case.case.facet.trials
        await keys(pilot, "x")
        assert app.open_case.case.facet.trials == ()
        assert "u brings" in status(app)
        await keys(pilot, "u")
        assert app.open_case.case.facet.trials == before, "what one key forgot, one key brings back"
        await keys(pilot, "x", "b", "u", "u")
        assert app.open_case.case.facet.trials != before, "once something else is marked it is gone"


@pytest.mark.parametrize("width", [60, 80, 120])
async def test_what_the_marks_mean_is_never_cut(width: int, make_app: Make) -> None:
    async with at_rest(make_app(), (width, 24)) as (app, pilot):
        await keys(pilot, "2")
        for _ in range(2):
            legend, text = app.screen.query_one("#map-legend"), words(app, "#map-legend")
            await until(pilot, lambda w=legend, t=text: cell_len(t) <= w.content_size.width)  # type: ignore[misc]
            assert len(status(app)) <= width - 2
            await keys(pilot, "i")
        await mark(pilot, app, "BBD/BBD/BBD")
        await keys(pilot, "t")
        assert "Setting 2" in status(app)
        assert len(status(app)) <= width - 2


async def test_one_figure_is_rounded_in_one_way(make_app: Make) -> None:
    async with at_rest(make_app(), (100, 40)) as (app, pilot):
        app.controller.state(Case("quartz", prior="diamond-3000", facet=FACET))
        await keys(pilot, "2")
        await mark(pilot, app, "BBD/BBD/BDD")
        text = words(app, "#advice")
        indices = re.findall(r"\b(?:29|30)\.\d+", text)
        assert len(indices) == 4
        assert len(set(indices)) == 2
        answer = correction(app).answer
        assert answer is not None
        for nudge in (answer.turn.degrees, answer.angle.degrees):
            size = abs(nudge)
            said = {f for f in re.findall(r"(\d+\.\d+)°", text) if abs(float(f) - size) < 0.006}
            assert len(said) == 1


async def test_what_was_turned_otherwise_can_be_stated(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(Case(facet=FACET))
        await keys(pilot, "2")
        await mark(pilot, app, "BBD/BBD/BBD")
        await keys(pilot, "e", *["backspace"] * 10, "=-0.5", "enter", *["backspace"] * 10, "=9x", "enter")
        assert "degrees" in words(app, "#ask-complaint")
        await keys(pilot, *["backspace"] * 3, "=0.1", "enter")
        assert (correction(app).setting.turn, correction(app).setting.angle) == (-0.5, 0.1)


async def test_the_facets_setting_is_stated_and_checked(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "2", "s", "enter", "=142", "enter", "=30", "enter", "=96", "enter", "=9x6", "enter")
        assert "angle" in words(app, "#ask-complaint")
        await keys(pilot, "escape", "s", "enter", "=42", "enter", "=30", "enter", "=96", "enter", "=9x6", "enter")
        facet = app.open_case.case.facet
        assert (facet.angle, facet.index, facet.gear, facet.size_mm) == (42.0, 30.0, 96, (9.0, 6.0))
        await keys(pilot, "s", "=which", "enter", "=table", "enter")
        assert app.open_case.case.facet.part == "table"
        await keys(pilot, "s", "=how the table", "enter", "enter")
        assert app.open_case.case.facet.adapter == "45"


def test_settings_and_trials_are_the_same_thing() -> None:
    trials = (
        Trial(0.0, 0.0, "RRN/RRN/RRN", ink=True),
        Trial(0.0, 0.0, "BBD/BBD/BBD"),
        Trial(-0.2, 0.0, "B.B/BBB/BDB", fresh=True),
    )
    assert trials_of(settings_of(trials)) == trials
    assert len(settings_of(trials)) == 2
    assert settings_of(()) == [Setting()]
    assert trials_of([Setting()]) == ()


def test_a_finer_grid_keeps_the_mirror() -> None:
    grid = ("BBD", "BDD", "DDD")
    mirrored = tuple(row[::-1] for row in grid)
    assert resized(mirrored, 5, 5) == tuple(row[::-1] for row in resized(grid, 5, 5))
    assert resized(resized(grid, 6, 6), 3, 3) == grid


# --- record -------------------------------------------------------------------------------------------------------


def log_some(where: Folders) -> None:
    with Record.open(where) as record:
        for outcome in ("fixed", "fixed", "no-change", "fixed"):
            case = Case("topaz", "tin-alloy-lap", "diamond-50000", symptoms=("fine-scratches",))
            case_id = record.open_case(case)
            record.log_outcome(case, "slow-down", outcome, minutes=4, knowledge_digest="", case_id=case_id)  # type: ignore[arg-type]


async def test_what_works_on_topaz_is_said_on_one_screen(make_app: Make, where: Folders) -> None:
    log_some(where)
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "4", "m", "=topaz", "enter")
        text = words(app, "#record-text")
        assert "Slow the lap down" in text
        assert "3 of 4" in text
        assert "├" in text
        assert "●" in text
        seen = {text}
        for _ in range(4):
            await keys(pilot, "v")
            seen.add(screen_text(app))
        assert len(seen) == 5
        assert "in order" not in status(app)
        await keys(pilot, "k")
        assert "in order: 4 cases" in status(app)
        await keys(pilot, "b")
        assert "Backed up to" in status(app)


async def test_the_card_goes_to_clipboard_and_file(make_app: Make, where: Folders) -> None:
    log_some(where)
    app = make_app()
    written: list[str] = []
    async with at_rest(app) as (_, pilot):
        await keys(pilot, "4", "c")
        assert "Choose one stone" in status(app) or app.open_case.case.material == "topaz"
        await keys(pilot, "m", "=topaz", "enter")
        assert app._driver is not None
        app._driver.write = written.append  # type: ignore[method-assign]
        await keys(pilot, "c")
        osc = next(text for text in written if text.startswith("\x1b]52;c;"))
        card = base64.b64decode(osc.removeprefix("\x1b]52;c;").removesuffix("\a")).decode()
        assert card.startswith("TOPAZ")
        await keys(pilot, "f")
        app.screen.query_one("#blank-file").value = str(where.data / "card.md")  # type: ignore[attr-defined]
        await keys(pilot, "enter")
        assert (where.data / "card.md").read_text().startswith("# Topaz")
        screen = app.screen
        assert isinstance(screen, RecordScreen)
        await pilot.click("#record-views", offset=(2, 0))
        await settle(pilot)
        assert screen.view == "works"


def test_minutes_are_said_in_one_way_on_screen_and_card() -> None:
    from lapwise.engine.learning.card import minutes_words

    for value in (0.0, 0.4, 0.94, 0.95, 1.0, 3.5, 3.04, 9.96, 10.4, 89.4, 89.6, 90.0, 95.0):
        assert minutes_words(value) == taken(value)


@pytest.mark.parametrize("width", [60, 80, 120])
async def test_the_columns_of_the_record_never_run_together(width: int, make_app: Make, where: Folders) -> None:
    with Record.open(where) as record:
        for minutes in (0.3, 3.5):
            case = Case("topaz", "tin-alloy-lap", "diamond-50000", symptoms=("fine-scratches",))
            case_id = record.open_case(case)
            remedy = "slow-down" if minutes < 1 else "clean-lap"
            record.log_outcome(case, remedy, "fixed", minutes=minutes, knowledge_digest="", case_id=case_id)
    async with at_rest(make_app(), (width, 24)) as (app, pilot):
        await keys(pilot, "4", "m", "=topaz", "enter")
        text = screen_text(app)
        assert re.search(r"1 of 1 +under 1 min", text)
        assert re.search(r"1 of 1 +3\.5 min", text)
        assert re.search(r"· +2 of 2 +|[●┤─] +2 of 2", text)
        works = SimpleNamespace(minutes_by_cause={"stray-grit": 125.0, "loaded-lap": 3.5, "other": 0.3})
        lines = [str(line) for line in minute_lines(works, app.workspace.knowledge, width - 4)]  # type: ignore[arg-type]
        assert max(map(len, lines)) <= width - 4
        times = [re.split(r"[█▏▎▍▌▋▊▉·] +(?=\d|u)", line)[-1] for line in lines[1:]]
        assert times == ["2 h 05", "3.5 min", "under 1 min"]
        await keys(pilot, "v", "v", "v")
        card = words(app, "#record-text")
        assert "worked 1 of 1 time (" in card
        assert "under 1 min" in card
        assert "about 3.5 min" in card
        await keys(pilot, "k")
        assert "2 cases, 2 steps, 0 lap rows" in status(app)
        await keys(pilot, "f")
        assert str(Path.cwd()).replace("/", "")[:12] in re.sub(r"[^a-zA-Z0-9-]", "", screen_text(app))


async def test_one_of_a_thing_is_said_so(make_app: Make, where: Folders) -> None:
    with Record.open(where) as record:
        record.open_case(Case("topaz", symptoms=("fine-scratches",)))
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "4", "k")
        assert "in order: 1 case, 0 steps, 0 lap rows." in status(app)


# --- laps ---------------------------------------------------------------------------------------------------------


async def test_laps_from_added_to_cleaned_and_used(make_app: Make, where: Folders) -> None:
    async with at_rest(make_app(), (100, 30)) as (app, pilot):
        await keys(pilot, "5", "a", "=tin-alloy", "enter", "enter", "enter")
        await keys(pilot, *["backspace"] * 20, "=Old one", "enter")
        assert isinstance(app.screen, LapsScreen)
        assert [view.lap.name for view in app.screen.laps.values()] == ["Old one"]
        await keys(pilot, "g", "=diamond 50000", "enter")
        await keys(pilot, "c", "enter")
        with Record.open(where, readonly=True) as record:
            lap = record.lap("Old one")
            assert lap.carries == ("diamond-50000",)
            assert lap.last_cleaned is not None
        await keys(pilot, "t")
        assert app.open_case.case.own_lap == lap.id
        assert (app.open_case.case.lap, app.open_case.case.compound) == ("tin-alloy-lap", "diamond-50000")
        await keys(pilot, "5", "e", "enter", *["backspace"] * 10, "=Newer", "enter")
        assert "Newer" in screen_text(app)
        await keys(pilot, "d", "enter")
        assert len(app.screen.query_one(Rows).rows) == 1, "it asks first"
        await keys(pilot, "d", "y")
        assert not app.screen.query_one(Rows).rows


async def test_an_oxide_lap_that_carried_diamond_is_warned_of(make_app: Make, where: Folders) -> None:
    """Coarser or harder grains stay in the face of a lap: common practice, no source."""
    with Record.open(where) as record:
        lap = record.add_lap(OwnLap("Board", "phenolic-lap", carries=("diamond-8000",)))
        record.change_lap(lap, carries=("cerium-oxide",))
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "5")
        assert "! had coarse grit" in screen_text(app)
        assert "It has had 8000 diamond on it" in words(app, "#lap-text")


async def test_what_a_lap_carries_is_added_to_or_set_right(make_app: Make, where: Folders) -> None:
    with Record.open(where) as record:
        record.add_lap(OwnLap("Board", "phenolic-lap"))
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "5")
        text = screen_text(app)
        assert "not logged" in text
        assert "clean  " not in text
        assert "never logged" not in text
        await keys(pilot, "g")
        assert "What went on Board?" in screen_text(app)
        await keys(pilot, "=diamond 8000", "enter", "g")
        assert "What went on Board, beside 8000 diamond?" in screen_text(app)
        await keys(pilot, "=cerium", "enter")
        assert "now carries 8000 diamond and cerium oxide" in status(app)
        assert "! had coarse grit" in screen_text(app)
        await keys(pilot, "u")
        assert "All that Board carries" in screen_text(app)
        await keys(pilot, "space", "enter")
        assert "Board carries cerium oxide. What was on it counts till it is cut fresh" in status(app)
        with Record.open(where, readonly=True) as record:
            assert record.lap("Board").carries == ("cerium-oxide",)
        assert "It has had 8000 diamond on it as well as cerium oxide:" in words(app, "#lap-text")
        await keys(pilot, "c", "=fresh", "enter")
        assert "! had coarse grit" not in screen_text(app)


async def test_the_mark_goes_to_the_lap_just_added(make_app: Make, where: Folders) -> None:
    """The next key is about the new lap and no other."""
    with Record.open(where) as record:
        record.add_lap(OwnLap("Aluminium plate", "phenolic-lap"))
    async with at_rest(make_app()) as (_, pilot):
        await keys(pilot, "5", "a", "=tin", "enter", "enter", "=8 in", "enter")
        await keys(pilot, *["backspace"] * 20, "=Zz new", "enter")
        await keys(pilot, "g", "=diamond 8000", "enter")
    with Record.open(where, readonly=True) as record:
        assert record.lap("Zz new").carries == ("diamond-8000",)
        assert record.lap("Zz new").diameter_mm == pytest.approx(203.2)
        assert record.lap("Aluminium plate").carries == ()


async def test_a_lap_is_picked_together_and_its_size_is_told_in_both_units(make_app: Make, where: Folders) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "5", "a", "=acrylic", "enter", "=cerium", "enter", "=200", "enter", "enter")
        with Record.open(where, readonly=True) as record:
            (lap,) = record.laps()
        assert (lap.type, lap.carries, lap.diameter_mm) == ("acrylic-lap", ("cerium-oxide",), 200.0)
        assert lap.name == app.workspace.knowledge.label("acrylic-lap")
        assert "200 mm (7.9 in) across" in words(app, "#lap-text")
        await keys(pilot, "e")
        assert re.search(r"Diameter +200 mm \(7\.9 in\)", screen_text(app)), "the list says what is stated"
        await keys(pilot, "escape", "a", "=acrylic", "enter", "enter", "enter", "enter")
        assert f"{lap.name} 2" in words(app, "#lap-text"), "no two of a name"
        await keys(pilot, "e", "=thick", "enter", "=another", "enter", "=half", "enter")
        assert "mm or inches" in words(app, "#ask-complaint")
        await keys(pilot, *["backspace"] * 4, "=1/2 in", "enter")
        assert "1/2 in (13 mm) thick" in words(app, "#lap-text")
        await keys(pilot, "e", "=wear", "enter", "=run in", "enter")
        assert "worked in" in words(app, "#lap-text")
        await keys(pilot, "e", "=diameter", "enter", "=8 in", "enter", "e", "=note", "enter", "=dished", "enter")
        assert "8 in (203 mm) across" in words(app, "#lap-text")
        assert "Note: dished" in words(app, "#lap-text")


async def test_somebody_elses_lap_is_not_changed(make_app: Make, where: Folders, tmp_path: Path) -> None:
    giver = folders(tmp_path / "giver")
    with Record.open(giver) as record:
        record.add_lap(OwnLap("Club zinc", "zinc-lap"))
        rows = "\n".join(export_lines(record)) + "\n"
    with Record.open(where) as record:
        import_lines(record, io.StringIO(rows))
        before = list(export_lines(record))
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "5")
        assert "somebody else's laps" in screen_text(app)
        for key in ("c", "g", "u", "e", "d"):
            await keys(pilot, key)
            assert "Somebody else's" in status(app)
        await keys(pilot, "1", "m", "=lap", "enter")
        assert "Others' laps" in screen_text(app)
    with Record.open(where) as record:
        assert list(export_lines(record)) == before
        assert not record.laps()[0].yours
        import_lines(record, io.StringIO(rows), mine=True)
        assert record.laps()[0].yours, "known already, and now one's own"


# --- welcome ------------------------------------------------------------------------------------------------------


async def test_the_first_run_asks_nothing_and_offers_the_sample(make_app: Make, where: Folders) -> None:
    (where.config / "screens.json").unlink()
    async with at_rest(make_app()) as (app, pilot):
        assert "Welcome" in screen_text(app)
        await keys(pilot, "s")
        await until(pilot, lambda: app.workspace.sample and app.workspace.ready)
        await settle(pilot)
        assert "invented" in status(app)
    async with at_rest(make_app()) as (again, pilot):
        assert "Welcome" not in screen_text(again)


def test_replace_keeps_the_facet() -> None:
    assert replace(FACET, part="table").angle == 42.0
