"""The transfer on the real engine: rows typed and read, predictions, and the way back from every loss."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from tests.tui.steps import at_rest, keys, screen_text, settle, status, until, words

from lapwise.engine.case import Case
from lapwise.engine.conclusions import Fact
from lapwise.engine.folders import Folders
from lapwise.tui.app import LapwiseApp
from lapwise.tui.screens.transfer import TransferScreen

Make = Callable[..., LapwiseApp]


async def test_rows_typed_and_the_prediction(make_app: Make) -> None:
    """A tilt of 0.1° towards index 96 asks of facets at 0 and half round ±0.1° of angle (design of the fit: Δe = τ
    cos(a−φ)); the engine's own tests check it against exact rotations."""
    async with at_rest(make_app(), (100, 40)) as (app, pilot):
        await keys(pilot, "3")
        screen = app.screen
        assert isinstance(screen, TransferScreen)
        for index, one, two in (("96", "0", "0.1"), ("24", "-0.0296", "0"), ("48", "0", "-0.1"), ("72", "0.0296", "0")):
            await keys(pilot, "a", f"={index}", "enter", "=42", "enter", f"={one}", "enter", f"={two}", "enter")
        await keys(pilot, "a", "=12", "enter", "=42", "enter", "enter", "enter")
        answer = screen.answer
        assert answer is not None
        assert answer.tilt == pytest.approx(0.1, abs=2e-3)
        assert answer.predictions[0].angle_change == pytest.approx(0.0707, abs=2e-3)
        assert "leans" in words(app, "#transfer-answer")


async def test_a_file_is_read_a_mistyped_sign_marked_and_all_written(make_app: Make, where: Folders) -> None:
    table = "index,angle,index_change,angle_change\n" + "".join(
        f"{i},42,{d},{c}\n"
        for i, d, c in (
            (96, 0.0, 0.2),
            (12, -0.0419, 0.14),
            (24, -0.0592, 0.0),
            (36, -0.0419, 0.14),
            (48, 0.0, -0.2),
            (60, 0.0419, -0.14),
            (72, 0.0592, 0.0),
        )
    )
    where.data.mkdir(parents=True, exist_ok=True)
    (where.data / "in.csv").write_text(table + "84,42,,\nbad,row,,\n")
    async with at_rest(make_app(), (100, 40)) as (app, pilot):
        await keys(pilot, "3", "o")
        app.screen.query_one("#blank-file").value = str(where.data / "in.csv")  # type: ignore[attr-defined]
        await keys(pilot, "enter")
        screen = app.screen
        assert isinstance(screen, TransferScreen)
        assert len(screen.rows) == 8
        assert "Left out" in status(app)
        assert screen.answer is not None
        assert [(s.row, s.column) for s in screen.answer.suspects] == [(4, "angle_change")]
        assert "sign of its angle change looks wrong" in words(app, "#transfer-answer")
        marked = [line for line in screen_text(app).splitlines() if "+0.140" in line and "36" in line]
        assert marked
        assert all("!" in line for line in marked)
        await keys(pilot, "s")
        app.screen.query_one("#blank-file").value = str(where.data / "out.csv")  # type: ignore[attr-defined]
        await keys(pilot, "enter")
        assert "84" in (where.data / "out.csv").read_text()
        await keys(pilot, "s")
        app.screen.query_one("#blank-file").value = str(where.data / "out.csv")  # type: ignore[attr-defined]
        await keys(pilot, "enter")
        assert "there already" in status(app)
        await keys(pilot, "d")
        assert len(screen.rows) == 7
        await keys(pilot, "o")
        app.screen.query_one("#blank-file").value = "/no/such/file.csv"  # type: ignore[attr-defined]
        await keys(pilot, "enter")
        assert "/no/such/file.csv" in status(app)
        await keys(pilot, "g", *["backspace"] * 3, "=64", "enter")
        assert screen.gear == 64


