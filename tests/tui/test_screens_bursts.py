"""Bursts: keys that come all at once, or while a dialog opens, take effect in their order; the screen is the case."""

from __future__ import annotations

import asyncio
import os
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.tui.steps import at_rest, case_screen, keys, send, settle
from tests.unit.shipped import warm
from textual.events import Paste
from textual.pilot import Pilot

from lapwise.engine.folders import folders
from lapwise.engine.record.store import Record
from lapwise.tui.app import LapwiseApp
from lapwise.tui.keymap import Choices, write_choices
from lapwise.tui.screens import case_view
from lapwise.tui.screens.case import CaseScreen
from lapwise.tui.screens.case_picture import PlanRows
from lapwise.tui.screens.correction import CorrectionScreen
from lapwise.tui.screens.settings import trials_of
from lapwise.tui.widgets.facet_map import FacetPicture
from lapwise.tui.widgets.fields import Fields
from lapwise.tui.workspace import Workspace

SEQUENCES = int(os.environ.get("LAPWISE_BURSTS", "10"))
"""How many sequences are drawn; 500 for the thorough run."""
ON_CASE = (*"smaltnbwfuxeyh", "down", "up", "enter", "space", "escape")
ON_CORRECTION = (*"bdkoBiftux", "plus", "minus", "space", "right", "down", "left", "up")
WORDS = ("=haze", "=hair", "=quartz", "=tin", "=dry")


def burst(app: LapwiseApp, *pressed: str) -> None:
    """Keys without a moment between them; ``=word`` types a word."""
    for key in pressed:
        for one in key[1:] if key.startswith("=") and len(key) > 1 else (key,):
            send(app, one, " " if one == "space" else one if len(one) == 1 else None)


def same_as_the_case(app: LapwiseApp) -> None:
    """What the area shown says is what the case is, and what the case is lies on the disk."""
    controller, knowledge = app.controller, app.workspace.knowledge
    case, screen = controller.case, app.screen_stack[0]
    assert not controller.ranking
    assert not controller.logging
    if isinstance(screen, CaseScreen):
        own = controller.own_lap_name(case.own_lap)
        assert list(screen.query_one("#case-fields", Fields)._fields) == case_view.machine_fields(case, knowledge, own)
        rows = [row.id for row in screen.query_one(PlanRows).rows]
        if controller.answer is None:
            assert all(row.startswith("act:") for row in rows)
        else:
            assert controller.answer.case == case
            answer = controller.answer
            listed = [s.remedy for s in answer.plan if s in answer.listed or s.remedy == controller.trying]
            assert rows == [*listed, *(["act:case.other"] if answer.plan else [])]
            assert controller.trying in (None, *rows)
    if isinstance(screen, CorrectionScreen):
        assert trials_of(screen.settings) == case.facet.trials
        shown = screen.setting.ink if screen.on_ink else screen.setting.polish
        assert screen.picture.grid == shown
    if controller.open_case.case_id is not None:
        with Record.open(app.where, readonly=True) as record:
            assert record.case(controller.open_case.case_id).case == case


async def calm(pilot: Pilot[None]) -> None:
    """All keys have taken effect, and all that followed is done."""
    await settle(pilot)
    while len(pilot.app.screen_stack) > 1:
        pilot.app.pop_screen()
        await settle(pilot)


def fresh(data: str) -> LapwiseApp:
    """A bench that is not left: the q of a typed word would end it, and with it what the rest of a burst tries."""
    where = folders(warm(Path(data)))
    write_choices(where.config, Choices(welcomed=True))
    app = LapwiseApp(where, workspace=Workspace(where))
    app.exit = lambda *_, **__: None  # type: ignore[method-assign]
    return app


MANY = settings(
    max_examples=SEQUENCES,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)


def sequences(keys: tuple[str, ...]) -> st.SearchStrategy[list[list[str]]]:
    """Bursts, one after the other: within one there is no moment between the keys."""
    return st.lists(st.lists(st.sampled_from(keys), min_size=1, max_size=8), min_size=1, max_size=3)


