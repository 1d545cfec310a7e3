"""Knowledge files from the screen: chances as a table; files come and go, asked before, refused as in the shell."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.tui.steps import QUARTZ, at_rest, keys, screen_text, settle, status, until, words
from textual.events import Paste

from lapwise.engine.folders import Folders
from lapwise.engine.knowledge.files import own_files
from lapwise.engine.knowledge.taking import Offered, look_at
from lapwise.engine.record.store import Record
from lapwise.tui.app import LapwiseApp
from lapwise.tui.cli.main import main
from lapwise.tui.present.table import Table
from lapwise.tui.screens.hand_over import Wait
from lapwise.tui.screens.long_work import LongWork
from lapwise.tui.widgets.lines import Lines

Make = Callable[..., LapwiseApp]
GUILD = """experience:
  all:
    benches: 40
    made: 2026-Q2
    knowledge: 'abc'
    fixes:
      clean-lap:
        stray-grit: 0.31 (0.3 to 0.32) of 2000
        loaded-lap: 0.9 (0.8 to 0.95) of 71.5
    causes:
      stray-grit: 3.2 (3 to 3.4) of 900
"""
STONE = """materials:
  my-quartz: {parent: quartz, rank: variety, label: My quartz}
"""


def sheet(app: LapwiseApp) -> str:
    return app.screen.query_one("#sheet-text", Lines).plain


def names(where: Folders) -> list[str]:
    return [Path(str(file.path)).name for file in own_files(where)]


@pytest.fixture
def guild(tmp_path: Path) -> Path:
    """A guild's file that lies somewhere."""
    file = tmp_path / "experience.yaml"
    file.write_text(GUILD)
    return file


async def offer(pilot, app: LapwiseApp, path: Path) -> None:  # type: ignore[no-untyped-def]
    """Give the path of a file to add, from the reference."""
    await keys(pilot, "6", "a")
    app.screen.query_one("#blank-file").value = str(path)  # type: ignore[attr-defined]
    await keys(pilot, "enter")


# --- the table -----------------------------------------------------------------------------------------------


def lines(width: int) -> list[str]:
    table = Table(
        ("shipped", "guild", "yours"),
        (
            ("Together 33 %: against grit left over from a coarser step", "85 %", "31 % of 20000", "-"),
            ("Together 71 %: against a loaded lap", "60 %", "90 % of 71.5", "40 % of 12.0"),
        ),
    )
    found = [line.plain for line in Lines([table])._wrapped(width)]
    assert all(len(line) <= width for line in found)
    whole = " ".join(" ".join(found).split())
    assert all(part in whole for part in ("31 % of 20000", "90 % of 71.5"))
    assert width == 70 or "Together 33 %: against grit left over from a coarser step" in whole
    return found


@pytest.mark.parametrize("width", [100, 70, 44, 30])
def test_cells_of_a_table_stand_under_their_names_or_beside_them(width: int) -> None:
    found = lines(width)
    if width >= 44:
        at = found[0].index("guild")
        rows = [line for line in found if "31 %" in line or "90 %" in line]
        assert [line[at : at + 4] for line in rows] == ["31 %", "90 %"]
        assert [line[found[0].index("yours") :] for line in rows] == ["-", "40 % of 12.0"]
    else:
        assert "  guild 31 % of 20000" in found
        assert found[0].startswith("Together 33 %: against")


def test_where_there_is_room_label_and_cells_stand_on_one_line() -> None:
    assert next(line for line in lines(100) if "loaded" in line).endswith("60 %     90 % of 71.5   40 % of 12.0")
    assert len(lines(100)) == 3
    assert len(lines(44)) == 6, "the long label takes two lines above its cells"


@pytest.mark.parametrize("width", [60, 80, 120])
async def test_shipped_guild_and_own_chances_stand_in_columns(
    width: int, make_app: Make, where: Folders, guild: Path
) -> None:
    shown = {"posterior": {"stray-grit": 1.0}, "fix": {"stray-grit": 0.3}}
    with Record.open(where) as record:
        for outcome in ("fixed", "no-change", "no-change"):
            record.log_outcome(QUARTZ, "clean-lap", outcome, minutes=2, shown=shown, knowledge_digest="k")  # type: ignore[arg-type]
    async with at_rest(make_app(), (width, 60)) as (app, pilot):
        await offer(pilot, app, guild)
        await keys(pilot, "y")
        app.screen.open("clean-lap")  # type: ignore[attr-defined]
        await settle(pilot)
        text = app.screen.query_one("#reference-text", Lines)
        painted = [line.plain for line in text._wrapped(text.content_size.width)]
        head = next(line for line in painted if line.split() == ["shipped", "guild", "yours"])
        row = next(line for line in painted if "31 % of 2000" in line)
        assert head.index("guild") == row.index("31 % of")
        assert row[head.index("yours") :] == "33 % of 3.0"
        assert "Together 31 %: against stray coarse grit" in " ".join(words(app, "#reference-text").split())
        assert "from 2000 trials" not in words(app, "#reference-text"), "said once, in the table"


# --- files ---------------------------------------------------------------------------------------------------


