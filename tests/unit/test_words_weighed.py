"""What looks like a trouble, a name or a try in a text, and is weighed: taken, asked or left."""

from __future__ import annotations

import time

import pytest
from tests.unit.words_kit import read

from lapwise.engine.case import Case
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words.hear import hear
from lapwise.engine.words.lexicon import Lexicon
from lapwise.tui.screens.told import stated, told


@pytest.mark.parametrize(
    ("told", "symptoms"),
    [
        ("no scratches, pits or haze, just slow", ("slow-polish",)),
        ("I got rid of the haze but now it has deep scratches", ("coarse-scratches",)),
        ("the haze has cleared up, now pits", ("pits",)),
        ("how do I get rid of the haze", ("haze",)),
        ("at first it was hazy, now it has deep scratches", ("coarse-scratches",)),
        ("I worry that it will crack, it drags", ("drags",)),
        ("it squeals, and I bumped the speed up", ("drags",)),
        ("since I come back to it it drags", ("drags",)),
        ("grabbed a test stone, mine is hazy", ("haze",)),
        ("a dip in the lap, and the facets come out domed", ("curved-facet",)),
        ("the film is all wrinkly and I get hairlines", ("fine-scratches",)),
        ("it chips round the edges", ("chipped-edges",)),
        ("a milky film that does not wipe off", ("haze",)),
        ("slowed way down, it still chips", ("chipped-edges",)),
        ("the edges of each main stay matte", ("partial-polish",)),
        ("better but not gone: haze", ("haze",)),
    ],
)
def test_denied_cured_feared_or_done_by_hand(
    told: str, symptoms: tuple[str, ...], knowledge: Knowledge, lex: Lexicon
) -> None:
    assert read(f"My topaz on the tin lap, {told}.", knowledge, lex).case.symptoms == symptoms


def test_a_word_that_names_the_kind_of_stone_is_no_trouble(knowledge: Knowledge, lex: Lexicon) -> None:
    assert read("heated sapphire, hairlines", knowledge, lex).case.symptoms == ("fine-scratches",)
    assert read("white zircon with a smear", knowledge, lex).case.symptoms == ("surface-film",)


def test_a_loose_word_alone_is_taken_but_marked(knowledge: Knowledge, lex: Lexicon) -> None:
    hearing = read("topaz with a split", knowledge, lex)
    assert [(h.id, h.sure) for h in hearing.heard if h.key == "symptoms"] == [("flaking", False)]


def test_a_word_of_two_senses_is_told_by_another_of_the_sentence(knowledge: Knowledge, lex: Lexicon) -> None:
    hearing = read("The meets were fine after 3k but on the acrylic they went all soft. Quartz.", knowledge, lex)
    assert hearing.case.symptoms == ("soft-meets",)
    assert read("My topaz is soft.", knowledge, lex).case.symptoms == ()


@pytest.mark.parametrize(
    ("text", "choices"),
    [
        ("Haze or pits on my topaz, I cannot tell.", ("haze", "pits")),
        ("My topaz is hazy on tin. Later the wax was warm.", ("hot-stone",)),
    ],
)
def test_what_may_be_meant_is_asked(text: str, choices: tuple[str, ...], knowledge: Knowledge, lex: Lexicon) -> None:
    hearing = read(text, knowledge, lex)
    assert choices in [doubt.could_be for doubt in hearing.unsure]
    assert not {*choices} & {*hearing.case.symptoms}


@pytest.mark.parametrize(
    "told", ["Then I got dizzy", "Later it smelled", "Now smoke or steam rises", "At first I had a cough, now it drags"]
)
def test_what_stops_all_advice_is_never_only_asked(told: str, knowledge: Knowledge, lex: Lexicon) -> None:
    hearing = read(f"My quartz is hazy on the acrylic with ceria. {told}.", knowledge, lex)
    assert "fumes" in hearing.case.symptoms
    assert [h.sure for h in hearing.heard if h.value == "fumes"] == [True]


@pytest.mark.parametrize(
    ("told", "now", "before"),
    [
        ("8k copper prepolish, tin 60k polish", ("tin-lap", "diamond-60000"), ("copper-lap", "diamond-8000")),
        ("3k on copper first, 60k on tin after", ("tin-lap", "diamond-60000"), ("copper-lap", "diamond-3000")),
        ("8k on copper then 60k on tin", ("tin-lap", "diamond-60000"), ("copper-lap", "diamond-8000")),
        ("prepolish 8k zinc, final 60k tin", ("tin-lap", "diamond-60000"), ("zinc-lap", "diamond-8000")),
        ("the 1200 left it clean, 50k and tin", ("tin-lap", "diamond-50000"), (None, "diamond-1200")),
        ("tin 60k, came off my 1200 plate", ("tin-lap", "diamond-60000"), ("plated-diamond-lap", "diamond-1200")),
        ("on tin with 60k. Went to the ceramic, no better", ("tin-lap", "diamond-60000"), (None, None)),
        ("60k on tin, added a bit more diamond", ("tin-lap", "diamond-60000"), (None, None)),
        ("cerium composite lap", ("oxide-composite-lap", "cerium-oxide"), (None, None)),
        (".05 alumina, fine hairs", (None, "aluminium-oxide-fine"), (None, None)),
        ("alumina, fine hairs", (None, "aluminium-oxide"), (None, None)),
    ],
)
def test_the_step_now_and_the_step_before(
    told: str,
    now: tuple[str | None, str],
    before: tuple[str | None, str | None],
    knowledge: Knowledge,
    lex: Lexicon,
) -> None:
    case = read(f"Topaz, {told}, hazy", knowledge, lex).case
    assert (case.lap, case.compound) == now
    assert (case.facts.get("prior_lap"), case.prior) == before


