"""Outcomes that come in one burst, on a fast disk and on a slow one: each is of the try that was seen with it."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest
from tests.tui.conftest import Clock
from tests.tui.steps import at_rest, begin, kept, keys, send, settle
from textual.events import MouseDown, MouseUp

from lapwise.engine.folders import Folders
from lapwise.engine.record.store import Record
from lapwise.tui.app import LapwiseApp
from lapwise.tui.kept_cases import KeptCases
from lapwise.tui.widgets.bar import Bar

Make = Callable[..., LapwiseApp]


@pytest.fixture(params=["fast", "slow"])
def make_on_disk(request: pytest.FixtureRequest, make_app: Make, monkeypatch: pytest.MonkeyPatch) -> Make:
    """The program on a disk where all is there at once, and on one where an outcome takes a while."""

    def make() -> LapwiseApp:
        app = make_app()
        if request.param == "fast":

            async def at_once(work: Callable[..., object], *given: object) -> object:
                return work(*given)

            monkeypatch.setattr(app.workspace, "do", at_once)
        else:
            monkeypatch.setattr(KeptCases, "log", slowly(KeptCases.log))
        return app

    return make


def slowly(work: Callable[..., object]) -> Callable[..., object]:
    def slow(*given: object, **named: object) -> object:
        time.sleep(0.2)
        return work(*given, **named)

    return slow


BURSTS = {
    "nn": (["no-change"], "a key pressed twice is one outcome"),
    "tnnn": (["no-change"], "also with the clock running"),
    "nf": (["no-change"], "the try has its outcome, whichever key comes after it"),
    "tntnn": (["no-change", "no-change"], "a try begun since is another"),
    "nun": (["no-change"], "what was taken back may be said anew"),
    "nunu": ([], "and taken back anew"),
    "nuf": (["fixed"], "as something else"),
    "ff": (["fixed"], "a case is closed once"),
}


@pytest.mark.parametrize("burst", BURSTS)
async def test_an_outcome_is_of_the_try_shown_when_it_was_pressed_on_any_disk(
    where: Folders, make_on_disk: Make, burst: str
) -> None:
    """On a fast disk the second of two presses was taken as the outcome of the next remedy."""
    async with at_rest(make_on_disk()) as (app, pilot):
        await begin(pilot)
        for key in burst:
            send(app, key, key)
        await settle(pilot)
        outcomes, why = BURSTS[burst]
        assert [outcome for _, outcome in kept(where)] == outcomes, why
        assert app.open_case.case.tried == tuple(kept(where))
        if not app.open_case.case.tried or outcomes[-1] != "fixed":
            await keys(pilot, "b")
            assert [outcome for _, outcome in kept(where)] == [*outcomes, "better"], "the next that is seen counts"


async def test_an_outcome_typed_ahead_of_its_case_is_of_that_case(where: Folders, make_on_disk: Make) -> None:
    async with at_rest(make_on_disk()) as (app, pilot):
        await begin(pilot)
        for key in ("f", "x", "s", *"haze", "enter", "n", "n"):
            send(app, key, key if len(key) == 1 else None)
        await settle(pilot)
        assert app.open_case.case.symptoms == ("haze",)
        assert [outcome for _, outcome in kept(where)] == ["no-change"]


async def test_what_is_typed_after_something_put_off_is_meant_for_it(where: Folders, make_on_disk: Make) -> None:
    """While the disk was at work, the name of an end was taken as keys of the case."""
    async with at_rest(make_on_disk()) as (app, pilot):
        await begin(pilot)
        for key in ("n", "x", *"given up", "enter"):
            send(app, "space" if key == " " else key, key if len(key) == 1 else None)
        await settle(pilot)
        assert app.open_case.case.symptoms == ()
        with Record.open(where, readonly=True) as record:
            assert [c.result for c in record.cases()] == ["given-up"]


async def test_an_outcome_tapped_twice_is_logged_once(where: Folders, make_on_disk: Make) -> None:
    async with at_rest(make_on_disk()) as (app, pilot):
        await begin(pilot)
        bar = app.screen.query_one("#outcomes", Bar)
        x, y = bar.region.x + bar.render().plain.index("No change") + 2, bar.region.y
        for _ in range(2):
            for of in (MouseDown, MouseUp):
                app._driver.send_message(of(None, x, y, 0, 0, 1, False, False, False))  # type: ignore[union-attr]
        await settle(pilot)
        assert [outcome for _, outcome in kept(where)] == ["no-change"]


async def test_the_clock_and_the_outcome_asked_for_in_one_burst_come_in_their_order(
    where: Folders, make_on_disk: Make, clock: Clock
) -> None:
    async with at_rest(make_on_disk()) as (app, pilot):
        await begin(pilot)
        for key in "tnn":
            send(app, key, key)
        await settle(pilot)
        assert [outcome for _, outcome in kept(where)] == ["no-change"], "a key pressed twice is one outcome"
        assert app.open_case.last is not None
        assert app.open_case.last.minutes == 0.1, "and the clock was running"
