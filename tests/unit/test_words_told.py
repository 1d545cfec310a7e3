"""Own words: tries told by their cure, tries told by what was put on instead, and what looks showed."""

from __future__ import annotations

import pytest
from tests.unit.words_kit import read

from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words.lexicon import Lexicon


@pytest.mark.parametrize(
    ("told", "outcome"),
    [
        ("slowed the lap down and that was it", "fixed"),
        ("slowed the lap down. Gone", "fixed"),
        ("slowed the lap down and up it came", "fixed"),
        ("slowed the lap down, no more of it", "fixed"),
        ("slowed the lap down, better, not gone", "better"),
        ("slowed the lap down, it is not gone", "no-change"),
        ("slowed the lap down, no", "no-change"),
        ("slowed the lap down. Still there", "no-change"),
        ("slowed the lap down, no difference on the same lap", "no-change"),
    ],
)
def test_a_try_told_by_how_it_ended(told: str, outcome: str, knowledge: Knowledge, lex: Lexicon) -> None:
    hearing = read(f"Hazy topaz, {told}.", knowledge, lex)
    assert hearing.case.tried == (("slow-down", outcome),)
    assert ("slow-down", "fixed") not in hearing.case.without_cures().tried


@pytest.mark.parametrize(
    "told", ["since I fitted the new film it is worse", "the score is gone", "the lap turns and it is gone"]
)
def test_what_is_no_try(told: str, knowledge: Knowledge, lex: Lexicon) -> None:
    assert read(f"Hazy topaz, {told}.", knowledge, lex).case.tried == ()


@pytest.mark.parametrize(
    ("told", "remedy"),
    [
        ("alumina on tin. Switched to ceramic and it cleared", "harder-lap"),
        ("alumina on tin. Changed to wax and it cleared", "to-wax-or-wood-lap"),
        ("alumina on tin. Swapped to ceria and it cleared", "change-oxide"),
        ("alumina on tin. Went over to 60k and it cleared", "oxide-to-diamond"),
        ("60k on tin. Took it off the diamond and onto alumina and it cleared", "diamond-to-oxide"),
        ("50k on tin. Went to 100k and it cleared", "finer-compound"),
        ("alumina on tin. Tried 60k on ceramic and it cleared", "change-lap-and-compound"),
    ],
)
def test_what_was_put_on_instead_is_a_try_and_not_the_set_up(
    told: str, remedy: str, knowledge: Knowledge, lex: Lexicon
) -> None:
    case = read(f"Hazy topaz, {told}.", knowledge, lex).case
    assert case.tried == ((remedy, "fixed"),)
    assert (case.lap, case.compound) == (
        "tin-lap",
        {"6": "diamond-60000", "5": "diamond-50000"}.get(told[0], "aluminium-oxide"),
    )


@pytest.mark.parametrize(
    ("told", "saw"),
    [
        ("inked it and the ink only came off on the left", ("ink-facet", "one-side")),
        ("ink gone only in the middle", ("ink-facet", "centre")),
        ("ink rubs off all over", ("ink-facet", "even")),
        ("the loupe shows no lines at all", ("loupe-check", "clean")),
        ("under the loupe they are dotted", ("loupe-check", "dotted")),
        ("soaked it, still the same", ("soak-and-wipe", "same")),
        ("alcohol took it right off", ("soak-and-wipe", "gone")),
        ("put a drop on a spot and that went white", ("drop-test", "clouded")),
        ("crossed the lines and they stay put", ("cross-stroke", "stays")),
    ],
)
def test_what_a_look_showed(told: str, saw: tuple[str, str], knowledge: Knowledge, lex: Lexicon) -> None:
    assert saw in read(f"Topaz table. {told.capitalize()}.", knowledge, lex).case.saw


@pytest.mark.parametrize(
    "told", ["deep lines that need no loupe", "wiped most of the paste off the lap and it is gone"]
)
def test_what_is_no_look(told: str, knowledge: Knowledge, lex: Lexicon) -> None:
    assert read(f"Topaz table. {told.capitalize()}.", knowledge, lex).case.saw == ()


@pytest.mark.parametrize(
    "told",
    [
        "topaz, looks as if seen through a glass",
        "topaz, bright but smoky",
        "topaz, I see it under the glass",
        "topaz, marked it with a felt pen",
        "topaz, the dop felt warm",
        "topaz, like hammered pewter",
        "topaz, dull like a pebble from the beach",
    ],
)
def test_likenesses_name_no_set_up(told: str, knowledge: Knowledge, lex: Lexicon) -> None:
    case = read(told, knowledge, lex).case
    assert (case.material, case.lap) == ("topaz", None)
