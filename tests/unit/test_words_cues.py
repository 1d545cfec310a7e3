"""Symptoms by all the words of a text: the sum of log odds by hand, the words that are cues, what a file must be."""

from __future__ import annotations

import math

import pytest
from tests.unit.words_kit import read

from lapwise.engine.errors import Damaged
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words.cues import ALWAYS, DENIED, FIRM, OPEN, PERHAPS, cues_of, likely, load_cues, read_cues
from lapwise.engine.words.hear import said_in
from lapwise.engine.words.lexicon import Lexicon


def test_chances_are_the_logistic_of_the_summed_log_odds() -> None:
    cues = {ALWAYS: {"haze": -2.0, "pits": -1.0}, "cloudi": {"haze": 3.0, "pits": -0.5}, "milk glass": {"haze": 0.5}}
    found = likely({"cloudi": (4, 10), "milk glass": (20, 30), "unknown": (0, 3)}, cues)
    assert [f.symptom for f in found] == ["haze", "pits"]
    assert found[0].chance == pytest.approx(1 / (1 + math.exp(-(-2.0 + 3.0 + 0.5))))
    assert found[1].chance == pytest.approx(1 / (1 + math.exp(1.5)))
    assert (found[0].start, found[0].end) == (4, 10), "the words that speak most for it"
    assert (found[1].start, found[1].end) == (0, 0), "nothing speaks for it"


def test_cues_are_stems_pairs_and_what_is_denied_up_to_the_comma(lex: Lexicon) -> None:
    raw = lex.lists.tokens("no scratches on the table, cloudy spots")
    found = cues_of(raw, [t for t in raw if t.word in ("cloudy", "spots")], lex.lists["articles"])
    assert {"not", "!scratch", "not !scratch", "!on", "cloudi", "cloudi spot", ":cloudi", ":cloudi spot"} <= {*found}
    assert "scratch" not in found
    assert "!cloudi" not in found
    assert found["cloudi spot"] == (27, 39)


def test_what_phrases_told_is_among_the_cues(knowledge: Knowledge, lex: Lexicon) -> None:
    said = said_in("no pits, but the meets are soft and it might be greasy", knowledge, lex)
    assert DENIED + "pits" in said
    assert {FIRM + "soft-meets", PERHAPS + "soft-meets"} & {*said}
    assert any(cue.startswith(OPEN) for cue in said)


def test_shipped_cues_speak_of_known_symptoms_alone(knowledge: Knowledge) -> None:
    cues = load_cues()
    assert {symptom for weights in cues.values() for symptom in weights} <= {*knowledge.symptoms}
    assert {*cues[ALWAYS]} == {*knowledge.symptoms}


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("cues: {}", "nothing in the list 'cues'"),
        ("words: {a: {haze: 1}}", "only the list 'cues'"),
        ("cues: {a: {haze: 99}}", "out of range"),
        ("cues: {a: {haze: many}}", "a number is required"),
    ],
)
def test_a_file_of_cues_says_what_is_wrong(text: str, problem: str) -> None:
    with pytest.raises(Damaged) as error:
        read_cues(text.encode(), "cues.yaml")
    assert problem in str(error.value)


@pytest.mark.parametrize(
    ("told", "symptom"),
    [
        ("My amethyst refuses to come alive however long I sit there with it.", "stays-dull"),
        ("There is a breath on the glass of my peridot that I cannot wipe off.", "haze"),
        ("The stone grabs the lap, hops about and howls.", "drags"),
    ],
)
def test_a_trouble_in_words_that_no_phrase_holds(told: str, symptom: str, knowledge: Knowledge, lex: Lexicon) -> None:
    hearing = read(told, knowledge, lex)
    near = {id_ for d in hearing.unsure if d.key == "symptoms" for id_ in d.could_be}
    near |= {id_ for h in hearing.heard if h.key == "symptoms" for id_ in (h.value, *h.could_be)}
    assert symptom in near


def test_the_symptom_that_stops_all_work_is_never_talked_away(knowledge: Knowledge, lex: Lexicon) -> None:
    assert "fumes" in read("bright and clear all over, only my head aches from the fumes", knowledge, lex).case.symptoms
