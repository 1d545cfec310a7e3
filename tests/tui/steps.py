"""Steps that the tests of the screens share."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any, cast

from textual.events import Key
from textual.keys import _character_to_key
from textual.pilot import Pilot
from textual.widgets import Static

from lapwise.engine.case import Case
from lapwise.engine.folders import Folders
from lapwise.engine.record.store import Record
from lapwise.tui.app import LapwiseApp
from lapwise.tui.screens.case import CaseScreen
from lapwise.tui.widgets.lines import Lines

QUARTZ = Case("quartz", "acrylic-lap", "cerium-oxide", symptoms=("fine-scratches",))
"""Quartz with hairlines, on acrylic with cerium oxide."""


async def settle(pilot: Pilot[Any]) -> None:
    """Wait until the bench is ready and nothing is being worked out or painted any more.

    At rest is what was found so twice with nothing left to paint and nothing due for a while, or four times without.
    """
    app = pilot.app
    assert isinstance(app, LapwiseApp)
    quiet = still = 0
    for _ in range(4000):
        await pilot.pause(0)
        due = await soon_due()
        at_work = [w._task for w in app.workers if not w.is_finished]
        written = not app.controller._writing.locked()
        quiet = quiet + 1 if app.workspace.ready and written and not app.keys.waiting and not at_work else 0
        still = still + 1 if quiet and due is None and not unpainted(app) else 0
        if still >= 2 or quiet >= 4:
            return
        if tasks := [task for task in at_work if task is not None]:
            await asyncio.wait(tasks, timeout=0.05)
        elif not still:
            await asyncio.sleep(0.003)
    raise AssertionError("the bench did not come to rest")


@asynccontextmanager
async def at_rest(app: LapwiseApp, size: tuple[int, int] = (80, 24)) -> AsyncIterator[tuple[LapwiseApp, Pilot[Any]]]:
    """The program on a screen of that size, at rest."""
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        yield app, pilot


def unpainted(app: LapwiseApp) -> bool:
    """Whether something waits for the next beat of the picture, or the picture is held."""
    screen = app.screen
    wanted = (
        screen._layout_required or screen._repaint_required or screen._scroll_required or screen._recompose_required
    )
    return bool(wanted or screen._dirty_widgets or screen._callbacks or app._batch_count)


async def soon_due(seconds: float = 0.012) -> float | None:
    """Let everything run that can, then: when the next timer of the loop is due, None if not within the time."""
    loop = cast(Any, asyncio.get_running_loop())
    for _ in range(1000):
        await asyncio.sleep(0)
        if not loop._ready:
            break
    ends = loop.time() + seconds
    return min((h.when() for h in loop._scheduled if not h.cancelled() and h.when() < ends), default=None)


def send(app: LapwiseApp, key: str, character: str | None = None) -> None:
    """One key as the terminal sends it."""
    assert app._driver is not None
    event = Key(key, character)
    event.set_sender(app)
    app._driver.send_message(event)


async def keys(pilot: Pilot[Any], *pressed: str) -> None:
    """Press keys one after the other, each seen through; ``=word`` types a word."""
    app = pilot.app
    assert isinstance(app, LapwiseApp)
    for key in pressed:
        if key.startswith("=") and len(key) > 1:
            for character in key[1:]:
                send(app, _character_to_key(character), character)
                await pilot.pause(0)
        else:
            send(app, key, " " if key == "space" else key if len(key) == 1 else None)
        await settle(pilot)


async def until(pilot: Pilot[Any], true: Callable[[], bool]) -> None:
    """Wait until something is true."""
    for _ in range(800):
        if true():
            return
        await pilot.pause(0)
        await asyncio.sleep(0.01)
    raise AssertionError("it never came true")


def words(app: LapwiseApp, selector: str) -> str:
    """The text of a static widget."""
    widget = app.screen.query_one(selector)
    return widget.plain if isinstance(widget, Lines) else str(cast(Static, widget).content)


def status(app: LapwiseApp) -> str:
    """The line of words of the area."""
    return words(app, "#status")


def screen_text(app: LapwiseApp) -> str:
    """All that stands on the screen, as plain lines."""
    strips = app.screen._compositor.render_strips()
    return "\n".join(strip.text for strip in strips)


def case_screen(app: LapwiseApp) -> CaseScreen:
    """The case screen, which must be the one shown."""
    screen = app.screen
    assert isinstance(screen, CaseScreen)
    return screen


async def begin(pilot: Pilot[None]) -> None:
    """Quartz with hairlines on the bench, ranked."""
    app = pilot.app
    assert isinstance(app, LapwiseApp)
    app.controller.state(QUARTZ)
    case_screen(app).refresh_view()
    await settle(pilot)


def kept(where: Folders) -> list[tuple[str, str]]:
    """(remedy, outcome) of the newest case as another process would read it."""
    with Record.open(where, readonly=True) as record:
        last = record.last_case()
        assert last is not None
        return list(last.case.tried)
