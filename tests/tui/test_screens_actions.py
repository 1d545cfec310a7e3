"""The one table of actions: whole, without clashes, and every action reached by key, by palette and by tap."""

from __future__ import annotations

import re
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import pytest
from tests.tui.steps import at_rest, keys, screen_text, send, settle, until, words
from textual.command import Hit
from textual.widget import Widget
from textual.widgets import Input, OptionList

from lapwise.engine.case import Case, FacetSetting
from lapwise.engine.errors import LapwiseError
from lapwise.engine.folders import Folders
from lapwise.tui.actions import ACTIONS, AREAS, FOOT, foot, of_area
from lapwise.tui.app import LapwiseApp
from lapwise.tui.cli.main import open_screens
from lapwise.tui.keymap import Choices, read_choices, read_keymap, write_choices
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.palette import Actions
from lapwise.tui.widgets.bar import Bar
from lapwise.tui.widgets.rows import Rows

Make = Callable[..., LapwiseApp]
INK, PAPER = "#c5c8c6", "#292929"
"""The export's own colours for text and ground of a terminal that names none."""
NAMES = [area.id for area in AREAS]


def test_the_table_is_whole() -> None:
    ids = [a.id for a in ACTIONS]
    assert len(ids) == len(set(ids))
    assert {a.area for a in ACTIONS} == {*NAMES, "app"}
    for action in ACTIONS:
        assert action.about[0].isupper()
        assert len(action.label) <= 14


@pytest.mark.parametrize("area", NAMES)
def test_no_two_actions_share_a_key(area: str) -> None:
    pressed = [k for a in (*of_area(area), *of_area("app")) for k in a.keys.split(",")]
    pressed += [a.key for a in AREAS]
    assert len(pressed) == len(set(pressed))


@pytest.mark.parametrize("area", NAMES)
def test_at_most_six_at_the_foot_and_help_is_the_last(area: str) -> None:
    shown = foot(area)
    assert 2 <= len(shown) <= FOOT
    assert shown[-1].id == "app.help"


@pytest.mark.parametrize("page", [*NAMES, "guide", "glossary"])
def test_every_area_has_its_page(page: str) -> None:
    text = files("lapwise.tui").joinpath("help", f"{page}.md").read_text(encoding="utf-8")
    assert text.startswith("# ")
    assert len(text) > 400


def test_the_actions_have_no_key_that_some_terminals_never_send() -> None:
    for action in ACTIONS:
        for key in action.keys.split(","):
            assert key not in ("ctrl+enter", "shift+enter")
            assert not (key.startswith("ctrl+") and key[-1].isdigit())


