"""Words and marks: fitted to their place, and hostile text that draws nothing but itself."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from tests.tui.steps import at_rest, keys, screen_text, settle, status
from textual.color import Color

from lapwise.engine.case import Case
from lapwise.engine.folders import Folders
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.store import Record
from lapwise.engine.wording import percent
from lapwise.tui.app import LapwiseApp
from lapwise.tui.present.words import bar, chance_word, clock, fit, interval, minutes, safe, saves
from lapwise.tui.themes import DARK, LIGHT, PLAIN, first_theme, themes

Make = Callable[..., LapwiseApp]
HOSTILE = {
    "markup": "[red]no[/red] [@click=app.quit]leave[/] [/] [bold",
    "escapes": "\x1b[2J\x1b[31mred\x1b]52;c;aGFoYQ==\x07\x9b31m\x00\x08\x7f",
    "right-to-left": "\u202egnol\u202c שלום مرحبا \u2067x\u2069",
    "emoji": "🪨💎👩🏽‍🔧 ok 🇨🇭",
    "piles": "a" + "\u0301" * 400 + "b",
    "long": "x" * 10_000,
    "lines": "one\ntwo\r\nthree\u2028four\tfive",
    "quotes": "$primary {0} %s {{x}} `code` <b>&amp;",
}


@settings(max_examples=60, deadline=None)
@given(st.text(), st.integers(0, 200))
def test_fitted_text_takes_exactly_its_place(text: str, width: int) -> None:
    out = fit(text, width)
    assert "\n" not in out
    assert cell_len(out) == max(0, width)


@settings(max_examples=60, deadline=None)
@given(st.text())
def test_safe_text_has_no_controls_and_is_the_same_when_made_safe_again(text: str) -> None:
    out = safe(text)
    assert not any(ord(c) < 32 or 0x7F <= ord(c) < 0xA0 or 0x202A <= ord(c) <= 0x202E for c in out)
    assert safe(out) == out


@settings(max_examples=60, deadline=None)
@given(st.floats(0, 1), st.integers(0, 60))
def test_a_bar_is_as_long_as_its_place(share: float, width: int) -> None:
    assert cell_len(bar(share, width)) == width


@settings(max_examples=60, deadline=None)
@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1))
def test_an_interval_holds_its_middle(a: float, b: float, c: float) -> None:
    low, middle, high = sorted((a, b, c))
    line = interval(low, middle, high, 21)
    assert cell_len(line) == 21
    assert line.count("●") == 1


@pytest.mark.parametrize(
    ("chance", "words", "figures"),
    [
        (0.9, "almost sure", "90 %"),
        (0.5, "even", "50 %"),
        (0.2, "possible", "20 %"),
        (0.001, "remote", "<1 %"),
        (0.9999, "almost sure", ">99 %"),
        (0.0, "remote", "0 %"),
        (1.0, "almost sure", "100 %"),
    ],
)
def test_a_chance_in_words_and_figures(chance: float, words: str, figures: str) -> None:
    assert (chance_word(chance), percent(chance)) == (words, figures)


def test_times() -> None:
    assert [minutes(x) for x in (None, 0, 0.4, 1, 89.4, 95)] == [
        "–",
        "0 min",
        "under 1 min",
        "1 min",
        "89 min",
        "1 h 35",
    ]
    assert [saves(x) for x in (-0.2, 0.4, 3)] == ["", "", "saves about 3 min"], (
        "what saves next to nothing says nothing"
    )
    assert [clock(x) for x in (0, 59.9, 60, 3700)] == ["0:00", "0:59", "1:00", "1:01:40"]


def test_colours_stand_out_from_their_ground() -> None:
    """Text has a contrast of 7 to 1 on its ground, marks 4.5 (WCAG 2.2, 1.4.6 and 1.4.3)."""
    for theme in themes():
        for ground in (theme.background, theme.surface, theme.panel):
            for name, least in (
                ("foreground", 7.0),
                ("primary", 4.5),
                ("secondary", 4.5),
                ("accent", 4.5),
                ("warning", 4.5),
                ("error", 4.5),
                ("success", 4.5),
            ):
                assert contrast(getattr(theme, name), ground) >= least, (theme.name, name, ground)


def contrast(one: str | None, two: str | None) -> float:
    def light(text: str | None) -> float:
        parts = [v / 255 for v in Color.parse(text or "").rgb]
        r, g, b = (v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    a, b = sorted((light(one), light(two)))
    return (b + 0.05) / (a + 0.05)


def test_the_theme_to_start_with() -> None:
    assert first_theme({}, None) == DARK
    assert first_theme({}, LIGHT) == LIGHT
    assert first_theme({}, "another") == DARK
    assert first_theme({"NO_COLOR": "1"}, LIGHT) == PLAIN
    assert first_theme({"NO_COLOR": ""}, LIGHT) == LIGHT


# --- hostile text on the screens --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text", [" ".join(v for k, v in HOSTILE.items() if k != "long"), HOSTILE["long"]], ids=["all", "long"]
)
async def test_hostile_notes_and_names_change_nothing_but_themselves(
    text: str, make_app: Make, where: Folders, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Record.open(where) as record:
        case = Case("quartz", "acrylic-lap", "cerium-oxide", symptoms=("fine-scratches",))
        case_id = record.open_case(case)
        record.log_outcome(case, "clean-lap", "no-change", minutes=1, note=text, knowledge_digest="", case_id=case_id)
        record.add_lap(OwnLap("Lap " + text[:50], "acrylic-lap", note=text, grade=text[:190]))
    left: list[str] = []
    app = make_app()
    monkeypatch.setattr(app, "do_quit", lambda: left.append("quit"))
    async with at_rest(app) as (_, pilot):
        for pressed in (["h"], ["escape", "e"], ["escape", "4"], ["v", "v", "v"], ["v"], ["5"], ["1"]):
            await keys(pilot, *pressed)
            shown = screen_text(app)
            lines = shown.split("\n")
            assert len(lines) == 24
            assert all(cell_len(line) == 80 for line in lines)
            assert not any(ord(c) < 32 and c != "\n" for c in shown)
            assert "\u202e" not in shown
            assert "\x1b" not in shown
        screen = app.screen
        screen.say(text)  # type: ignore[attr-defined]
        await settle(pilot)
        assert safe(text, 400) == status(app)
        for x in range(2, 80, 12):
            await pilot.click("#status", offset=(x, 0))
        assert not left, "a link in a note is no link"


async def test_an_own_material_with_markup_in_its_name_is_only_text(make_app: Make, where: Folders) -> None:
    where.own_knowledge.mkdir(parents=True)
    (where.own_knowledge / "own.yaml").write_text(
        "materials:\n  odd-stone:\n    label: 'Odd [bold red]stone[/] [@click=app.quit]x[/]'\n    rank: family\n"
        "    formula: X\n    crystal_system: cubic\n    mohs: {low: 6, high: 6, unit: Mohs, source: practice}\n"
    )
    async with at_rest(make_app(), (100, 30)) as (app, pilot):
        await keys(pilot, "m", "enter", "=odd", "enter", "escape")
        shown = screen_text(app)
        if app.open_case.case.material == "odd-stone":
            assert "Odd [bold red]stone[/] [@click" in shown
        else:
            assert app.workspace.words, "what was left out is said"
