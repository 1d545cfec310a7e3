"""Own files that ask too much, cannot be reached or replace what protects: said with file and line, advice goes on."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from tests.unit.knowledge_samples import folders_at

from lapwise.engine.case import Case
from lapwise.engine.diagnosis import diagnose
from lapwise.engine.folders import Folders
from lapwise.engine.knowledge.loader import Loaded, load

CASE = Case("quartz", "acrylic-lap", "cerium-oxide", symptoms=("fine-scratches",))
THEN = "    then: {for: {loaded-lap: slightly}}\n    because: It is so.\n    source: practice\n"
ANY = "      - any: [{lap: tin-lap}, {lap: zinc-lap}, {lap: copper-lap}]\n"
GOOD = "  good:\n    when: [{material: quartz}]\n" + THEN


def loaded(tmp_path: Path, **texts: str) -> tuple[Folders, Loaded]:
    """The knowledge with own files, each named by its folder."""
    where = folders_at(tmp_path)
    for folder, text in texts.items():
        (where.data / folder).mkdir(parents=True, exist_ok=True)
        (where.data / folder / "mine.yaml").write_text(text, encoding="utf-8")
    return where, load(where)


def rule(*conditions: str) -> str:
    return "  big:\n    when:\n" + "".join(conditions) + THEN


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (rule(*[ANY] * 6), "can be met in 729 ways, at most 256"),
        (rule(*(f"      - not: {{mohs: {{at_least: {n}}}}}\n" for n in range(400))), "asks 400 things, at most 40"),
        (rule(*(f"      - mohs: {{at_least: {n}}}\n" for n in range(5000))), "a list holds 500 items at most"),
        (rule("      - lap: [" + ", ".join(f"x{n}" for n in range(20_000)) + "]\n"), "a list holds 500 items at most"),
    ],
    ids=["ways", "nots", "bounds", "words"],
)
def test_a_rule_that_asks_too_much_is_left_out_with_its_line(tmp_path: Path, text: str, words: str) -> None:
    began = time.process_time()
    _, found = loaded(tmp_path, rules="rules:\n" + text + GOOD)
    assert words in str(found.problems[0])
    assert "mine.yaml:" in found.problems[0].where
    assert "big" not in found.knowledge.rules
    assert "good" in found.knowledge.rules
    assert diagnose(CASE, found.knowledge, wait=0).plan
    assert time.process_time() - began < 20, "a guard against the square of the size, not a measurement"


@pytest.mark.parametrize("first", ["quartz", "no-such-stone"])
def test_a_long_line_of_parents_is_refused_in_one_round(tmp_path: Path, first: str) -> None:
    parents = [first, *(f"m{n}" for n in range(799))]
    text = "".join(f"  m{n}: {{label: M, rank: variety, parent: {parent}}}\n" for n, parent in enumerate(parents))
    began = time.process_time()
    _, found = loaded(tmp_path, knowledge="materials:\n" + text)
    assert any("too many parents above one another" in str(p) for p in found.problems)
    assert "m700" not in found.knowledge.materials
    assert time.process_time() - began < 20


def test_entries_that_hang_on_each_other_in_a_long_row(tmp_path: Path) -> None:
    text = "".join(
        f"  s{n}: {{label: S, about: S., how: S., not_to_confuse: {{s{n + 1}: they differ}}}}\n" for n in range(40)
    )
    _, found = loaded(tmp_path, knowledge="symptoms:\n" + text)
    assert any("none of your own are used" in str(p) for p in found.problems)
    assert "quartz" in found.knowledge.materials


def test_own_rules_are_read_up_to_a_number(tmp_path: Path) -> None:
    text = "".join(f"  r{n}:\n    when: [{{mohs: {{at_least: 0.{n}}}}}]\n{THEN}" for n in range(600))
    _, found = loaded(tmp_path, rules="rules:\n" + text)
    (problem,) = found.problems
    assert "more than 500 rules of your own" in problem.what
    assert problem.where.endswith("rules.r500")
    assert "r499" in found.knowledge.rules


def test_a_file_full_of_faults_is_not_read_to_its_end(tmp_path: Path) -> None:
    text = GOOD + "".join(f"  bad{n}:\n    whne: [{{material: quartz}}]\n{THEN}" for n in range(3000))
    _, found = loaded(tmp_path, rules="rules:\n" + text)
    assert "good" in found.knowledge.rules
    assert len(found.problems) < 250
    assert any("the rest of this list is not read" in str(p) for p in found.problems)
