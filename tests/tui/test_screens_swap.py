"""Own bench and invented sample share the screens: nothing may cross from the one to the other."""

from __future__ import annotations

from collections.abc import Callable

from tests.tui.steps import at_rest, keys, settle, status, until

from lapwise.engine.folders import Folders
from lapwise.engine.machine import MachineProfile, load_profile, save_profile
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.store import Record
from lapwise.tui.app import LapwiseApp
from lapwise.tui.screens.correction import CorrectionScreen
from lapwise.tui.screens.laps import LapsScreen
from lapwise.tui.screens.leave import LeaveSample
from lapwise.tui.screens.machine import MachineScreen
from lapwise.tui.screens.record import RecordScreen
from lapwise.tui.screens.reference import ReferenceScreen
from lapwise.tui.screens.transfer import TransferScreen
from lapwise.tui.widgets.rows import Rows

Make = Callable[..., LapwiseApp]


async def swap(pilot, app: LapwiseApp) -> None:  # type: ignore[no-untyped-def]
    """To the sample or back."""
    before = app.workspace
    await keys(pilot, "f8")
    if isinstance(app.screen, LeaveSample):
        await keys(pilot, "l")
    await until(pilot, lambda: app.workspace is not before and app.workspace.ready)
    await settle(pilot)


def turned(app: LapwiseApp) -> float:
    """What the correction holds of the turn."""
    screen = next(s for s in app._area_screens() if isinstance(s, CorrectionScreen))
    return screen.setting.turn


async def visit_all(pilot) -> None:  # type: ignore[no-untyped-def]
    await keys(pilot, "2", "3", "4", "5", "6", "7")


async def test_nothing_of_the_sample_comes_into_the_own_bench(make_app: Make, where: Folders) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await swap(pilot, app)
        await visit_all(pilot)
        machine = app.screen
        assert isinstance(machine, MachineScreen)
        assert machine.profile.gear == 96
        await keys(pilot, "4", "m", "=topaz", "enter", "3")
        transfer = app.screen
        assert isinstance(transfer, TransferScreen)
        assert len(transfer.rows) == 6
        await swap(pilot, app)
        assert transfer.rows == []
        assert transfer.answer is None
        await keys(pilot, "x", "u", "c")
        assert app.open_case.case.corrections == ()
        await keys(pilot, "4")
        assert isinstance(app.screen, RecordScreen)
        assert app.screen.material is None
        await keys(pilot, "5")
        assert isinstance(app.screen, LapsScreen)
        assert app.screen.laps == {}
        assert not app.screen.query_one(Rows).rows
        await keys(pilot, "6")
        assert isinstance(app.screen, ReferenceScreen)
        assert app.screen.seen == [], "the topaz of the sample is not open any more"
        await keys(pilot, "7", "s")
        assert machine.profile == MachineProfile()
        assert load_profile(where) in (None, MachineProfile())
        with Record.open(where, readonly=True) as record:
            assert record.laps() == []


async def test_nothing_of_the_own_bench_comes_into_the_sample_and_the_own_is_there_again(
    make_app: Make, where: Folders
) -> None:
    save_profile(where, MachineProfile(gear=64))
    with Record.open(where) as record:
        record.add_lap(OwnLap("Mine", "tin-lap"))
    async with at_rest(make_app()) as (app, pilot):
        await visit_all(pilot)
        await keys(pilot, "3", "a", "=8", "enter", "=42", "enter", "=0.1", "enter", "=0.1", "enter")
        await keys(pilot, "2", "e", *["backspace"] * 10, "=0.7", "enter", "enter")
        assert turned(app) == 0.7
        await swap(pilot, app)
        assert turned(app) == 0.0
        await keys(pilot, "3")
        transfer = app.screen
        assert isinstance(transfer, TransferScreen)
        assert len(transfer.rows) == 6
        assert transfer.gear == 96
        await keys(pilot, "u")
        assert len(transfer.rows) == 6, "the list before was of the other bench"
        await keys(pilot, "5")
        assert isinstance(app.screen, LapsScreen)
        assert "Mine" not in {view.lap.name for view in app.screen.laps.values()}
        await keys(pilot, "7", "s")
        assert load_profile(where) == MachineProfile(gear=64)
        await swap(pilot, app)
        assert app.screen.profile == MachineProfile(gear=64)  # type: ignore[attr-defined]
        await keys(pilot, "s")
        assert load_profile(where) == MachineProfile(gear=64)


async def test_words_of_one_bench_do_not_stand_over_the_other(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "5", "c")
        assert "no lap of your own" in status(app)
        await keys(pilot, "7")
        await swap(pilot, app)
        await keys(pilot, "5")
        assert "no lap of your own" not in status(app)
