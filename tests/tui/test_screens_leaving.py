"""The sample keeps nothing and says so; leaving is asked where something would be lost; every key answers."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from typing import Any

import pytest
from tests.tui.steps import QUARTZ, at_rest, keys, screen_text, settle, status, until
from textual._xterm_parser import XTermParser
from textual.events import Key

from lapwise.engine.folders import Folders
from lapwise.engine.machine import MachineProfile, load_profile
from lapwise.engine.record.store import Record
from lapwise.engine.transfer.kept import read_list
from lapwise.tui.actions import ACTIONS, AREAS
from lapwise.tui.app import Actions, LapwiseApp
from lapwise.tui.escape_key import keep_escape_apart
from lapwise.tui.open_case import OpenCase
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.dialog import Dialog
from lapwise.tui.screens.leave import Leave, LeaveSample, NotKept
from lapwise.tui.screens.transfer import TransferScreen
from lapwise.tui.themes import DARK, LIGHT
from lapwise.tui.widgets.bar import Bar
from lapwise.tui.work import start
from lapwise.tui.workspace import Workspace

Make = Callable[..., LapwiseApp]


async def to_sample(pilot) -> LapwiseApp:  # type: ignore[no-untyped-def]
    app = pilot.app
    assert isinstance(app, LapwiseApp)
    await settle(pilot)
    await keys(pilot, "f8")
    await until(pilot, lambda: app.workspace.sample and app.workspace.ready)
    await settle(pilot)
    return app


@pytest.mark.parametrize("width", [60, 80, 120])
async def test_sample_stands_in_the_row_of_areas_for_as_long_as_it_is_one(make_app: Make, width: int) -> None:
    async with make_app().run_test(size=(width, 24)) as pilot:
        app = await to_sample(pilot)
        for area in AREAS:
            await keys(pilot, area.key)
            first = screen_text(app).splitlines()[0]
            assert "F8 SAMPLE" in first, area.id
            assert area.label in first or area.short in first, area.id
        at = next(end for end, item_id in app.screen.query_one("#areas", Bar)._ends if item_id == "app.sample")
        await pilot.click("#areas", offset=(at - 3, 0))
        await until(pilot, lambda: not app.workspace.sample)
        await settle(pilot)
        assert "SAMPLE" not in screen_text(app)


async def test_the_first_thing_entered_in_the_sample_offers_to_copy_it_once(make_app: Make) -> None:
    async with make_app().run_test(size=(80, 24)) as pilot:
        app = await to_sample(pilot)
        await keys(pilot, "m")
        assert not isinstance(app.screen, AreaScreen)
        assert not isinstance(app.screen, NotKept), "nothing is entered yet"
        await keys(pilot, "escape", "t")
        assert isinstance(app.screen, AreaScreen), "a clock alone is nothing to keep"
        await keys(pilot, "n")
        assert isinstance(app.screen, NotKept)
        assert "gone when you leave" in screen_text(app)
        await keys(pilot, "escape", "n")
        assert isinstance(app.screen, AreaScreen), "it is asked once"
        assert "Logged" in status(app)


async def test_own_work_in_the_sample_comes_to_the_own_bench_whole(make_app: Make, where: Folders) -> None:
    """A stone of one's own, a log, a lap, the machine and a transfer, all entered at the sample by mistake."""
    async with make_app().run_test(size=(80, 24)) as pilot:
        app = await to_sample(pilot)
        await keys(pilot, "x", "=given", "enter")
        while not isinstance(app.screen, AreaScreen):
            await keys(pilot, "escape")
        await keys(pilot, "s", "=hair", "enter")
        while not isinstance(app.screen, AreaScreen):
            await keys(pilot, "escape")
        await keys(pilot, "t", "n")
        remedy = app.open_case.case.tried[0]
        symptoms = app.open_case.case.symptoms
        assert symptoms
        await keys(pilot, "3", "x", "a", "=12", "enter", "=42", "enter", "=0.1", "enter", "=0.2", "enter")
        await keys(pilot, "f8")
        assert isinstance(app.screen, LeaveSample)
        await keys(pilot, "escape")
        assert app.workspace.sample, "stay is stay"
        await keys(pilot, "f8", "c")
        await until(pilot, lambda: not app.workspace.sample)
        await settle(pilot)
        assert "Copied to your own bench" in status(app)
        await keys(pilot, "1")
        assert app.open_case.case.tried == (remedy,)
        assert app.open_case.case.symptoms == symptoms
    with Record.open(where, readonly=True) as record:
        cases = record.cases()
        assert [case.case.symptoms for case in cases] == [symptoms], "of the invented past nothing comes along"
        assert cases[0].case.own_lap is None, "nor the invented lap it was begun with"
        assert record.laps() == []
    assert [(row.index, row.angle_change) for row in read_list(where)[0]] == [(12, 0.2)]
    assert load_profile(where) is None


