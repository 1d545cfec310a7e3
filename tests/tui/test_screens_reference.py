"""The reference: everything known is found, stands under the mark, and speaks in words instead of ids."""

from __future__ import annotations

import re
from collections.abc import Callable

from tests.tui.steps import at_rest, keys, screen_text, status, words

from lapwise.engine.case import Case
from lapwise.tui.app import LapwiseApp
from lapwise.tui.screens.reference import ReferenceScreen
from lapwise.tui.screens.reference_text import Words, entry_lines
from lapwise.tui.widgets.lines import Lines
from lapwise.tui.widgets.rows import Rows

Make = Callable[..., LapwiseApp]


async def test_anything_known_is_found_with_its_sources(make_app: Make) -> None:
    async with at_rest(make_app(), (100, 30)) as (app, pilot):
        await keys(pilot, "6", "slash", "=topaz", "enter")
        screen = app.screen
        assert isinstance(screen, ReferenceScreen)
        text = words(app, "#reference-text")
        assert "Hardness" in text
        assert "Sources" in text
        first = screen.seen[-1]
        await keys(pilot, "slash", *["backspace"] * 6, "=stray grit", "enter")
        assert screen.seen[-1] == "stray-grit"
        await keys(pilot, "backspace")
        assert screen.seen[-1] == first
        await keys(pilot, "k", "=rules", "enter")
        assert screen.kind == "rules"
        kinds = {row.id.partition("/")[0] for row in screen.query_one(Rows).rows}
        assert kinds <= {"rules"}


async def test_the_mark_stands_on_the_entry_that_is_shown(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(Case("topaz"))
        await keys(pilot, "6")
        screen = app.screen
        assert isinstance(screen, ReferenceScreen)
        rows = screen.query_one(Rows)
        assert rows.marked == "materials/topaz"
        assert words(app, "#reference-text").startswith("Topaz\n")
        await keys(pilot, "down", "enter", "backspace")
        assert rows.marked == "materials/topaz"
        await keys(pilot, "k")
        assert "Stones" in screen_text(app)
        assert "Troubles" in screen_text(app)
        await keys(pilot, "=stones", "enter")
        assert status(app).startswith("Stones: ")


async def test_every_entry_of_the_reference_speaks_in_words(make_app: Make) -> None:
    """Ids are for the shell: the text of an entry has labels, and numbers for the works it cites."""
    async with at_rest(make_app()) as (app, _):
        knowledge = app.workspace.knowledge
        names = Words(knowledge)
        for kind in ("materials", "laps", "compounds", "remedies", "looks", "rules"):
            for name in list(getattr(knowledge, kind))[::6]:
                shown = app.workspace.entry(name)[0]
                lines = Lines()
                lines.show(entry_lines(shown, (), names))
                text = lines.plain.split("\nSources\n")[0]
                body = text.split("\n", 2)[2]
                cited = {s.id for s in shown.sources} | {r.source for r in shown.rules}
                for source in (cited - {"practice", "memory"}) & set(knowledge.sources):
                    assert source not in body, f"{name}: {source}"
                for line in body.splitlines():
                    assert not re.search(r"\b[a-z]+_[a-z_]+\b", line), f"{name}: {line}"
                    if " with " in line and ": " in line and kind == "materials":
                        head = line.partition(": ")[0]
                        ids = {i for i in (*knowledge.laps, *knowledge.compounds) if "-" in i}
                        assert not ids & set(head.split())
        assert "[1]" in lines.plain or "common practice" in lines.plain


async def test_every_entry_of_the_reference_opens(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "6")
        screen = app.screen
        assert isinstance(screen, ReferenceScreen)
        names = [name.partition("/")[2] for name in screen.entries]
        for name in names[:: max(1, len(names) // 120)]:
            shown = app.workspace.entry(name)[0]
            assert shown.label


async def test_the_text_is_that_of_the_row_under_the_mark(make_app: Make) -> None:
    async with at_rest(make_app(), (100, 30)) as (app, pilot):
        await keys(pilot, "6", "slash", "=zinc")
        rows = app.screen.query_one(Rows)
        for _ in range(3):
            assert rows.marked is not None
            label = next(e.label for _, e in app.screen.entries.values() if e.id == rows.marked)  # type: ignore[attr-defined]
            assert words(app, "#reference-text").startswith(label)
            await keys(pilot, "tab" if rows.cursor == 0 and not rows.has_focus else "down")
        await keys(pilot, "slash", *["backspace"] * 4, "=qqqq")
        assert words(app, "#reference-text").strip() == ""


async def test_several_things_typed_at_once_are_each_found_stones_and_laps_first(make_app: Make) -> None:
    async with at_rest(make_app(), (100, 30)) as (app, pilot):
        await keys(pilot, "6")
        assert "/: type what to look up" in status(app)
        assert "shown" not in status(app), "nothing was asked yet"
        assert "press /, then type" in screen_text(app)
        await keys(pilot, "slash", "=tourmaline tin diamond")
        found = [row.id for row in app.screen.query_one(Rows).rows]
        assert found[0] == "materials/tourmaline"
        assert {"laps/tin-lap", "compounds/diamond-3000"} <= set(found)
        assert found.index("laps/tin-lap") < found.index("compounds/diamond-3000")
        await keys(pilot, *["backspace"] * 22, "=wash lap")
        kinds = [row.id.partition("/")[0] for row in app.screen.query_one(Rows).rows]
        assert kinds[0] == "remedies", "what is named by all the words goes first"
