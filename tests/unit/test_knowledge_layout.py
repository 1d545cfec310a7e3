"""The one form of the knowledge files: what is opened, what is wrapped, and that comments and meaning stay."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import pytest
from ruamel.yaml import YAML
from tests.unit.knowledge_samples import folders_at

from lapwise.engine.errors import BadInput, Damaged
from lapwise.engine.knowledge import files
from lapwise.engine.knowledge.layout import _WEIGHTS, WIDTH, _by_ruamel, laid_out
from lapwise.engine.knowledge.reader import read
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


NUMBERS = ("0", "1", "-1", "0.1", "-4.1", "12.05", "-0.25", "1.0", "-0", "01", "1e3", "0.10", "haze", "")
CUES = ("always", "any", "'for'", "'yes'", "yes", "null", "'!ani !brighter'", "when-wet", "'12'", "'a: b'", "long" * 14)
HEADS = ("", "# What this is.\n", "# Blanks at the end.  \n", "\n", "cues:\n  a: {b: 1}\n")


def test_weights_known_to_have_the_form_are_what_taking_them_apart_would_give() -> None:
    known = 0
    for head, cue, number, count in product(HEADS, CUES, NUMBERS, (1, 2)):
        if head and cue != "always" and number != "0.1":
            continue  # not all three odd at once
        said = [f"{key}: {number}" for key in ("haze", "pits")[:count]]
        block = f"  {cue}:\n" + "".join(f"    {each}\n" for each in said)
        for entry in (block, f"  {cue}: {{{', '.join(said)}}}\n", f"  {cue}: {number}\n"):
            text = f"{head}words:\n{entry}"
            read_in = read(text, "x.yaml")
            if not read_in.problems and _WEIGHTS.fullmatch(text):
                known += 1
                assert _by_ruamel(text, "x.yaml", read_in, YAML()) == text
    assert known > 50


def test_the_shipped_weights_are_known_by_their_form_and_have_it() -> None:
    text = Path(str(files.__file__)).parents[2].joinpath("knowledge", "cues.yaml").read_text(encoding="utf-8")
    assert _WEIGHTS.fullmatch(text)
    end = text.index("\n  '", 20_000) + 1
    assert _by_ruamel(text[:end], "x.yaml", read(text[:end], "x.yaml"), YAML()) == text[:end]


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