@MANY
@given(sequences((*ON_CASE, *WORDS, "1", "2")))
def test_bursts_on_the_case(bursts: list[list[str]]) -> None:
    async def run() -> None:
        with tempfile.TemporaryDirectory(prefix="lapwise-burst-") as data:
            app = fresh(data)
            async with at_rest(app) as (_, pilot):
                burst(app, "s", "=hair", "enter")
                for keys in bursts:
                    burst(app, *keys)
                    await calm(pilot)
                    same_as_the_case(app)

    asyncio.run(run())


@MANY
@given(sequences((*ON_CORRECTION, "1", "2")))
def test_bursts_on_the_correction(bursts: list[list[str]]) -> None:
    async def run() -> None:
        with tempfile.TemporaryDirectory(prefix="lapwise-burst-") as data:
            app = fresh(data)
            async with at_rest(app) as (_, pilot):
                burst(app, "2")
                for keys in bursts:
                    burst(app, *keys)
                    await calm(pilot)
                    same_as_the_case(app)

    asyncio.run(run())


@pytest.mark.parametrize("gap", [0.0, 0.001, 0.01, 0.03])
async def test_keys_keep_their_order_while_a_list_opens(make_app, gap: float) -> None:  # type: ignore[no-untyped-def]
    """Keys 30 ms apart came out in another order while a picker opened."""
    async with at_rest(make_app()) as (app, pilot):
        for key in ("m", *"stone", "enter", *"spessartine", "enter", *"tin lap"):
            send(app, "enter" if key == "enter" else "space" if key == " " else key, None if key == "enter" else key)
            if gap:
                await asyncio.sleep(gap)
        await settle(pilot)
        assert app.controller.case.material == "garnet-spessartine"
        assert app.screen.query_one("#chooser-filter").value == "tin lap"  # type: ignore[attr-defined]


@pytest.mark.parametrize("gap", [0.0, 0.002])
async def test_a_mark_that_comes_in_one_burst_with_the_way_to_the_case_is_seen_there(make_app, gap: float) -> None:  # type: ignore[no-untyped-def]
    """The case showed and ranked BBD/BBD/B?? for good while BBD/BBD/BBD was on disk."""
    async with at_rest(make_app(), (120, 30)) as (app, pilot):
        burst(app, "2")
        await settle(pilot)
        for key in "mbbdbbdbbd1":
            send(app, key, key)
            if gap:
                await asyncio.sleep(gap)
        await settle(pilot)
        assert app.controller.case.facet.trials[-1].map == "BBD/BBD/BBD"
        answer = case_screen(app).answer
        assert answer is not None
        assert answer.case.facet.trials[-1].map == "BBD/BBD/BBD"
        same_as_the_case(app)


async def test_a_form_filled_by_pasting_in_one_burst_has_all_in_its_place(make_app) -> None:  # type: ignore[no-untyped-def]
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "3", "a")
        for text, key in (("8", "tab"), ("42", "tab"), ("0.03", "tab"), ("-0.15", "ctrl+s")):
            app._driver.send_message(Paste(text))
            send(app, key)
        await settle(pilot)
        (row,) = app.controller.transfer.rows
        assert (row.index, row.angle, row.index_change, row.angle_change) == (8.0, 42.0, 0.03, -0.15)


async def test_what_is_told_while_the_program_ends_is_not_shown_any_more(
    make_app,  # type: ignore[no-untyped-def]
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Another window's rows taken up at the moment of leaving ended the program with an error."""
    async with at_rest(make_app()) as (app, pilot):
        burst(app, "2", "b", "b", "d")
        await settle(pilot)

        def told(picture: FacetPicture) -> None:
            app.controller._tell()
            app.warn("too late")

        monkeypatch.setattr(FacetPicture, "on_unmount", told, raising=False)