async def test_what_was_left_behind_is_gone_and_an_own_machine_is_not_written_over(
    make_app: Make, where: Folders
) -> None:
    async with at_rest(make_app()) as (_, pilot):
        await pilot.app.controller.keep_profile(MachineProfile(gear=64))  # type: ignore[attr-defined]
        app = await to_sample(pilot)
        await keys(pilot, "7", "s")
        assert isinstance(app.screen, AreaScreen), "saved as it was: nothing is entered"
        await app.controller.keep_profile(MachineProfile(gear=80))
        await settle(pilot)
        await keys(pilot, "escape", "1", "t", "n")
        if isinstance(app.screen, Dialog):
            await keys(pilot, "escape")
        await keys(pilot, "f8", "c")
        await until(pilot, lambda: not app.workspace.sample)
        await settle(pilot)
        assert "Left as it was: your own machine." in status(app)
        await to_sample(pilot)
        await keys(pilot, "t", "n", "escape", "ctrl+q")
        assert isinstance(app.screen, LeaveSample), "the end of the program asks as well"
        await keys(pilot, "l")
    assert load_profile(where) == MachineProfile(gear=64)
    with Record.open(where, readonly=True) as record:
        assert len(record.cases()) == 1, "only what was copied"


@pytest.mark.parametrize("pressed", ["q", "ctrl+c"])
async def test_q_and_ctrl_c_ask_and_again_they_leave(make_app: Make, pressed: str) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, pressed)
        assert isinstance(app.screen, Leave)
        assert "at the next start" in screen_text(app)
        await keys(pilot, "escape")
        assert app.is_running
        await keys(pilot, pressed)
        assert isinstance(app.screen, Leave)
        await keys(pilot, pressed)
        assert not app.is_running or app._exit


