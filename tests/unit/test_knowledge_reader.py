"""The strict reader: what YAML 1.1 would quietly change is refused, and no text whatever makes it raise."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.knowledge_samples import BASE, RULES, SCALES, mutated

from lapwise.engine.errors import Issue
from lapwise.engine.knowledge.entries import entries_of
from lapwise.engine.knowledge.files import File
from lapwise.engine.knowledge.reader import MAX_BYTES, Document, Mapping, Node, Scalar, Sequence, read


def values(document: Document) -> dict[str, str]:
    assert document.root is not None
    return {key.text: node.text for key, node in document.root.entries if isinstance(node, Scalar)}


@pytest.mark.parametrize(
    ("text", "meant_as"),
    [
        ("45:30", 2730),
        ("190:20:30", 685230),
        ("010", 8),
        ("0o17", None),
        ("0x1F", 31),
        ("0b101", 5),
        ("no", False),
        ("No", False),
        ("off", False),
        ("yes", True),
        ("ON", True),
        ("2024-05-01", "date"),
        (".inf", float("inf")),
    ],
)
def test_what_yaml_would_change_is_refused(text: str, meant_as: object) -> None:
    """The second column is what PyYAML itself makes of the text (YAML 1.1 types): the reason to refuse it."""
    made = yaml.safe_load(text)
    if meant_as == "date":
        assert not isinstance(made, str)
    elif meant_as is not None:
        assert made == meant_as
    document = read(f"key: {text}\n", "f.yaml")
    assert len(document.problems) == 1
    assert document.problems[0].where == "f.yaml:1: key"
    assert document.problems[0].found == text
    assert not read(f"key: '{text}'\n", "f.yaml").problems


@pytest.mark.parametrize("text", ["7", "0", "-1", "0.5", "10:30 in the morning", "know", "Oil", "noon", "y", "1.0.0"])
def test_plain_words_and_numbers_are_kept_as_written(text: str) -> None:
    document = read(f"key: {text}\n", "f.yaml")
    assert not document.problems
    assert values(document) == {"key": text}


def test_lines_are_those_of_the_file() -> None:
    document = read("# a remark\n\na: 1\nb:\n  - x\n  - y: z\n", "f.yaml")
    assert document.root is not None
    (a, one), (b, items) = document.root.entries
    assert (a.line, one.line, b.line) == (3, 3, 4)
    assert isinstance(items, Sequence)
    assert [item.line for item in items.items] == [5, 6]


def test_byte_order_mark_is_accepted_and_other_encodings_are_not() -> None:
    assert values(read(b"\xef\xbb\xbfa: x\n", "f.yaml")) == {"a": "x"}
    assert values(read("\ufeffa: µ\n", "f.yaml")) == {"a": "µ"}
    for data in ("a: x\n".encode("utf-16"), "a: é\n".encode("latin-1")):
        document = read(data, "f.yaml")
        assert document.root is None
        assert "UTF-8" in document.problems[0].what


def test_all_problems_at_once() -> None:
    document = read("a: no\nb: 010\na: 2\nc: !x 45:30\n", "f.yaml")
    assert [p.where for p in document.problems] == ["f.yaml:1: a", "f.yaml:2: b", "f.yaml:3", "f.yaml:4: c"]


def test_large_and_deep_files_are_refused_before_they_cost_anything() -> None:
    assert "too large" in read(b"a" * (MAX_BYTES + 1), "f").problems[0].what
    for text in ("[" * 300_000, "{a: " * 100_000, "- " * 200_000, "? " * 100_000, "a: [" * 50_000):
        document = read(text, "f")
        assert document.root is None
        assert document.problems
    bomb = "a: &a [x]\n" + "".join(f"b{i}: &b{i} [*a, *a, *a]\n" for i in range(50_000))
    assert 1 <= len(read(bomb, "f").problems) <= 100


@settings(deadline=None, max_examples=300)
@given(st.one_of(st.text(), st.binary(), st.text(alphabet="ab:-[]{}#&*!|>'\"%@`,?\n \t0.~<")))
def test_any_text_gives_problems_and_never_an_exception(data: str | bytes) -> None:
    document = read(data, "f.yaml")
    assert all(isinstance(p, Issue) and p.where.startswith("f.yaml") for p in document.problems)
    assert document.root is None or isinstance(document.root, Mapping)


PRINTED = st.characters(exclude_categories=("Cc", "Cf", "Cs"))


@settings(deadline=None, max_examples=150)
@given(st.dictionaries(st.text(PRINTED, min_size=1), st.lists(st.text(PRINTED), max_size=3), max_size=4))
def test_agrees_with_pyyaml_on_quoted_text(data: dict[str, list[str]]) -> None:
    """PyYAML is the reference: what it writes with quotes is read back as the same words."""
    text = yaml.safe_dump(data, default_style='"', allow_unicode=False)
    document = read(text, "f.yaml")

    def plain(node: Node | None) -> object:
        if isinstance(node, Mapping):
            return {key.text: plain(inner) for key, inner in node.entries}
        if isinstance(node, Sequence):
            return [plain(inner) for inner in node.items]
        return node.text if node else {}

    if not any(not key.strip() for key in data):
        assert not document.problems
        assert plain(document.root) == data


@pytest.mark.parametrize("seed", range(8))
def test_small_faults_never_raise(seed: int) -> None:
    chance = random.Random(seed)
    file = File("f.yaml", Path("f.yaml"), True, "")
    for _ in range(25):
        text = mutated(chance.choice((BASE, RULES, SCALES)), chance)
        entries, problems = entries_of(file, text.encode("utf-8", "replace"))
        for problem in (*problems, *(p for entry in entries for p in entry.problems)):
            assert problem.where.startswith("f.yaml")
            assert str(problem)
