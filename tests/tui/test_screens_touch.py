"""By finger: a drag scrolls and is no tap, targets are large enough, and a turned screen keeps its foot."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from tests.tui.steps import at_rest, begin, keys, settle, until
from textual.events import MouseDown, MouseMove, MouseUp
from textual.pilot import Pilot
from textual.widgets import Static

from lapwise.tui.actions import AREAS, foot
from lapwise.tui.app import LapwiseApp
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.chooser import Chooser
from lapwise.tui.widgets.bar import Bar
from lapwise.tui.widgets.facet_map import FacetPicture
from lapwise.tui.widgets.fields import Fields
from lapwise.tui.widgets.rows import Rows

Make = Callable[..., LapwiseApp]
TURNS = ((94, 36), (71, 48), (94, 36), (84, 16), (39, 35), (60, 24), (80, 24))
"""Tablet and telephone, upright and across, in letters."""


async def drag(pilot: Pilot[None], selector: str, *places: tuple[int, int]) -> None:
    """A finger put down at the first place, drawn over the others and lifted at the last, as the terminal tells it."""
    app = pilot.app
    assert app._driver is not None
    corner = app.screen.query_one(selector).region.offset
    on_screen = [(corner.x + x, corner.y + y) for x, y in places]
    moves = [(MouseMove, place) for place in on_screen[1:]]
    for kind, (x, y) in ((MouseDown, on_screen[0]), *moves, (MouseUp, on_screen[-1])):
        event = kind(None, x, y, 0, 0, 1, False, False, False, screen_x=x, screen_y=y)
        event.set_sender(app)
        app._driver.send_message(event)
        await settle(pilot)


async def test_a_drag_scrolls_a_list_and_chooses_nothing(make_app: Make) -> None:
    async with at_rest(make_app(touch=True), (94, 36)) as (app, pilot):
        await keys(pilot, "s")
        chooser = app.screen
        assert isinstance(chooser, Chooser)
        rows = chooser.query_one(Rows)
        assert rows.max_scroll_y > 10
        await drag(pilot, "#chooser-rows", (20, 12), (20, 10), (20, 6), (20, 3))
        assert rows.scroll_y == 9, "line by line with the finger"
        assert app.screen is chooser
        assert not chooser._chosen, "the end of a drag is no tap"
        await drag(pilot, "#chooser-rows", (20, 3), (20, 5))
        assert rows.scroll_y == 7
        await pilot.click("#chooser-rows", offset=(20, 4))
        await settle(pilot)
        assert chooser._chosen, "a tap is still one"


@pytest.mark.parametrize(
    ("opened", "pane"), [(("f2",), "#sheet-body"), (("f1",), "#sheet-body"), (("6",), "#reference-rows")]
)
async def test_a_drag_scrolls_whatever_is_longer_than_its_place(
    make_app: Make, opened: tuple[str, ...], pane: str
) -> None:
    async with at_rest(make_app(touch=True), (94, 24)) as (app, pilot):
        await keys(pilot, *opened)
        long = app.screen.query_one(pane)
        assert long.max_scroll_y > 3
        await drag(pilot, pane, (20, 8), (20, 6), (20, 5))
        assert long.scroll_y == 3


async def test_a_drag_still_marks_the_facet_map(make_app: Make) -> None:
    async with at_rest(make_app(touch=True), (94, 36)) as (app, pilot):
        await keys(pilot, "2")
        picture = app.screen.query_one("#facet", FacetPicture)
        wide, high = picture._cell()
        x = picture._left(wide) + 1 + wide // 2
        await drag(pilot, "#facet", (x, 2 + high // 2), (x, 2 + high + high // 2), (x, 2 + 2 * high + high // 2))
        assert [row[0] for row in picture.grid] == ["B", "B", "B"]


async def test_a_mouse_without_touch_drags_nothing(make_app: Make) -> None:
    async with at_rest(make_app(), (94, 24)) as (app, pilot):
        await keys(pilot, "f2")
        await drag(pilot, "#sheet-body", (20, 8), (20, 6), (20, 5))
        assert app.screen.query_one("#sheet-body").scroll_y == 0, "there it marks text"


async def test_turning_the_screen_keeps_the_foot_and_the_outcomes(make_app: Make) -> None:
    async with at_rest(make_app(touch=True), (94, 36)) as (app, pilot):
        await begin(pilot)
        for size in TURNS:
            await pilot.resize_terminal(*size)
            await settle(pilot)
            for area in AREAS:
                await keys(pilot, area.key)
                screen = app.screen
                assert isinstance(screen, AreaScreen)
                # an area that was not shown while the screen turned is laid out when it comes up
                await until(pilot, lambda s=screen, lines=size[1]: s.query_one("#actions").region.bottom <= lines)  # type: ignore[misc]
                expected = len(foot(area.id)) + 1
                bars = [(screen.query_one("#areas", Bar), len(AREAS)), (screen.query_one("#actions", Bar), expected)]
                if area.id == "case":
                    bars.append((screen.query_one("#outcomes", Bar), 4))
                if area.id == "correction":
                    bars.append((screen.query_one("#marks", Bar), 6))
                taken: set[int] = set()
                for bar, count in bars:
                    where = f"{area.id} {size} {bar.id}"
                    lines = set(range(bar.region.y, bar.region.bottom))
                    assert bar.region.bottom <= size[1], where
                    assert bar.size.height >= 2, where
                    assert not lines & taken, where
                    taken |= lines
                    assert len(bar._ends) == count, where
                    assert all(end <= size[0] + 1 for end, _ in bar._ends), where
                assert screen.query_one("#status", Static).region.bottom <= size[1]


@pytest.mark.parametrize("width", [39, 60, 94])
async def test_each_item_of_a_bar_is_where_it_is_tapped(make_app: Make, width: int) -> None:
    async with at_rest(make_app(touch=True), (width, 40)) as (app, pilot):
        bar = app.screen.query_one("#areas", Bar)
        lines = bar._line_ends
        places = [(end - 2, line, name) for line, ends in enumerate(lines) for end, name in ends]
        for x, line, name in places:
            bar = app.screen.query_one("#areas", Bar)
            await pilot.click("#areas", offset=(x, (2 * line + 1) * bar.size.height // (2 * len(lines))))
            await settle(pilot)
            assert app.current_mode == name


async def test_values_and_rows_are_two_lines_high_for_a_finger(make_app: Make) -> None:
    async with at_rest(make_app(touch=True), (94, 48)) as (app, pilot):
        fields = app.screen.query_one("#case-fields", Fields)
        lines = len(fields._lines(fields.content_size.width))
        assert fields.size.height == 2 * lines
        await pilot.click("#case-fields", offset=(2, 1))
        await settle(pilot)
        assert isinstance(app.screen, Chooser), "the second line of it is the value's too"
        await keys(pilot, "escape")
        for area in ("3", "5", "6", "7"):
            await keys(pilot, area)
            assert app.screen.query(Rows).first().row_height == 2, area