def test_a_pre_polish_named_as_what_a_lap_is_for_is_the_step_going_on(knowledge: Knowledge, lex: Lexicon) -> None:
    case = read("topaz, zinc w 8k for prepolish, deep scratches", knowledge, lex).case
    assert (case.stage, case.lap, case.compound) == ("prepolish", "zinc-lap", "diamond-8000")


@pytest.mark.parametrize(
    ("told", "tried"),
    [
        ("slowed it down, no odds", ("slow-down", "no-change")),
        ("bumped the speed up a lil and nope", ("speed-up", "no-change")),
        ("swapped from oil to water and it changed nothing", ("change-carrier", "no-change")),
        ("took most of the paste off and it is exactly as it was", ("less-compound", "no-change")),
        ("fitted a new film and it was some better", ("new-film", "better")),
        ("ran it wetter, better but not gone", ("wetter", "better")),
        ("went to an oxide instead and it got worse", ("diamond-to-oxide", "worse")),
        ("put some vinegar in the slurry and it got worse somehow??", ("acidify-slurry", "worse")),
    ],
)
def test_how_a_try_ended_in_other_words(told: str, tried: tuple[str, str], knowledge: Knowledge, lex: Lexicon) -> None:
    assert read(f"Hazy topaz, tin, 60k. {told.capitalize()}.", knowledge, lex).case.tried == (tried,)


def test_one_end_for_a_row_of_tries(knowledge: Knowledge, lex: Lexicon) -> None:
    row = "I scrubbed the lap, ran it wetter, mixed a new slurry"
    case = read(f"Hazy topaz, tin, alumina. {row}. Nothing helped.", knowledge, lex).case
    assert dict(case.tried) == dict.fromkeys(("clean-lap", "wetter", "fresh-slurry"), "no-change")
    case = read(f"Hazy topaz, tin, alumina. {row}. It got worse.", knowledge, lex).case
    assert dict(case.tried) == {"fresh-slurry": "worse"}


@pytest.mark.parametrize(
    ("told", "key", "value"),
    [
        ("the 12x9mm table is hazy", "facet_size", "12x9mm"),
        ("hazy on the 2 x 1.5 facets", "facet_size", "2x1.5mm"),
        ("hazy, the stone is still in its setting", "in_setting", "yes"),
        ("hazy, I leaned on it hard", "pressure", "heavy"),
        ("hazy as soon as I swapped laps", "since", "lap-change"),
        ("hairlines all over the table", "scratch_place", "whole-facet"),
        ("hairlines like dot dot dot", "scratch_form", "dotted"),
        ("hazy, and the table is about 4 degrees off the cleavage", "cleavage_near", "yes"),
    ],
)
def test_facts_in_other_words(told: str, key: str, value: str, knowledge: Knowledge, lex: Lexicon) -> None:
    assert read(f"My topaz, {told}.", knowledge, lex).case.facts.get(key) == value


@pytest.mark.parametrize(
    ("text", "key"), [("my 9x6 mm topaz is hazy", "facet_size"), ("my topaz is hazy all over", "scratch_place")]
)
def test_facts_that_are_of_something_else(text: str, key: str, knowledge: Knowledge, lex: Lexicon) -> None:
    assert key not in read(text, knowledge, lex).case.facts


@pytest.mark.parametrize(
    ("text", "material", "symptoms"),
    [
        ("sapph w 60k n tin keeps squealin", "sapphire", ("drags",)),
        ("lab sapph, its hazy tho", "synthetic-corundum", ("haze",)),
        ("tourm on tin, sooo slow", "tourmaline", ("slow-polish",)),
        ("quartz in a quiet room by the clock on the front floor", "quartz", ()),
    ],
)
def test_words_in_haste(
    text: str, material: str, symptoms: tuple[str, ...], knowledge: Knowledge, lex: Lexicon
) -> None:
    case = read(text, knowledge, lex).case
    assert (case.material, case.symptoms) == (material, symptoms)


def test_a_trouble_told_in_passing_is_a_question_of_yes_or_no(knowledge: Knowledge, lex: Lexicon) -> None:
    lines = told(read("My topaz is hazy on tin. Later the wax was warm.", knowledge, lex))
    asked = [line for line in lines if line.asked]
    assert [line.choices for line in asked] == [("hot-stone",)]
    assert stated([line.answered("hot-stone") for line in asked], Case()).symptoms == ("hot-stone",)
    assert stated([line.answered(None) for line in asked], Case()).symptoms == ()


def test_a_paragraph_is_read_at_once(knowledge: Knowledge, lex: Lexicon) -> None:
    text = (
        "I have been cutting this topaz for a week. The table was fine off the 3k on copper, but on the tin lap with "
        "60k it stays foggy and I see hairlines all over it under the loupe. I cleaned the lap, no odds; ran it wetter "
        "and it helped a bit; took most of the diamond off and it got worse. Pavilion came up fine. It is not hot and "
        "there are no pits or cracks. The lap was resurfaced last month, and my quartz polishes well on it."
    )
    hear(text, knowledge, lex)
    began = time.process_time()
    hearing = hear(text, knowledge, lex)
    took = time.process_time() - began
    assert hearing.case.symptoms == ("haze", "fine-scratches")
    assert dict(hearing.case.tried) == {"clean-lap": "no-change", "wetter": "better", "less-compound": "worse"}
    assert took < 0.05
