"""Every broken file in tests/broken is refused with the words its first lines ask for, and harms nothing else."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tests.unit.knowledge_samples import base_files

from lapwise.engine.knowledge.files import files_in
from lapwise.engine.knowledge.loader import build

BROKEN = sorted((Path(__file__).parent.parent / "broken").glob("*.yaml"))


def expected(path: Path) -> list[str]:
    head = path.read_bytes().decode("utf-8", "replace")
    return re.findall(r"^# expect: (.+)$", head, re.MULTILINE)


def test_there_are_enough_of_them() -> None:
    assert len(BROKEN) >= 30
    assert all(expected(path) for path in BROKEN)


@pytest.mark.parametrize("path", BROKEN, ids=lambda p: p.stem)
def test_broken_file(path: Path, tmp_path: Path) -> None:
    files = base_files(tmp_path)
    clean = build(files, ())
    loaded = build(files, files_in(path))
    said = "\n".join(str(p) for p in loaded.problems)
    for words in expected(path):
        assert words in said
    for problem in loaded.problems:
        assert problem.where.startswith(str(path)), "the file is named"
        assert problem.what[0].islower() or problem.what[0] in "'"
    # What was shipped is untouched: a broken file of one's own never takes it down.
    shipped = {name: entry for name, entry in loaded.knowledge.rules.items() if not entry.place.own}
    assert shipped == dict(clean.knowledge.rules)
    assert loaded.knowledge.scales == clean.knowledge.scales
    assert set(clean.knowledge.materials) <= set(loaded.knowledge.materials)
    assert loaded.knowledge.looks == clean.knowledge.looks


@pytest.mark.parametrize("path", BROKEN, ids=lambda p: p.stem)
def test_line_is_named(path: Path, tmp_path: Path) -> None:
    """At least one problem of each file names a line in it (a file as a whole has none)."""
    loaded = build(base_files(tmp_path), files_in(path))
    lines = [int(m[1]) for p in loaded.problems if (m := re.match(re.escape(str(path)) + r":(\d+)", p.where))]
    assert lines
    assert max(lines) <= path.read_bytes().count(b"\n") + 1
