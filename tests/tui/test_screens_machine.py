"""The machine: a line changed and saved, and the guided ink test, from which nothing is lost unasked."""

from __future__ import annotations

from collections.abc import Callable

from tests.tui.steps import at_rest, keys, screen_text, status, words

from lapwise.engine.folders import Folders
from lapwise.engine.machine import MachineProfile, load_profile, save_profile
from lapwise.tui.app import LapwiseApp
from lapwise.tui.screens.machine import MachineScreen

Make = Callable[..., LapwiseApp]
QUESTION = "Turn the stone clockwise, seen from behind the handpiece: do the index numbers go up or down?"


async def test_a_line_of_the_machine_is_changed_and_saved(make_app: Make, where: Folders) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "7", "enter", "=2", "enter")
        assert "96" in words(app, "#ask-complaint") or "number" in words(app, "#ask-complaint")
        await keys(pilot, "backspace", "=96", "enter", "down", "enter", "=down", "enter")
        assert load_profile(where) is None, "nothing is saved before s"
        await keys(pilot, "s")
        profile = load_profile(where)
        assert profile is not None
        assert (profile.gear, profile.numbers_run) == (96, "clockwise")
        assert QUESTION in words(app, "#machine-text")
        assert "Stone turned clockwise  index numbers go down" in screen_text(app), (
            "as it was answered, not the reverse"
        )


async def test_the_ink_test_finds_a_knob_that_turns_the_other_way(make_app: Make, where: Folders) -> None:
    async with at_rest(make_app()) as (app, pilot):
        # gear 96; numbers go down; knob clockwise rubs the right side: the stone turned counter-clockwise
        await keys(pilot, "7", "t", "enter", "=96", "enter", "2", "2", "1", "0", "2")
        await keys(pilot, "enter", "enter", "enter", "k")
        text = screen_text(app)
        assert "Fine-index knob clockwise: the stone turns counter-clockwise." in text, "told as it was answered"
        assert "Stone turned clockwise: the index numbers go down." in text
        assert load_profile(where) is None
        await keys(pilot, "enter")
        profile = load_profile(where)
        assert profile is not None
        assert (profile.gear, profile.knob, profile.numbers_run) == (96, "reversed", "clockwise")
        assert isinstance(app.screen, MachineScreen)


async def test_leaving_the_ink_test_never_drops_an_answer_unasked(make_app: Make, where: Folders) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "7", "t", "enter")
        assert "1 of 9" in screen_text(app)
        await keys(pilot, "=64", "enter", "escape")
        assert "What follows" in screen_text(app), "what was answered stands, though the test was left"
        await keys(pilot, "escape")
        assert "has not been saved" in screen_text(app)
        await keys(pilot, "enter")
        assert "64" in screen_text(app), "Enter goes back to the answers"
        await keys(pilot, "escape", "d")
        assert load_profile(where) is None
        assert "dropped" in status(app)
        await keys(pilot, "t", "enter", "escape")
        assert "nothing is changed" in status(app)
        await keys(pilot, "t", "enter", "=64", "enter", "escape", "enter")
        assert load_profile(where) == MachineProfile(gear=64)
        assert "knob." not in status(app).partition(" t ")[0], "only the gear is known"
        assert "the teeth of your gear" in status(app)


async def test_the_ink_test_counts_steadily_and_its_keys_are_its_answers(make_app: Make, where: Folders) -> None:
    for marks in ((), ("=20",)):
        async with at_rest(make_app()) as (app, pilot):
            await keys(pilot, "7", "t", "enter")
            titles = []
            for _ in range(12):
                if "What follows" in screen_text(app):
                    break
                text = screen_text(app)
                titles.append(next(line.strip("│ ") for line in text.splitlines() if " of 9" in line))
                if "near 0 or near 90" in " ".join(text.replace("│", " ").split()):
                    assert "0 Near 0" in text
                    assert "9 Near 90" in text
                    await keys(pilot, "9")
                elif app.screen.query("#sheet"):
                    await keys(pilot, "enter")
                    assert titles[-1] in screen_text(app), "enter skips no question"
                    await keys(pilot, "k")
                else:
                    await keys(pilot, *(marks if titles[-1] == "7 of 9" else ()), "enter")
            assert [t[:6] for t in titles if "degrees" not in t] == [f"{n} of 9" for n in range(1, 10)]
            assert any("degrees" in t for t in titles) == (not marks)
            assert "Dop upright: the dial reads 90" in screen_text(app), "told as it was answered"
            await keys(pilot, "escape", "d")


def shown(app: LapwiseApp) -> str:
    """What a sheet says, its lines put together."""
    return " ".join(screen_text(app).replace("│", " ").split())


async def test_the_index_is_asked_about_in_one_wording_everywhere(make_app: Make, where: Folders) -> None:
    """Machine said "rise clockwise" where the ink test was answered "down"."""
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "7", "down", "enter")
        assert QUESTION in shown(app)
        assert "I do not know" in shown(app)
        await keys(pilot, "=up", "enter", "s", "t", "enter", "=96", "enter")
        assert QUESTION in shown(app)
        assert "So far: up. Enter keeps it." in shown(app)
        await keys(pilot, "enter", "escape")
        assert "the index numbers go up" in shown(app)
        await keys(pilot, "enter")
        profile = load_profile(where)
        assert profile is not None
        assert profile.numbers_run == "counterclockwise"
        assert profile.index_sign() == 1, "clockwise makes the reading rise"


async def test_the_ink_test_goes_back_and_knows_what_is_known(make_app: Make, where: Folders) -> None:
    app = make_app()
    save_profile(where, MachineProfile(gear=80, numbers_run="clockwise", knob="own", angle_zero="level"))
    async with at_rest(app) as (_, pilot):
        await keys(pilot, "7", "t", "enter", "enter", "enter")
        assert "3 of 9" in shown(app)
        assert "So far: left." in shown(app)
        await keys(pilot, "=<")
        assert "2 of 9" in shown(app)
        await keys(pilot, "1", "=<")
        assert "So far: up." in shown(app), "as answered, not as known before"
        await keys(pilot, "enter", "2")
        assert "4 of 9" in shown(app)
        assert "So far" not in shown(app), (
            "the first was answered otherwise than known, so nothing stands with this one"
        )
        await keys(pilot, "k", "k", "k")
        assert "7 of 9" in shown(app)
        await keys(pilot, "=<")
        assert "6 of 9" in shown(app)
        await keys(pilot, "escape")
        text = shown(app)
        assert "Still open" not in text, "what was left out is known of before"
        await keys(pilot, "enter")
    kept = MachineProfile(gear=80, numbers_run="counterclockwise", knob="reversed", angle_zero="level")
    assert load_profile(where) == kept
