"""A case told in own words on the screen: nothing is taken before it was seen, what is not clear is asked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from tests.tui.steps import QUARTZ, at_rest, begin, case_screen, kept, keys, screen_text, settle, status, until
from textual.pilot import Pilot
from textual.widgets import TextArea

from lapwise.engine.case import Case
from lapwise.engine.folders import Folders
from lapwise.engine.record.store import Record
from lapwise.tui.app import LapwiseApp
from lapwise.tui.screens.chooser import NOT_KNOWN, Chooser
from lapwise.tui.screens.tell import Tell, ToldRows
from lapwise.tui.widgets.bar import Bar
from lapwise.tui.widgets.rows import Rows

Make = Callable[..., LapwiseApp]
SENTENCE = (
    "the table of my topaz stays foggy on the tin lap, alumina, after a 3k pre-polish, "
    "I already cleaned the lap and it did nothing"
)


def tell_screen(app: LapwiseApp) -> Tell:
    assert isinstance(app.screen, Tell)
    return app.screen


async def say(pilot: Pilot[None], *pressed: str) -> str:
    """Press keys, the last of them typed text, and wait until that was read; returns what stands on the screen."""
    await keys(pilot, *pressed)
    app = pilot.app
    assert isinstance(app, LapwiseApp)
    screen = tell_screen(app)
    await until(pilot, lambda: screen._read == screen.typed)
    await settle(pilot)
    return screen_text(app)


async def test_from_a_sentence_to_ranked_advice(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        text = await say(pilot, "o", "=" + SENTENCE)
        for words in (
            "Stone: topaz",
            "Lap: tin",
            "Previous step: 3000 diamond",
            "Seen: bright but milky",
            "Take 7 things",
        ):
            assert words in text, text
        assert app.open_case.case == Case(), "nothing is taken before it was confirmed"
        await keys(pilot, "enter", "enter")
        case = app.open_case.case
        assert (case.material, case.lap, case.compound, case.prior) == (
            "topaz",
            "tin-lap",
            "aluminium-oxide",
            "diamond-3000",
        )
        assert (case.symptoms, case.facet.part) == (("haze",), "table")
        assert case.tried == (("clean-lap", "no-change"),)
        answer = case_screen(app).answer
        assert answer is not None
        assert answer.plan[0].remedy != "clean-lap"
        assert answer.plan[0].label[:25] in screen_text(app)
        assert "Taken: 7 things" in status(app)
        assert kept(where) == [("clean-lap", "no-change")]
        await keys(pilot, "o")
        assert tell_screen(app).typed == "", "what was taken is not offered again"


async def test_after_a_story_without_a_try_it_goes_on_at_once(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await say(pilot, "o", "=quartz on an acrylic lap with ceria is hazy")
        await keys(pilot, "ctrl+s")
        answer = case_screen(app).answer
        assert answer is not None
        assert answer.plan[0].label in screen_text(app), "the list is that of what was told"
        await keys(pilot, "n")
        assert app.open_case.case.tried == ((answer.plan[0].remedy, "no-change"),)
        assert "Logged: no change" in status(app)


async def test_what_is_not_clear_is_asked_with_two_or_three_choices(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "o", "=quartz with streaks and scratches", "enter")
        assert "2 questions first" in screen_text(app)
        await keys(pilot, "ctrl+s")
        assert isinstance(app.screen, Chooser)
        assert "streaks" in screen_text(app)
        await keys(pilot, "down", "enter")
        assert isinstance(app.screen, Chooser)
        assert "scratches" in screen_text(app)
        await keys(pilot, "enter")
        assert app.open_case.case == Case(), "one more look at all of it"
        assert "Take 3 things" in screen_text(app)
        await keys(pilot, "enter")
        assert app.open_case.case.material == "quartz"
        assert app.open_case.case.symptoms == ("surface-film", "fine-scratches")


async def test_a_line_is_left_out_or_changed(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "o", "=topaz on the tin lap, foggy", "enter", "down", "space")
        assert "[ ] Stone: left out" in screen_text(app)
        await keys(pilot, "space")
        assert "[x] Stone: topaz" in screen_text(app)
        await keys(pilot, "space", "down", "enter", "=something", "enter", "=zinc", "enter")
        assert "[x] Lap: zinc" in screen_text(app)
        await keys(pilot, "ctrl+s")
        case = app.open_case.case
        assert (case.material, case.lap, case.symptoms) == (None, "zinc-lap", ("haze",))


async def test_a_try_without_its_end_is_asked_how_it_went(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "o", "=foggy quartz, I cleaned the lap", "ctrl+s")
        assert isinstance(app.screen, Chooser)
        assert "no change" in screen_text(app)
        await keys(pilot, "=worse", "enter", "enter")
        assert app.open_case.case.tried == (("clean-lap", "worse"),)


async def test_what_was_not_clear_half_way_is_read_anew_once_more_is_said(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        assert "how did it go?" in await say(pilot, "o", "=foggy quartz, I cleaned the lap")
        assert "no change" in await say(pilot, "= and it did nothing")
        assert "question" not in screen_text(app)


async def test_what_was_typed_is_still_there_and_answers_stay_with_their_words(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "o", "=foggy quartz", "escape")
        assert app.open_case.case == Case()
        await keys(pilot, "o")
        assert "foggy quartz" in screen_text(app)
        await keys(pilot, "enter")
        assert tell_screen(app).typed == "foggy quartz"
        await keys(pilot, "enter", "down", "space", "up", "up")
        assert tell_screen(app).query_one(TextArea).has_focus
        text = await say(pilot, "=, on tin")
        assert "left out" in text
        assert "[x] Lap: tin" in text


async def test_told_of_a_case_at_hand_adds_to_it_and_logs_nothing_twice(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        sentence = "=topaz has pits, I cleaned the lap and it did nothing"
        assert "now quartz" in await say(pilot, "o", sentence)
        await keys(pilot, "ctrl+s")
        assert "Another stone?" in screen_text(app)
        await keys(pilot, "=same", "enter")
        assert app.open_case.case.symptoms == ("fine-scratches", "pits")
        await keys(pilot, "o", sentence, "ctrl+s")
        assert kept(where) == [("clean-lap", "no-change")]


async def test_a_text_left_does_not_run_into_the_next(make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await keys(pilot, "o", "=foggy quartz", "escape", "o", "down", "enter", "=topaz has pits")
        assert tell_screen(app).typed == "topaz has pits"
        await keys(pilot, "escape", "o", "escape")
        assert case_screen(app).controller.draft == "topaz has pits", "left once more, it is still there"


async def test_another_stone_begins_a_new_case_if_that_is_meant(where: Folders, make_app: Make) -> None:
    """Symptoms, previous step and corrected facets of the stone before stayed with the new one."""
    before = replace(QUARTZ, prior="diamond-3000", corrections=((12.0, 42.0, 0.1, 0.2),))
    async with at_rest(make_app()) as (app, pilot):
        app.controller.state(before)
        case_screen(app).refresh_view()
        await settle(pilot)
        await keys(pilot, "n", "o", "=my topaz has pits", "ctrl+s", "escape")
        assert app.open_case.case.symptoms == QUARTZ.symptoms, "nothing is taken without an answer"
        assert case_screen(app).controller.draft == "my topaz has pits"
        await keys(pilot, "o", "enter", "ctrl+s", "enter")
        case = app.open_case.case
        assert case == Case("topaz", QUARTZ.lap, QUARTZ.compound, symptoms=("pits",))
        assert "A new case" in status(app)
    with Record.open(where, readonly=True) as record:
        assert sorted(str(kept.case.material) for kept in record.open_cases()) == ["quartz", "topaz"]


async def test_after_a_closed_case_it_begins_the_next(where: Folders, make_app: Make) -> None:
    async with at_rest(make_app()) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "f")
        await keys(pilot, "o", "=scratches under the loupe", "ctrl+s")
        while isinstance(app.screen, Chooser):
            await keys(pilot, "enter")
        if isinstance(app.screen, Tell):
            await keys(pilot, "ctrl+s")
        case = app.open_case.case
        assert (case.material, case.symptoms, case.tried) == ("quartz", ("fine-scratches",), ())


async def test_it_is_all_done_by_taps(make_app: Make) -> None:
    async with at_rest(make_app(touch=True), (80, 32)) as (app, pilot):
        await tap(pilot, app, "#actions", "case.tell")
        await keys(pilot, "=quartz with streaks")  # a keyboard on the glass, or dictated
        await tap(pilot, app, "#tell-bar", "take")
        assert isinstance(app.screen, Chooser)
        await pilot.click("#chooser-rows", offset=(6, 1))
        await settle(pilot)
        told = app.screen.query_one(ToldRows)
        await pilot.click("#tell-rows", offset=(6, told.row_height))  # the stone
        await settle(pilot)
        assert isinstance(app.screen, Chooser)
        await pilot.click("#chooser-rows", offset=(6, 4))  # leave it out
        await settle(pilot)
        assert "left out" in screen_text(app)
        await pilot.click("#tell-rows", offset=(6, 0))
        await settle(pilot)
        case = app.open_case.case
        assert case.material is None
        assert len(case.symptoms) == 1


async def tap(pilot: Pilot[None], app: LapwiseApp, selector: str, item: str) -> None:
    """Tap an item of a bar."""
    bar = app.screen.query_one(selector, Bar)
    ends = {name: end for end, name in bar._ends}
    await pilot.click(selector, offset=(ends[item] - 3, 0))
    await settle(pilot)


async def test_i_do_not_know_is_a_line_that_leaves_it_open(make_app: Make) -> None:
    async with at_rest(make_app(), (80, 32)) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "a", "=dry", "enter", "=bone dry", "enter")
        assert app.open_case.case.facts["wetness"] == "dry"
        await keys(pilot, "a", "=dry", "enter")
        assert "I do not know" in screen_text(app)
        await keys(pilot, "=not know", "enter")
        assert "wetness" not in app.open_case.case.facts
        await keys(pilot, "m", "enter", "=I do not know", "enter", "escape")
        assert app.open_case.case.material is None
        await keys(pilot, "s", "=no idea", "enter")
        assert app.open_case.case.symptoms == ("fine-scratches",), "what was marked before stays"
        await keys(pilot, "l", "enter", "enter", "=not sure", "enter")
        assert app.open_case.case.saw == ()


async def test_i_do_not_know_by_tap(make_app: Make) -> None:
    async with at_rest(make_app(touch=True), (80, 40)) as (app, pilot):
        await begin(pilot)
        await keys(pilot, "a", "=how wet", "enter", "=wet", "enter")
        assert app.open_case.case.facts["wetness"] == "wet"
        await keys(pilot, "a", "=how wet", "enter")
        rows = app.screen.query_one(Rows)
        at = [row.id for row in rows.rows].index(NOT_KNOWN)
        await pilot.click("#chooser-rows", offset=(6, at * rows.row_height))
        await settle(pilot)
        assert "wetness" not in app.open_case.case.facts


async def test_symptoms_stand_by_what_they_look_and_feel_like(make_app: Make) -> None:
    async with at_rest(make_app(), (80, 50)) as (app, pilot):
        await keys(pilot, "s")
        text = screen_text(app)
        assert text.index("Looks like lines") < text.index("Looks dull") < text.index("Looks out of shape")
        await keys(pilot, "=feels like")
        text = screen_text(app)
        assert "grabs, squeals" in text
        assert "Orange peel" not in text
        await keys(pilot, *["backspace"] * 10, "=squeels")
        assert "Nothing by that name. The nearest:" in screen_text(app)
        await keys(pilot, "enter")
        assert app.open_case.case.symptoms == ("drags",)