async def test_a_guilds_file_is_looked_at_asked_for_taken_and_set_aside(
    make_app: Make, where: Folders, guild: Path
) -> None:
    async with at_rest(make_app(), (80, 30)) as (app, pilot):
        app.controller.state(QUARTZ)
        await settle(pilot)
        plan = app.controller.answer.plan  # type: ignore[union-attr]
        await offer(pilot, app, guild)
        assert "40 benches, 2026-Q2" in sheet(app)
        assert "holds more" not in sheet(app)
        await keys(pilot, "escape")
        assert names(where) == [], "left, it takes nothing"
        await offer(pilot, app, guild)
        await keys(pilot, "y")
        assert names(where) == ["experience.yaml"]
        assert "Taken: experience.yaml" in status(app)
        assert app.workspace.knowledge.experience
        assert app.controller.case.symptoms == QUARTZ.symptoms
        assert app.controller.answer.plan != plan, "ranked anew, with what the guild found"
        guild.write_text(GUILD.replace("0.31", "0.305"))
        await offer(pilot, app, guild)
        await keys(pilot, "y")
        assert "The one you had is set aside" in status(app)
        await keys(pilot, "d")
        assert "experience.yaml" in screen_text(app)
        await keys(pilot, "enter", "escape")
        assert names(where) == ["experience.yaml"], "asked before, and left"
        await keys(pilot, "d", "enter", "y")
        assert names(where) == []
        assert "Set aside" in status(app)
        assert not app.workspace.knowledge.experience
        assert app.controller.answer.plan == plan, "as if it had never been there"
        await keys(pilot, "d")
        assert "no files of your own" in status(app)


async def test_what_holds_more_than_experience_is_said_and_known_once_taken(
    make_app: Make, where: Folders, tmp_path: Path
) -> None:
    file = tmp_path / "mine.yaml"
    file.write_text(STONE)
    async with at_rest(make_app(), (80, 30)) as (app, pilot):
        await offer(pilot, app, file)
        assert "1 materials" in sheet(app)
        assert "holds more than a guild's experience" in sheet(app)
        await keys(pilot, "y", "slash", "=my quartz")
        assert "My quartz" in words(app, "#reference-text")
        app.controller.put("material", "my-quartz")
        await settle(pilot)
        await keys(pilot, "enter", "d", "enter", "y")
        assert app.controller.case.material != "my-quartz", "a case of what is known no longer is not at hand"
        assert "My quartz" not in screen_text(app)
        assert app.workspace.cases.resume().case.material != "my-quartz"


BAD = {
    "damaged": GUILD.replace("0.31 (0.3", "7 (6"),
    "empty": "",
    "no-list": "- 1\n",
    "ending": GUILD,
    "gone": GUILD,
}


@pytest.mark.parametrize("name", BAD)
async def test_what_is_wrong_is_said_as_the_shell_says_it(
    name: str, make_app: Make, where: Folders, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / ("experience.txt" if name == "ending" else "experience.yaml")
    if name != "gone":
        file.write_text(BAD[name])
    with pytest.raises(SystemExit):
        main(["knowledge", "add", str(file), "--data", str(where.data)])
    shell = " ".join(capsys.readouterr().err.split())
    async with at_rest(make_app(), (120, 30)) as (app, pilot):
        await offer(pilot, app, file)
        said = sheet(app).splitlines()[-1] if app.screen.query("#sheet-text") else status(app)
        assert " ".join(said.removeprefix("! ").split()) in shell
        assert names(where) == []


async def test_a_visitor_sends_the_file_and_is_asked_for_no_path(
    make_app: Make, where: Folders, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with at_rest(make_app(), (80, 30)) as (app, pilot):
        monkeypatch.setattr(LapwiseApp, "is_web", property(lambda _: True))
        for text, name in ((GUILD, "experience.yaml"), (STONE, "sent.yaml")):
            await keys(pilot, "6", "a")
            assert isinstance(app.screen, Wait)
            assert not app.screen.query("#blank-file")
            app.screen.post_message(Paste(text))
            await settle(pilot)
            assert name in screen_text(app)
            await keys(pilot, "y")
            assert name in names(where)
        await keys(pilot, "a")
        app.screen.post_message(Paste("experience:\n  all: {fixes: {clean-lap: {stray-grit: 9}}}\n"))
        await settle(pilot)
        assert "what you sent" in sheet(app)
        assert str(where.data) not in screen_text(app)
        assert "lapwise-" not in sheet(app), "nor the place it was read from"
        await keys(pilot, "escape")


async def test_looking_a_file_over_can_be_stopped(
    make_app: Make, where: Folders, guild: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    go = threading.Event()

    def slow(path: Path, folders: Folders) -> Offered:
        assert go.wait(20)
        return look_at(path, folders)

    monkeypatch.setattr("lapwise.tui.screens.reference.look_at", slow)
    for module in ("app", "pilot"):  # the screen does not rest while it is held up
        monkeypatch.setattr(f"textual.{module}.wait_for_idle", asyncio.sleep)
    async with at_rest(make_app(), (80, 30)) as (app, pilot):
        await keys(pilot, "6", "a")
        app.screen.query_one("#blank-file").value = str(guild)  # type: ignore[attr-defined]
        await pilot.press("enter")
        await until(pilot, lambda: "Looking the file over" in screen_text(app))
        assert isinstance(app.screen, LongWork)
        work = app.screen._underway
        await pilot.press("escape")
        await until(pilot, lambda: work.stopping)
        go.set()
        await settle(pilot)
        assert "everything is as it was" in sheet(app)
        assert names(where) == []


async def test_the_sample_keeps_no_files(make_app: Make, guild: Path) -> None:
    async with at_rest(make_app(), (80, 30)) as (app, pilot):
        await keys(pilot, "f8", "6", "a")
        assert "sample keeps no files" in status(app)
        await keys(pilot, "d")
        assert "sample keeps no files" in status(app)
