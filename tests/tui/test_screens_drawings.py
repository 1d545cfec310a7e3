"""Drawings on the screens: the one of the marked row, two side by side, the one beside the steps."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from tests.tui.steps import at_rest, begin, keys, screen_text, words

from lapwise.tui.app import LapwiseApp
from lapwise.tui.pictures.catalog import fitted, text
from lapwise.tui.screens.compare import Compare
from lapwise.tui.widgets.picture import Picture
from lapwise.tui.widgets.rows import Rows

Make = Callable[..., LapwiseApp]


def drawn(app: LapwiseApp, name: str) -> bool:
    """Whether the drawing of an id stands on the screen, whole and at least 34 columns wide."""
    lines = screen_text(app).splitlines()
    for picture in app.screen.query(Picture):
        if picture.shown == name and picture.content_size.width >= 34:
            shown = text(name, *fitted(*picture.content_size))
            return all(any(part in line for line in lines) for part in shown)
    return False


@pytest.mark.parametrize(("size", "there"), [((80, 24), True), ((120, 36), True), ((60, 24), False)])
async def test_the_drawing_follows_the_mark_and_leaves_the_list_its_room(
    make_app: Make, size: tuple[int, int], there: bool
) -> None:
    async with at_rest(make_app(), size) as (app, pilot):
        await keys(pilot, "s")
        assert "f2" in screen_text(app)
        assert "esc Leave" in screen_text(app), "nothing of the foot is cut off"
        rows = app.screen.query_one(Rows)
        for _ in range(2):
            assert rows.marked is not None
            assert drawn(app, rows.marked) is there
            await keys(pilot, "down")
        assert rows.size.height >= 12
        assert "Lines left from an earlier" in screen_text(app)
        assert app.screen.query_one("#chooser-about").size.height == 3
        await keys(pilot, "=no such thing")
        assert app.screen.query_one(Picture).shown == ""
        assert "⠉" not in screen_text(app)


@pytest.mark.parametrize("size", [(80, 24), (120, 36)])
async def test_what_has_no_drawing_keeps_its_width(make_app: Make, size: tuple[int, int]) -> None:
    async with at_rest(make_app(), size) as (app, pilot):
        await keys(pilot, "m", "enter")
        assert app.screen.query_one(Rows).size.width >= min(size[0], 96) - 6
        await keys(pilot, "escape", "escape")
        await begin(pilot)
        await keys(pilot, "y")
        assert app.screen.query_one("#sheet-text").size.width >= min(size[0], 96) - 8


async def test_two_are_held_side_by_side_and_the_right_one_is_marked(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "s", "=haze", "f2")
        assert isinstance(app.screen, Compare)
        sentence = app.workspace.knowledge.symptoms["haze"].not_to_confuse["surface-film"]
        label = app.workspace.knowledge.label("surface-film")
        assert f"2. {label}: {sentence}" in " ".join(words(app, "#compare-words").split()), "which of the two is meant"
        assert drawn(app, "haze")
        assert drawn(app, "surface-film")
        await keys(pilot, "space")
        assert app.workspace.knowledge.symptoms["haze"].not_to_confuse["stays-dull"] in words(app, "#compare-words")
        assert drawn(app, "stays-dull")
        await keys(pilot, "space", "space")
        await keys(pilot, "escape")
        assert app.screen.query_one(Rows).marked == "haze", "leaving changes nothing"
        await keys(pilot, "f2", "2")
        assert app.screen.query_one(Rows).marked == "surface-film"
        assert "[x] " + label[:20] in screen_text(app), "and it is ticked"
        await keys(pilot, "enter")
        assert app.open_case.case.symptoms == ("surface-film",)
        await keys(pilot, "s", "=haze", "f2", "1", "enter")
        assert app.open_case.case.symptoms == ("haze",), "the one it is not is ticked no more"


async def test_what_a_look_shows_is_drawn_and_a_remedys_motion_stands_beside_its_steps(make_app: Make) -> None:
    async with at_rest(make_app(), (120, 36)) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "l", "=loupe", "enter", "enter")
        assert drawn(app, "loupe-check=dotted")
        await keys(pilot, "down")
        assert drawn(app, "loupe-check=crooked")
        await keys(pilot, "escape")
        answer = app.controller.answer
        assert answer is not None
        place = next(at for at, step in enumerate(answer.plan) if step.remedy == "clean-lap")
        await keys(pilot, *["down"] * place, "enter")
        beside = app.screen.query_one("#sheet-beside", Picture)
        assert beside.shown == "clean-lap"
        assert drawn(app, "clean-lap")
        assert "1. Stop the lap." in screen_text(app)
