"""The one form of the knowledge files: what is opened, what is wrapped, and that comments and meaning stay."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.unit.knowledge_samples import folders_at

from lapwise.engine.errors import BadInput, Damaged
from lapwise.engine.knowledge import files
from lapwise.engine.knowledge.layout import WIDTH, laid_out
from lapwise.tui.cli.main import main

LOOSE = """\
# What this file is.
rules:

  # about caked laps
  caked:
    when: [{lap_surface: [caked, glazed]}, {mohs: {below: 8}}, {any: [{lap: tin-lap}, {not: {carrier: oil}}]}]
    then: {finding: [swarf-on-lap], for: {loaded-lap: strongly, stray-grit: slightly}}   # both
    because: 'A caked face, or a glazed one, is full of swarf and of dead compound that polishes nothing and only warms up.'
    source: "practice"
"""  # noqa: E501
TIDY = """\
# What this file is.
rules:

  # about caked laps
  caked:
    when:
      - lap_surface: [caked, glazed]
      - mohs: {below: 8}
      - any:
          - lap: tin-lap
          - not: {carrier: oil}
    then: # both
      finding: [swarf-on-lap]
      for:
        loaded-lap: strongly
        stray-grit: slightly
    because: A caked face, or a glazed one, is full of swarf and of dead compound that polishes nothing and only warms
      up.
    source: "practice"
"""


def test_conditions_and_causes_stand_one_a_line_and_long_text_is_wrapped() -> None:
    assert laid_out(LOOSE, "x.yaml") == TIDY
    assert laid_out(TIDY, "x.yaml") == TIDY


def test_what_is_quoted_for_a_reason_stays_quoted() -> None:
    text = "rules:\n  a:\n    when: [{lap_shared: 'yes'}]\n    about: 'One: two # three'\n"
    laid = laid_out(text, "x.yaml")
    assert "lap_shared: 'yes'" in laid
    assert "'One: two # three'" in laid


def test_the_shipped_files_have_the_form() -> None:
    for file in files.shipped_files():
        text = Path(str(file.path)).read_text(encoding="utf-8")
        assert laid_out(text, file.name) == text, f"lapwise knowledge format: {file.name}"
        long = [line for line in text.split("\n") if len(line) > WIDTH + 20 and "http" not in line]
        assert not long, file.name


def test_a_file_with_a_fault_is_refused() -> None:
    with pytest.raises(Damaged, match="anchors"):
        laid_out("rules:\n  a: &x {because: y}\n", "x.yaml")
    with pytest.raises(Damaged, match=r"x\.yaml:3"):
        laid_out("rules:\n  a: [b\n", "x.yaml")


def test_without_ruamel_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "ruamel.yaml", None)
    with pytest.raises(BadInput, match=r"pip install ruamel\.yaml"):
        laid_out(TIDY, "x.yaml")


def test_format_writes_the_own_files_and_check_only_names_them(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    where = folders_at(tmp_path)
    where.own_rules.mkdir(parents=True)
    path = where.own_rules / "mine.yaml"
    path.write_text(LOOSE, encoding="utf-8")

    def run(*args: str) -> tuple[int, str]:
        with pytest.raises(SystemExit) as ended:
            main(["knowledge", "format", *args])
        return int(ended.value.code or 0), capsys.readouterr().out

    assert run("--check", str(path)) == (3, f"{path}\n")
    assert path.read_text(encoding="utf-8") == LOOSE
    assert run(str(path)) == (0, f"{path}\n")
    assert path.read_text(encoding="utf-8") == TIDY
    assert run("--check", str(path)) == (0, "")
    assert [p.name for p in where.own_rules.iterdir()] == ["mine.yaml"]