async def test_the_case_takes_the_corrections_and_keeps_them(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app(), (100, 40)) as (app, pilot):
        app.controller.state(Case("quartz", "acrylic-lap", "cerium-oxide", symptoms=("partial-polish",)))
        await settle(pilot)
        await keys(pilot, "3", "c")
        assert "Give the corrections of a facet first" in status(app)
        screen = app.screen
        assert isinstance(screen, TransferScreen)
        for index, one, two in (("96", "0", "0.3"), ("24", "-0.0888", "0"), ("48", "0", "-0.3"), ("72", "0.0888", "0")):
            await keys(pilot, "a", f"={index}", "enter", "=42", "enter", f"={one}", "enter", f"={two}", "enter")
        before = len(screen.rows)
        await keys(pilot, "c")
        assert f"takes in {before} corrected facets" in status(app)
        assert [row[:2] for row in app.open_case.case.corrections] == [(96, 42), (24, 42), (48, 42), (72, 42)]
        await keys(pilot, "c")
        assert "knows these corrections already" in status(app)
        await keys(pilot, "1")
        assert "4 facets corrected" in screen_text(app)
        answer = app.screen.answer  # type: ignore[attr-defined]
        assert ("stone_pattern", "one-wave") in {(f.slot, f.value) for f in await facts(app)}
        assert "re-dop" in [step.remedy for step in answer.plan]
    async with at_rest(make_app(), (100, 40)) as (again, pilot):
        await keys(pilot, "3")
        screen = again.screen
        assert isinstance(screen, TransferScreen)
        assert len(screen.rows) == 4, "the rows are there again, from the case"
        await keys(pilot, "x")
        assert "c takes them out of the case too" in status(again)
        await keys(pilot, "c")
        assert again.open_case.case.corrections == ()


async def test_an_emptied_list_stays_empty_and_comes_back_with_u(make_app: Make, where: Folders) -> None:
    async with at_rest(make_app()) as (app, pilot):
        rows = ((96.0, 42.0, 0.0, 0.1), (24.0, 42.0, -0.03, 0.0), (48.0, 42.0, 0.0, -0.1))
        app.controller.state(Case("quartz", corrections=rows))
        await keys(pilot, "3")
        screen = app.screen
        assert isinstance(screen, TransferScreen)
        assert len(screen.rows) == 3
        await keys(pilot, "x")
        assert screen.rows == []
        assert "u brings it back" in status(app)
        await keys(pilot, "1", "3")
        assert screen.rows == [], "they are not taken from the case again"
        await keys(pilot, "u")
        assert [row.index for row in screen.rows] == [96, 24, 48]
        await keys(pilot, "d")
        assert "u brings it back" in status(app)
        await keys(pilot, "u")
        assert [row.index for row in screen.rows] == [96, 24, 48]
        where.data.mkdir(parents=True, exist_ok=True)
        (where.data / "one.csv").write_text("index,angle,index_change,angle_change\n12,40,0.1,0.1\n")
        await keys(pilot, "o")
        assert "looked for in" in " ".join(screen_text(app).replace("│", " ").split())
        app.screen.query_one("#blank-file").value = str(where.data / "one.csv")  # type: ignore[attr-defined]
        await keys(pilot, "enter")
        assert status(app).startswith("1 row read.")
        await keys(pilot, "u")
        assert [row.index for row in screen.rows] == [96, 24, 48]
        await keys(pilot, "u", "u")
        assert "nothing to bring back" in status(app)


async def test_the_first_facet_asks_plainly_for_one_more(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "3", "a", "=12", "enter", "=42", "enter", "=0.1", "enter", "=0.1", "enter")
        assert words(app, "#transfer-answer") == "Add one more facet, well round the stone."
        await keys(pilot, "a", "=12", "enter", "=42", "enter", "=0.1", "enter", "=0.1", "enter")
        assert words(app, "#transfer-answer") == (
            "These facets cannot tell the dop tilt and its direction, the index zero and the angle offset: measure "
            "one more facet at another index setting, well round the stone."
        )


