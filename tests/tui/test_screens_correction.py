"""The correction at its edges: the cursor's pace, what turned dull, the ends' names, and the row for the transfer."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from rich.color import Color
from tests.tui.steps import QUARTZ, at_rest, kept, keys, screen_text, send, settle, status, words

from lapwise.engine.case import Case, FacetSetting, Trial
from lapwise.engine.folders import Folders
from lapwise.engine.machine import MachineProfile, save_profile
from lapwise.engine.machine.described import FACTS
from lapwise.tui.app import LapwiseApp
from lapwise.tui.screens.correction import CorrectionScreen
from lapwise.tui.screens.settings import Setting, map_words, turned_dull
from lapwise.tui.screens.transfer import TransferScreen
from lapwise.tui.widgets.bar import Bar
from lapwise.tui.widgets.facet_map import FacetPicture
from lapwise.tui.widgets.rows import Rows

Make = Callable[..., LapwiseApp]
FACET = FacetSetting(part="pavilion", angle=42.0, index=30.0, gear=96, size_mm=(9.0, 6.0))
DULL_RIGHT = Trial(0.0, 0.0, "BBD/BBD/BBD")
BRIGHT = Trial(-0.3, 0.2, "BBB/BBB/BBB", fresh=True)


def facet(**changes: object) -> Case:
    from dataclasses import replace

    return Case("quartz", prior="diamond-3000", facet=replace(FACET, **changes))  # type: ignore[arg-type]


def picture(app: LapwiseApp) -> FacetPicture:
    return app.screen.query_one("#facet", FacetPicture)


async def test_the_cursor_stays_until_it_is_told_to_go_on_and_which_is_stated(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "2", "d", "b")
        assert (picture(app).row, picture(app).column) == (0, 0)
        assert picture(app).grid[0] == "B??"
        assert "m Stays" in screen_text(app)
        await keys(pilot, "right", "d", "m", "b", "k", "d")
        assert "m Goes on" in screen_text(app)
        assert picture(app).grid == ("BB?", "D??", "???")
    async with at_rest(make_app()) as (again, pilot):
        await keys(pilot, "2")
        assert "m Goes on" in screen_text(again), "the choice is kept"


async def test_spaces_typed_ahead_count_one_by_one(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        for key in ("2", "space", "space", "right", "space", "down", "space", "space", "space", "left", "space"):
            send(app, key, " " if key == "space" else key if len(key) == 1 else None)
        await settle(pilot)
        assert picture(app).grid == ("DB?", "B??", "???")


async def test_turned_typed_ahead_goes_by_the_newest_mark(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(facet())
        await keys(pilot, "2")
        for key in ("d", "B", "t"):
            send(app, key, key)
        await settle(pilot)
        assert status(app).startswith("Setting 2.")


@pytest.mark.parametrize(
    ("part", "tip", "dop"),
    [("pavilion", "culet end", "girdle end"), ("crown", "table end", "girdle end"), (None, "tip end", "dop end")],
)
async def test_the_ends_have_their_names_before_and_after_the_first_mark(
    make_app: Make, part: str | None, tip: str, dop: str
) -> None:
    async with at_rest(make_app(), (100, 30)) as (app, pilot):
        app.controller.state(facet(part=part))
        await keys(pilot, "2")
        before = screen_text(app)
        await keys(pilot, "d", "B")
        after = screen_text(app)
        for text in (before, after):
            assert tip in text
            assert dop in text
        for other in {"tip end", "dop end", "culet end", "table end", "girdle end"} - {tip, dop}:
            assert other not in before + after


def test_what_was_bright_and_is_dull_is_noticed() -> None:
    first = Setting(polish=("BBD", "BBD", "BBD"))
    assert turned_dull([first, Setting(-0.1, polish=("DBB", "BBB", "BBB"))])
    assert turned_dull([first, Setting(-0.1, polish=("DBBBB",) * 5)])
    assert not turned_dull([first, Setting(-0.1, polish=("DBB", "BBB", "BBB"), fresh=True)])
    assert not turned_dull([first, Setting(-0.1, polish=("BBD", "BBD", "BBD"))])
    assert not turned_dull([first])


async def test_a_bright_side_that_turns_dull_asks_whether_it_was_renewed(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(facet(trials=(DULL_RIGHT,)))
        await keys(pilot, "2", "t", "d")
        assert words(app, "#advice").startswith("! Inked or pre-polished afresh before this map? Press f.")
        await keys(pilot, "f")
        assert "Press f" not in words(app, "#advice")


async def test_bright_all_over_is_done_and_says_so(make_app: Make) -> None:
    async with at_rest(make_app(), (60, 24)) as (app, pilot):
        app.controller.state(facet(trials=(DULL_RIGHT, BRIGHT)))
        await keys(pilot, "2", "t")
        assert status(app).startswith("Bright all over: done.")
        assert "r: row into Transfer" in status(app)
        assert len(status(app)) <= 58
        await keys(pilot, "f", "t")
        assert "Press f" in status(app), "on ink that is not fresh, two planes are both bright"


@pytest.mark.parametrize(("run", "teeth"), [("clockwise", 0.08), ("counterclockwise", -0.08)])
async def test_the_end_goes_to_the_transfer_by_one_key_in_its_units(
    make_app: Make, where: Folders, run: str, teeth: float
) -> None:
    """0.3° counter-clockwise on a 96 gear is 0.3 · 96 / 360 = 0.08 of a tooth; numbers that run clockwise rise as the
    stone turns the other way."""
    save_profile(where, MachineProfile(gear=96, numbers_run=run))
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(facet(trials=(DULL_RIGHT,)))
        await keys(pilot, "2", "r")
        assert "Not yet" in status(app)
        assert not app.controller.transfer.rows
        app.controller.state(facet(trials=(DULL_RIGHT, BRIGHT)))
        await settle(pilot)
        said = words(app, "#advice")
        assert f"In all, the index moved by {teeth:+.2f} teeth" in said
        assert "the angle raised by 0.2°" in said
        await keys(pilot, "r")
        assert f"Row 1 of Transfer: index {teeth:+.2f} teeth, angle +0.2°" in status(app)
        row = app.controller.transfer.rows[0]
        assert (row.index, row.angle, row.index_change, row.angle_change) == (30.0, 42.0, teeth, 0.2)
        await keys(pilot, "r")
        assert len(app.controller.transfer.rows) == 1, "the same facet is one row"
        await keys(pilot, "3")
        screen = app.screen
        assert isinstance(screen, TransferScreen)
        assert len(screen.rows) == 1
        await keys(pilot, "u", "u")
        assert screen.rows == [], "and it can be taken back"


async def test_what_the_transfer_needs_and_nobody_knows_is_asked(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(facet(trials=(DULL_RIGHT, BRIGHT), index=None, angle=None))
        await keys(pilot, "2", "r", "=42", "enter", "=30", "enter", "enter", "enter")
        asked = FACTS["numbers_run"].asks
        assert asked in " ".join(screen_text(app).replace("│", " ").split()), "no machine is described"
        await keys(pilot, "=not know", "enter")
        assert not app.controller.transfer.rows
        await keys(pilot, "r", "=down", "enter")
        assert app.workspace.profile is not None
        assert app.workspace.profile.numbers_run == "clockwise", "it is not asked again, here or by the ink test"
        assert [(r.index, r.angle, r.index_change) for r in app.controller.transfer.rows] == [(30.0, 42.0, 0.08)]
        app.controller.list_facets(app.controller.transfer.rows, 64)
        await keys(pilot, "r")
        assert "64 gear" in status(app), "teeth of two gears are not put into one list"


def shown(app: LapwiseApp) -> str:
    """What stands on the screen, its lines put together."""
    return " ".join(screen_text(app).replace("│", " ").split())


def corrected() -> Case:
    from dataclasses import replace

    return replace(facet(trials=(DULL_RIGHT, BRIGHT)), symptoms=("partial-polish",))


async def test_what_the_correction_fixed_is_logged_there(make_app: Make, where: Folders) -> None:
    """It said done, and the case went on counting the facet as partly bright, with other remedies first."""
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(corrected())
        await settle(pilot)
        assert "Press f: fixed by the correction: its map is bright all over" in shown(app)
        await keys(pilot, "2")
        assert "l: log it" in status(app)
        await keys(pilot, "l")
        assert "Logged: fixed it" in status(app)
        assert kept(where) == [("adjust-fine-index", "fixed")]
        await keys(pilot, "l")
        assert "closed already" in status(app)
        await keys(pilot, "1")
        assert "Fixed" in words(app, "#plan-title")


async def test_what_the_correction_fixed_is_offered_in_the_case(make_app: Make, where: Folders) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(corrected())
        await settle(pilot)
        rows = app.screen.query_one("#plan", Rows)
        other = next(r.id for r in rows.rows if r.id not in ("adjust-fine-index", "adjust-angle"))
        rows.mark(other)
        await keys(pilot, "f")
        assert "your map in Correction is bright all over" in shown(app)
        await keys(pilot, "1")
        assert kept(where) == [("adjust-fine-index", "fixed")]
        await keys(pilot, "u")
        rows.mark(other)
        await keys(pilot, "f", "2")
        assert kept(where) == [(other, "fixed")]


async def test_a_map_that_may_be_of_two_planes_says_one_thing(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(facet(trials=(DULL_RIGHT,)))
        await keys(pilot, "2", "t", "B")
        assert "Press f" in words(app, "#advice")
        assert "shows too little" not in words(app, "#advice")
        for key in ("r", "l"):
            await keys(pilot, key)
            assert "Press f first" in status(app)
        await keys(pilot, "f", "l")
        assert "Logged: fixed it" in status(app)


async def test_a_facet_bright_at_its_first_setting_was_not_corrected(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(facet())
        await keys(pilot, "2", "B")
        assert "l Log it" not in screen_text(app)
        await keys(pilot, "l")
        assert "Nothing was turned here" in status(app)
        await keys(pilot, "u")
        assert picture(app).grid == ("???", "???", "???")


async def test_another_answer_is_read_from_its_top(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(facet(trials=(DULL_RIGHT,), size_mm=None))
        await keys(pilot, "2", "right_square_bracket")
        pane = app.screen.query_one("#correction-right")
        assert pane.scroll_y > 0
        await keys(pilot, "right", "d")
        assert pane.scroll_y == 0


def test_a_map_is_told_in_words() -> None:
    assert map_words(("BBB", "BBB", "BBD")) == "1 of 9 dull"
    assert map_words((".BB", "BBB", "?DD")) == "2 of 8 dull, 1 not known"
    assert map_words((".B.", "BBB", "BBB")) == "bright all over"
    assert map_words(("???", "???", "???")) == "not marked yet"
    assert map_words(("RRN", "RRR", "RRR"), ink=True) == "1 of 9 with ink left"


async def test_no_map_is_shown_in_letters(make_app: Make) -> None:
    async with at_rest(make_app(), (100, 30)) as (app, pilot):
        app.controller.state(facet(trials=(DULL_RIGHT, BRIGHT)))
        await settle(pilot)
        assert "facet map: bright all over" in screen_text(app)
        await keys(pilot, "2")
        said = words(app, "#advice")
        assert "1. as it was: 3 of 9 dull" in said
        assert "2. turned 0.300° counter-clockwise ↺, angle raised 0.200°: bright all over, fresh" in said
        assert "BBB" not in said


async def test_undo_takes_no_mark_of_another_case(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(facet(part="crown"))
        await keys(pilot, "2", "d", "b", "u", "u", "d", "1", "x", "enter", "2", "u")
        assert "nothing to undo" in status(app)
        assert app.open_case.case.facet.trials == ()


async def test_the_gear_told_of_a_facet_is_that_of_the_machine_where_none_was_known(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(QUARTZ)
        await keys(pilot, "7", "2", "s", "enter", "tab", "tab", "=80", "ctrl+s")
        assert app.workspace.profile is not None
        assert app.workspace.profile.gear == 80
        await keys(pilot, "7")
        assert "Index gear              80 teeth" in screen_text(app)
        await keys(pilot, "2", "s", "enter", "tab", "tab", "=64", "ctrl+s")
        assert app.controller.case.facet.gear == 64
        assert app.workspace.profile.gear == 80, "that of the machine is changed on its own area alone"


async def test_the_marks_can_be_tapped(make_app: Make) -> None:
    async with at_rest(make_app(touch=True), (100, 40)) as (app, pilot):
        await keys(pilot, "2")
        bar = app.screen.query_one("#marks", Bar)
        assert [item.id.partition(".")[2] for item in bar.items] == [
            *("bright", "dull", "unknown", "none", "rest", "pace")
        ]
        assert bar.size.height == 3
        ends = {item_id: end for end, item_id in bar._ends}
        await pilot.click("#marks", offset=(ends["correction.dull"] - 2, 0))
        await settle(pilot)
        await pilot.click("#marks", offset=(ends["correction.rest"] - 2, 2))
        await settle(pilot)
        assert picture(app).grid == ("DBB", "BBB", "BBB")
        assert isinstance(app.screen, CorrectionScreen)


async def test_bright_is_the_lightest_in_the_light_theme(make_app: Make) -> None:
    async with at_rest(make_app(theme="bright-bench"), (80, 30)) as (app, pilot):
        app.controller.state(facet(trials=(Trial(0.0, 0.0, "BBD/BBD/B?D"),)))
        await keys(pilot, "2")
        map_ = picture(app)

        def light(color: Color | None) -> float:
            assert color is not None
            return sum(color.get_truecolor())

        bright = map_.get_component_rich_style("facet--bright")
        dull, unsure = (map_.get_component_rich_style(f"facet--{name}") for name in ("dull", "unsure"))
        others = [light(c) for c in (dull.color, dull.bgcolor, unsure.bgcolor, map_.rich_style.bgcolor)]
        assert light(bright.color) > max(others)


async def test_what_is_turned_already_is_not_asked_for_again(make_app: Make) -> None:
    """Coming back from another area told the turn of the setting before once more."""
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(facet())
        await keys(pilot, "2", "d", "B", "t")
        assert "Polish a short while" in words(app, "#advice")
        await keys(pilot, "7", "2")
        await settle(pilot)
        assert "Setting 2" in words(app, "#map-title")
        assert "Turn the stone" not in words(app, "#advice")


async def test_a_table_in_the_adapter_gives_the_transfer_no_row(make_app: Make) -> None:
    """The adapter holds the stone at 45 degrees to its dop: index and angle then tell of the adapter (common practice,
    no source)."""
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(facet(part="table", adapter="45", angle=45.0, trials=(DULL_RIGHT, BRIGHT)))
        await keys(pilot, "2", "r")
        assert "45-degree adapter" in status(app)
        assert not app.controller.transfer.rows
