"""Stories told in own words, and titles of published troubles: how much is heard, and how much of it is right."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import yaml
from tests.unit.words_kit import read

from lapwise.engine.case import Case, FacetSetting
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words.lexicon import Lexicon
from lapwise.tui.screens.told import logged, stated, told

CASES = Path(__file__).parents[1] / "cases"
STORIES: list[dict[str, Any]] = [
    story
    for file in sorted((CASES / "stories").glob("*.yaml"))
    for story in yaml.load(file.read_text("utf-8"), yaml.CSafeLoader)["stories"]
]


def test_what_was_heard_line_by_line_is_the_case(knowledge: Knowledge, lex: Lexicon) -> None:
    stories = [s for s in STORIES if s["use"].startswith("learn")]
    for story in stories:
        hearing = read(story["text"], knowledge, lex)
        lines = [line.answered(line.choices[0]) if line.asked else line for line in told(replace(hearing, unsure=()))]
        case = stated(lines, Case())
        tried, saw = logged(lines, case)
        part = {"facet_part": case.facet.part} if case.facet.part else {}
        again = replace(case, facts={**case.facts, **part}, facet=FacetSetting(), symptoms=tuple(sorted(case.symptoms)))
        again = replace(again, tried=tuple(tried.items()), saw=tuple(saw.items()))
        assert again == replace(
            hearing.case, symptoms=tuple(sorted(hearing.case.symptoms)), facts=dict(hearing.case.facts)
        )


def rates(use: str, knowledge: Knowledge, lex: Lexicon) -> dict[str, float]:
    """Of the stories of one use: setup named right, setup named wrong, symptoms found, symptoms said that are right."""
    stories = [s for s in STORIES if s["use"] == use]
    told = right = wrong = asked = wanted = found = said = 0
    for story in stories:
        case = read(story["text"], knowledge, lex).case
        for key in ("material", "lap", "compound"):
            want, got = story["case"].get(key), getattr(case, key)
            told += want is not None
            right += want is not None and got == want
            wrong += got is not None and got != want
            asked += 1
        want_seen, got_seen = set(story["case"]["symptoms"]), set(case.symptoms)
        wanted, found, said = wanted + len(want_seen), found + len(want_seen & got_seen), said + len(got_seen)
    return {"setup": right / told, "wrong": wrong / asked, "found": found / wanted, "right": found / said}


def told_besides(use: str, knowledge: Knowledge, lex: Lexicon) -> dict[str, float]:
    """Of facts, and of tries with their ends: found, and of those said, right. What a writer left out is wrong."""
    wanted, said, right = ({"facts": 0, "tried": 0} for _ in range(3))
    for story in (s for s in STORIES if s["use"] == use):
        case = read(story["text"], knowledge, lex).case
        for kind in wanted:
            want = {(key, str(value)) for key, value in story["case"].get(kind, {}).items()}
            got = {(key, str(value)) for key, value in dict(getattr(case, kind)).items()}
            wanted[kind] += len(want)
            said[kind] += len(got)
            right[kind] += len(want & got)
    return {f"{k} found": right[k] / wanted[k] for k in wanted} | {f"{k} right": right[k] / said[k] for k in wanted}


@pytest.mark.parametrize(("use", "found", "right"), [("learn2", 0.85, 0.9), ("measure2", 0.5, 0.77)])
def test_facts_and_tries_of_fresh_stories(
    use: str, found: float, right: float, knowledge: Knowledge, lex: Lexicon
) -> None:
    got = told_besides(use, knowledge, lex)
    print(use, {key: round(value, 3) for key, value in got.items()})
    assert min(got["facts found"], got["tried found"]) >= found
    assert min(got["facts right"], got["tried right"]) >= right


@pytest.mark.parametrize(
    ("use", "setup", "wrong", "found", "right"),
    [
        ("learn", 0.97, 0.01, 0.98, 0.98),
        ("measure", 0.95, 0.01, 0.86, 0.85),
        ("learn2", 0.97, 0.01, 0.98, 0.98),
        ("measure2", 0.95, 0.01, 0.89, 0.92),
        ("measure3", 0.95, 0.01, 0.91, 0.89),
        ("measure4", 0.92, 0.02, 0.79, 0.77),
        ("measure5", 0.95, 0.01, 0.95, 0.94),
    ],
)
def test_stories_written_blind(
    use: str, setup: float, wrong: float, found: float, right: float, knowledge: Knowledge, lex: Lexicon
) -> None:
    got = rates(use, knowledge, lex)
    print(use, {key: round(value, 3) for key, value in got.items()})
    assert got["setup"] >= setup
    assert got["wrong"] <= wrong
    assert got["found"] >= found
    assert got["right"] >= right


PUBLISHED = {
    "tuned on": [
        f for f in CASES.glob("*.yaml") if f.stem not in ("invented-advice", "invented-vetoes", "known-failures")
    ],
    "held out": list(CASES.glob("held-out*/*.yaml")),
}


def published(files: list[Path], knowledge: Knowledge, lex: Lexicon) -> dict[str, float]:
    """What is heard in the titles of published troubles: symptoms found; of those said, right; set-up named wrong.

    A title tells less than the case was encoded from. A family for its variety, or diamond for its grade, is not wrong.
    """
    stories = [
        c for f in files for c in yaml.load(f.read_text("utf-8"), yaml.CSafeLoader)["cases"] if c["kind"] == "published"
    ]
    wanted = found = said = wrong = 0
    for story in stories:
        case = read(story["title"], knowledge, lex).case
        for key in ("material", "lap", "compound"):
            got, want = getattr(case, key), story["case"].get(key)
            line = knowledge.materials[want].line if key == "material" and want else (want,)
            wrong += (
                got is not None and got not in line and not (want and got == "diamond-unknown" and "diamond" in want)
            )
        want_seen, got_seen = set(story["case"].get("symptoms", ())), set(case.symptoms)
        wanted, found, said = wanted + len(want_seen), found + len(want_seen & got_seen), said + len(got_seen)
    return {"stories": len(stories), "found": found / wanted, "right": found / said, "wrong": wrong / len(stories) / 3}


@pytest.mark.parametrize(
    ("which", "found", "right", "wrong"), [("tuned on", 0.6, 0.7, 0.04), ("held out", 0.36, 0.6, 0.04)]
)
def test_titles_of_published_troubles(
    which: str, found: float, right: float, wrong: float, knowledge: Knowledge, lex: Lexicon
) -> None:
    got = published(PUBLISHED[which], knowledge, lex)
    print(which, {key: round(value, 3) for key, value in got.items()})
    assert got["found"] >= found
    assert got["right"] >= right
    assert got["wrong"] <= wrong