async def test_the_answer_of_a_transfer_is_read_on_and_what_is_predicted_stands_in_the_list(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "f8")
        await until(pilot, lambda: app.workspace.sample and app.workspace.ready)
        await settle(pilot)
        await keys(pilot, "3")
        screen = app.screen
        assert isinstance(screen, TransferScreen)
        assert screen.answer is not None
        asked = screen.answer.predictions[0]
        assert asked.index == 24
        line = next(line for line in screen_text(app).splitlines() if line[:40].lstrip("▸ ").startswith("24 "))[:40]
        assert f"{asked.angle_change:+.3f}" in line
        assert f"{asked.index_change:+.3f}" in line
        assert "?" in line
        pane = screen.query_one("#transfer-right")
        assert pane.scroll_y == 0
        await until(pilot, lambda: pane.max_scroll_y > 0)
        for _ in range(12):
            if pane.scroll_y >= pane.max_scroll_y:
                break
            await keys(pilot, "right_square_bracket")
        assert "Facets to predict" in screen_text(app) or "Mirror settings" in screen_text(app)
        await keys(pilot, *["left_square_bracket"] * 12)
        assert pane.scroll_y == 0


async def row(pilot, *cells: str) -> None:  # type: ignore[no-untyped-def]
    """Type one facet."""
    await keys(pilot, "a", *(key for cell in cells for key in (f"={cell}", "enter")))


async def test_the_rows_are_kept_as_the_case_is(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "3", "g", *["backspace"] * 3, "=64", "enter")
        await row(pilot, "12", "42", "0.1", "-0.2")
        await row(pilot, "20", "42", "0.1", "0.2")
        with_gear = app.workspace.where.data / "transfer.json"
        assert '"gear": 64' in with_gear.read_text(), "on disk as soon as it is typed"
    async with at_rest(make_app()) as (again, pilot):
        await keys(pilot, "3")
        screen = again.screen
        assert isinstance(screen, TransferScreen)
        assert [(r.index, r.angle_change) for r in screen.rows] == [(12, -0.2), (20, 0.2)]
        assert screen.gear == 64
        assert "64 teeth" in screen_text(again)


async def test_two_windows_lose_nothing_of_a_transfer(make_app: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lapwise.tui.app.ROUND_SECONDS", 3600.0)  # what is written meanwhile is not looked for
    one, two, two_more = make_app(), make_app(), make_app()
    async with at_rest(one) as (_, here):
        await keys(here, "3")
        async with at_rest(two) as (_, there):
            await keys(there, "3")
            await row(there, "12", "42", "0.1", "-0.2")
        await row(here, "20", "42", "0.1", "0.2")
        screen = one.screen
        assert isinstance(screen, TransferScreen)
        assert "another window" in status(one)
        assert [r.index for r in screen.rows] == [12]
        await keys(here, "u")
        assert [r.index for r in screen.rows] == [20]
        async with at_rest(two_more) as (_, there):
            await keys(there, "3")
            await row(there, "28", "42", "0.1", "-0.2")
        await one.controller.look_round()
        assert [r.index for r in screen.rows] == [20, 28], "what another window wrote is taken up in time"


async def test_a_list_that_cannot_be_read_is_set_aside(make_app: Make, where: Folders) -> None:
    where.data.mkdir(parents=True, exist_ok=True)
    (where.data / "transfer.json").write_text('{"gear": 96, "rows": [[12, 42, "x"')
    async with at_rest(make_app()) as (app, pilot):
        assert "set aside" in screen_text(app)
        await keys(pilot, "escape", "3")
        await row(pilot, "12", "42", "0.1", "-0.2")
    assert "0.1" in (where.data / "transfer.json").read_text()
    aside = [p for p in where.data.iterdir() if p.suffix == ".damaged"]
    assert [p.read_text() for p in aside] == ['{"gear": 96, "rows": [[12, 42, "x"']


async def facts(app: LapwiseApp) -> tuple[Fact, ...]:
    """The raw facts that the engine takes from the case at hand."""
    session = app.workspace._session
    assert session is not None
    return (await app.workspace.do(session.prepare, app.open_case.case)).facts