@pytest.mark.parametrize("area", NAMES)
async def test_every_action_by_key_and_by_palette(area: str, make_app: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(Case("quartz", symptoms=("fine-scratches",), facet=FacetSetting(part="pavilion")))
        await keys(pilot, next(a.key for a in AREAS if a.id == area))
        screen = app.screen
        assert isinstance(screen, AreaScreen)
        assert screen.area == area
        called: list[str] = []
        for action in of_area(area):
            monkeypatch.setattr(screen, action.method, lambda a=action.id: called.append(a))
        for action in of_area("app"):
            monkeypatch.setattr(app, action.method, lambda a=action.id: called.append(a))
        for action in (*of_area(area), *of_area("app")):
            if action.id == "app.palette":
                continue
            for key in action.keys.split(","):
                called.clear()
                await keys(pilot, key)
                assert called == [action.id], f"{key} in {area}"
        by_palette = {found.name: found.run for found in Actions(screen)._all()}
        for action in (*of_area(area), *of_area("app")):
            if action.id != "app.palette":
                called.clear()
                by_palette[f"{action.label}  ({app.keymap.shown(action)})"]()
                assert called == [action.id]


@pytest.mark.parametrize(("area", "touch"), [*((name, False) for name in NAMES), ("case", True), ("record", True)])
async def test_every_item_at_the_foot_by_mouse(
    area: str, touch: bool, make_app: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with at_rest(make_app(touch=touch)) as (app, pilot):
        areas = app.screen.query_one("#areas", Bar)
        places = {name: end for end, name in areas._ends}
        await pilot.click("#areas", offset=(places[area] - 2, areas.size.height - 1))
        await settle(pilot)
        screen = app.screen
        assert isinstance(screen, AreaScreen)
        assert screen.area == area
        called: list[str] = []
        for action in (*foot(area), *(a for a in of_area("app") if a.id == "app.more")):
            target = app if action.area == "app" else screen
            monkeypatch.setattr(target, action.method, lambda a=action.id: called.append(a))
        bar = screen.query_one("#actions", Bar)
        assert bar.size.height == (3 if touch else 1)
        for end, name in bar._ends:
            for y in range(bar.size.height):
                called.clear()
                await pilot.click("#actions", offset=(end - 4, y))
                await pilot.pause()
                assert called == [name]


async def test_the_palette_finds_an_action_by_its_words(make_app: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    async with at_rest(make_app()) as (app, pilot):
        called: list[str] = []
        monkeypatch.setattr(app.screen, "do_what_if", lambda: called.append("what-if"))
        await pilot.press("ctrl+p")
        await pilot.pause()
        await pilot.press(*"what if")
        for _ in range(50):
            await pilot.pause(0.05)
            found = app.screen.query(OptionList)
            if found and found.first().option_count and "What if" in screen_text(app):
                break
        await pilot.press("enter")
        await settle(pilot)
        assert called == ["what-if"]


async def _palette(app: LapwiseApp, typed: str) -> list[str]:
    hits = [hit async for hit in Actions(app.screen).search(typed) if isinstance(hit, Hit)]
    return [str(hit.text).partition("  (")[0] for hit in sorted(hits, reverse=True)]


async def test_the_palette_finds_whole_words_and_their_beginnings_only(make_app: Make) -> None:
    """Letters picked from anywhere had "grit" find Worse, and enter logged it."""
    async with at_rest(make_app()) as (app, _):
        logging = {"Fixed", "Better", "No change", "Worse", "Try"}
        for typed in ("grit", "theme", "quit", "exit", "oe", "hange", "ixed", "fxd", "wrse"):
            assert not logging & set(await _palette(app, typed)), typed
        assert (await _palette(app, "grit"))[0] == "Reference: Find"
        assert (await _palette(app, "theme"))[0] == "Light or dark"
        for typed in ("quit", "exit", "QUIT"):
            assert (await _palette(app, typed))[:2] == ["Leave?", "Leave"]
        assert (await _palette(app, "wor"))[0] == "Words", "of two that fit alike, the one that logs stands behind"
        assert (await _palette(app, "worse"))[0] == "Worse"
        assert (await _palette(app, "no ch"))[0] == "No change"
        assert (await _palette(app, "go record"))[0] == "Go to Record"
        assert await _palette(app, " ") == []


async def test_a_word_that_fits_nothing_logs_nothing(make_app: Make, where: Folders) -> None:
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(Case("quartz", symptoms=("fine-scratches",)))
        await settle(pilot)
        await pilot.press("ctrl+p", *"oorse")
        await until(pilot, lambda: "No matches found" in screen_text(app))
        await pilot.press("enter", "escape")
        await settle(pilot)
        assert app.open_case.case.tried == ()


async def test_f1_explains_the_widget_in_focus(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "f1")
        assert "What to try, in order" in screen_text(app)
        await keys(pilot, "escape", "2", "f1")
        assert "The facet as you face it" in screen_text(app)
        await keys(pilot, "escape", "6", "slash", "f1")
        assert "Look up anything known" in screen_text(app)


def test_every_widget_that_takes_focus_explains_itself() -> None:
    from lapwise.tui.screens import case, correction, laps, machine, reference, transfer
    from lapwise.tui.widgets import facet_map, rows

    for module in (case, correction, laps, machine, reference, transfer, facet_map, rows):
        for item in vars(module).values():
            if isinstance(item, type) and issubclass(item, Widget) and item.__module__ == module.__name__:
                assert len(str(getattr(item, "help_text", ""))) > 10, item


# --- own keys and choices -----------------------------------------------------------------------------------------


def test_own_keys_replace_the_shipped_ones(tmp_path: Path) -> None:
    (tmp_path / "keys.yaml").write_text("case.fixed: z\narea.laps: f12\n")
    found = read_keymap(tmp_path)
    assert not found.problems
    assert found.keys == {"case.fixed": "z", "area.laps": "f12"}


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("case.fixt: z", "case.fixed"),
        ("case.fixed: w", "case.worse"),
        ("case.fixed: f1", "app.help"),
        ("case.fixed:", "a key is required"),
        ("case.fixed: alt+e", "cannot be told from escape"),
        ("- a\n- b", "must begin with an action and its key"),
        ("a: [", "a bracket or brace that is not closed"),
        ("case.fixed: [1, 2]", "a key is required"),
        ("case.fixed: 2026-99-99", "read as a date"),
        ("a: " + "[" * 50 + "]" * 50, "nested too deep"),
        ("case.fixed: " + "[" * 3000, "a bracket or brace"),
    ],
)
def test_a_fault_in_the_keys_is_said_and_the_rest_counts(tmp_path: Path, text: str, word: str) -> None:
    (tmp_path / "keys.yaml").write_text(text + "\n")
    found = read_keymap(tmp_path)
    assert word in str(found.problems[0])
    assert found.keys == {}


@pytest.mark.parametrize("opened", ["f1", "f2"])
async def test_keys_scroll_a_sheet_and_a_page_and_leave_them(opened: str, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        area = app.screen
        await keys(pilot, opened)
        body = app.screen.query_one("#sheet-body")
        seen = []
        for key in ("down", "space", "end", "up", "home"):
            await keys(pilot, key)
            seen.append(body.scroll_y)
        assert seen == [1, min(11, body.max_scroll_y), body.max_scroll_y, body.max_scroll_y - 1, 0]
        assert body.max_scroll_y > 3
        await keys(pilot, opened if opened == "f1" else "q")
        assert app.screen is area


async def test_own_keys_work_and_are_shown(make_app: Make, where, monkeypatch: pytest.MonkeyPatch) -> None:  # type: ignore[no-untyped-def]
    (where.config / "keys.yaml").write_text("case.look: z\n")
    async with at_rest(make_app()) as (app, pilot):
        called: list[str] = []
        monkeypatch.setattr(app.screen, "do_look", lambda: called.append("look"))
        await pilot.press("z")
        await pilot.pause()
        assert called == ["look"]
        assert ("z", "Look") in [(i.key, i.label) for i in app.screen.query_one("#actions", Bar).items]


def test_choices_are_kept_and_a_damaged_file_is_no_trouble(tmp_path: Path) -> None:
    write_choices(tmp_path, Choices("bright-bench", True, True, True))
    assert read_choices(tmp_path) == Choices("bright-bench", True, True, True)
    (tmp_path / "screens.json").write_text("{[")
    assert read_choices(tmp_path) == Choices()
    for damaged in ("[1]", "[" * 100_000, "", '{"theme": 1' + "0" * 5000 + "}"):
        (tmp_path / "screens.json").write_text(damaged)
        assert read_choices(tmp_path) == Choices()
        assert "cannot be read" in str(read_choices(tmp_path).problem)


async def test_the_screens_start_on_damaged_files_and_say_so(make_app: Make, where: Folders) -> None:
    (where.config / "keys.yaml").write_text("case.fixed: 2026-99-99\n")
    (where.config / "screens.json").write_text("[" * 9000)
    async with at_rest(make_app(), (120, 40)) as (app, pilot):
        await keys(pilot, "escape")  # the welcome, which stands before what is to be looked at
        text = words(app, "#sheet-text")
        assert "keys.yaml:1" in text
        assert "read as a date" in text
        assert "screens.json: cannot be read" in text


async def test_light_dark_large_and_touch_are_kept(make_app: Make, where) -> None:  # type: ignore[no-untyped-def]
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "f4", "f5", "f7")
        assert app.theme == "bright-bench"
        assert app.screen.has_class("-large")
        assert app.screen.query_one("#outcomes", Bar).size.height == 3
    assert read_choices(where.config) == Choices("bright-bench", True, True, True)


async def test_no_color_is_honoured(make_app: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    app = make_app()
    assert app.theme == "ansi-dark"
    async with at_rest(app) as (_, pilot):
        shown = app.export_screenshot()
        inks = dict(re.findall(r"\.(terminal-[0-9]+-r[0-9]+) \{ fill: (#[0-9a-f]{6})", shown))
        assert set(inks.values()) <= {INK, PAPER}, "the terminal's own ink and paper, nothing else"
        used = [inks[name] for name in re.findall(r'<text class="(terminal-[0-9]+-r[0-9]+)"', shown) if name in inks]
        assert used.count(INK) > len(used) / 2, "ink on paper, not paper on paper"
        await keys(pilot, "f4")
        assert app.theme == "ansi-dark", "light and dark have no meaning without colour"


def test_without_a_terminal_it_says_so(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    with pytest.raises(LapwiseError) as caught:
        open_screens(str(tmp_path))
    assert caught.value.exit_code == 2
    assert "need a terminal" in str(caught.value)


async def test_what_is_typed_before_a_list_is_open_reaches_it(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        for key in ("s", "h", "a", "z", "e"):  # all in one burst, as over a slow line
            send(app, key, key)
        await until(pilot, lambda: bool(app.screen.query(Input)) and app.screen.query_one(Input).value == "haze")
        send(app, "escape")
        await settle(pilot)
        for key in ("s", "down", "down", "enter", "t"):
            send(app, key, key if len(key) == 1 else None)
        await until(pilot, lambda: len(app.screen_stack) == 1 and bool(app.open_case.case.symptoms))
        await settle(pilot)
        assert len(app.open_case.case.symptoms) == 1, "the t behind enter was no letter of the list"
        assert app.app.controller.trying is not None  # type: ignore[attr-defined]


async def test_more_lists_every_action_and_carries_it_out(make_app: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    async with at_rest(make_app(touch=True)) as (app, pilot):
        called: list[str] = []
        monkeypatch.setattr(app.screen, "do_undo", lambda: called.append("undo"))
        monkeypatch.setattr(app, "do_light", lambda: called.append("light"))
        await keys(pilot, "f9")
        listed = [row.id for row in app.screen.query_one(Rows).rows if not row.heading]
        wanted = [a.id for a in (*of_area("case"), *of_area("app")) if a.id != "app.more"]
        assert listed == wanted
        await keys(pilot, "=undo", "enter", "f9", "=light", "enter")
        assert called == ["undo", "light"]


async def test_the_help_names_the_file_and_the_id_of_every_action_for_own_keys(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "f1", "k")
        text = words(app, "#sheet-text")
        assert str(app.where.config / "keys.yaml") in text
        for action in ACTIONS:
            assert action.id in text
        for area in AREAS:
            assert f"area.{area.id}" in text