async def test_ctrl_c_answers_in_a_list_and_on_a_sheet_too(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        for opened in ("s", "h"):
            await keys(pilot, opened, "ctrl+c")
            assert isinstance(app.screen, Leave), opened
            await keys(pilot, "escape", "escape")
            assert isinstance(app.screen, AreaScreen)
        await keys(pilot, "s", "ctrl+q")
        assert not app.is_running or app._exit, "the way out is always open"


async def test_f4_works_on_a_list_and_other_keys_of_everywhere_say_why_not(make_app: Make) -> None:
    async with at_rest(make_app(theme=DARK)) as (app, pilot):
        for opened in ("s", "h", "f2"):
            await keys(pilot, opened, "f4")
            assert isinstance(app.screen, Dialog)
            assert app.theme == LIGHT, opened
            await keys(pilot, "f4", "f8")
            assert app.theme == DARK
            assert "Sample: close this first (esc)" in screen_text(app), opened
            await keys(pilot, "escape")


async def test_without_colours_f4_says_why(make_app: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "f4")
        assert "NO_COLOR is set" in status(app)
        await keys(pilot, "s", "f4")
        assert "NO_COLOR is set" in screen_text(app)


async def test_the_palette_holds_every_action_and_goes_to_its_area(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        found = Actions(app.screen)._all()
        abouts = {one.about for one in found}
        assert {a.about for a in ACTIONS if a.id != "app.palette"} <= abouts
        for name in ("Record: Import", "Record: Export", "Record: Back up", "Transfer: Open", "Transfer: Save"):
            assert any(one.name.startswith(name) for one in found), name
        run = next(one.run for one in found if one.name.startswith("Transfer: Add row"))
        run()
        await until(pilot, lambda: not isinstance(app.screen, AreaScreen))
        await settle(pilot)
        assert app.current_mode == "transfer"
        assert "A facet of the transfer" in screen_text(app)


async def test_what_is_still_worked_out_while_the_screen_goes_ends_quietly(make_app: Make) -> None:
    """An answer that came when the parts of the screen were gone already ended the program with an error."""
    app = make_app()
    came = False
    async with at_rest(app) as (_, pilot):
        await keys(pilot, "3")
        screen = app.screen
        assert isinstance(screen, TransferScreen)

        async def late() -> None:
            nonlocal came
            while screen.query("#transfer-right"):
                await asyncio.sleep(0)
            came = True
            screen._show_answer()

        start(screen, late, group="late")
        await asyncio.sleep(0)
    assert came


async def test_what_is_asked_while_the_program_ends_is_given_up_quietly(where: Folders) -> None:
    """A round that looked for other windows' rows between two steps of the end stopped the program with an error."""
    workspace = Workspace(where)
    workspace.close()
    with pytest.raises(asyncio.CancelledError):
        await workspace.do(workspace.facets.elsewhere)


@pytest.mark.parametrize(("times", "sample"), [(2, False), (3, True)])
async def test_f8_pressed_again_while_the_sample_is_read_goes_back(make_app: Make, times: int, sample: bool) -> None:
    async with at_rest(make_app()) as (app, pilot):
        own = app.controller
        for _ in range(times):
            app.post_message(Key("f8", None))
        await until(pilot, lambda: not any(w.group == "start" for w in app.workers) and not app.keys.waiting)
        await settle(pilot)
        assert app.workspace.sample is sample
        assert app.workspace.ready
        assert (app.controller is own) is not sample


async def test_f8_before_the_own_bench_is_read_says_so(make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        app.do_sample()
        assert status(app) == "! One moment: still loading."
        await settle(pilot)
        assert not app.workspace.sample


async def test_escape_and_a_letter_read_together_are_two_keys(make_app: Make) -> None:
    """A terminal that is read late sends them as one key with alt: both would be lost."""
    async with make_app().run_test(size=(80, 24)) as pilot:
        app = pilot.app
        await keys(pilot, "4", "f1")
        assert isinstance(app.screen, Dialog)
        for key in read_as_keys("\x1be"):
            app.post_message(key)
        await settle(pilot)
        assert "What to export?" in screen_text(app)  # type: ignore[arg-type]


def read_as_keys(text: str) -> list[Key]:
    """The keys of what a terminal sends in one read."""
    parser = XTermParser()
    return [key for key in (*parser.feed(text), *parser.feed("")) if isinstance(key, Key)]


@pytest.mark.parametrize(
    ("sent", "pressed"),
    [
        *((f"\x1b{c}", ["escape", c]) for c in "0123456789axZ"),
        ("\x1b4b", ["escape", "4", "b"]),
        ("\x1b?k", ["escape", "question_mark", "k"]),
        ("\x1b/", ["escape", "slash"]),
        ("\x1b[", ["escape", "left_square_bracket"]),
        ("\x1b\x1b", ["escape", "escape"]),
        ("\x1b", ["escape"]),
        ("\x1b[A", ["up"]),
        ("\x1bOP", ["f1"]),
        ("\x1bf\x1bb", ["ctrl+right", "ctrl+left"]),
    ],
)
def test_escape_is_a_key_of_its_own(sent: str, pressed: list[str]) -> None:
    """Escape and 4 was taken for ¢, Escape and ? for ? alone: what closed a sheet was lost, and the area with it."""
    keep_escape_apart()
    assert [key.key for key in read_as_keys(sent)] == pressed


async def test_what_was_stated_while_a_log_was_on_its_way_is_kept_on_leaving(make_app: Make, where: Folders) -> None:
    """Leaving gave up the worker of the log: the disk had the outcome, what was stated since was refused as late."""
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(QUARTZ)
        await settle(pilot)
        log, on_disk, go_on = app.workspace.cases.log, threading.Event(), threading.Event()

        def slow(*what: Any) -> OpenCase:
            after = log(*what)
            on_disk.set()
            go_on.wait(10)
            return after

        app.workspace.cases.log = slow  # type: ignore[method-assign]
        await pilot.press("b")
        await until(pilot, on_disk.is_set)
        app.controller.put("wetness", "dry")
        app.exit()
        go_on.set()
    with Record.open(where, readonly=True) as record:
        last = record.last_case()
        assert last is not None
        assert [outcome for _, outcome in last.case.tried] == ["better"]
        assert last.case.facts["wetness"] == "dry"
