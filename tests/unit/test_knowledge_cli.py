"""`lapwise knowledge`: check, explain, show, list and new, as a person calls them."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from tests.unit.shipped import knowledge, warm

from lapwise.engine.checks import CHECKS
from lapwise.engine.folders import folders
from lapwise.engine.knowledge import cache, files
from lapwise.engine.knowledge.loader import load
from lapwise.engine.knowledge.model import KINDS
from lapwise.engine.knowledge.show import all_ids, show
from lapwise.engine.slots import SLOTS
from lapwise.tui.cli.main import main

RULE = """
rules:
  my-rule:
    when: [{lap_surface: caked}, {material: topaz}]
    then: {for: {loaded-lap: slightly, hard-water: slightly}}
    because: My water leaves a crust on the lap.
    source: practice
"""


class Ran:
    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@pytest.fixture
def lapwise(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.setenv("LAPWISE_DATA", str(warm(tmp_path / "data")))
    monkeypatch.setenv("COLUMNS", "100")

    def run(*args: str) -> Ran:
        capsys.readouterr()
        with pytest.raises(SystemExit) as ended:
            main(["knowledge", *args])
        told = capsys.readouterr()
        code = ended.value.code
        return Ran(code if isinstance(code, int) else 0, told.out, told.err)

    return run


def own(tmp_path: Path, text: str, name: str = "rules/mine.yaml") -> Path:
    path = tmp_path / "data" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


# --- check ---------------------------------------------------------------------------------------------------


def test_check_of_the_shipped_files_is_clean(lapwise: Any) -> None:
    ran = lapwise("check")
    assert ran.code == 0, ran.out
    assert ran.out.startswith("no errors, ")
    assert len(ran.out.splitlines()) == 1, "nothing to say of what a person cannot change"
    told = lapwise("check", "--json").json
    assert told["errors"] == 0
    assert told["checked"]["rules"] > 200
    assert {f["severity"] for f in told["findings"]} <= {"warning"}


@pytest.mark.parametrize(("reader", "list_"), [("abrasion.tables", "abrasives"), ("words.cues", "cues")])
def test_check_names_a_fault_in_a_shipped_list_that_is_read_elsewhere(
    lapwise: Any, monkeypatch: pytest.MonkeyPatch, reader: str, list_: str
) -> None:
    broken = (f"{list_}: [", f"knowledge/{list_}.yaml")
    monkeypatch.setattr(f"lapwise.engine.{reader}.shipped", lambda _: (broken[0].encode(), broken[1]))
    ran = lapwise("check")
    assert ran.code == 3
    assert f"knowledge/{list_}.yaml" in ran.out


def test_check_names_the_faults_of_own_files(lapwise: Any, tmp_path: Path) -> None:
    path = own(tmp_path, RULE.replace("hard-water", "hard-watr"))
    ran = lapwise("check")
    assert ran.code == 3
    line = f"error: {path}:5: rules.my-rule.then.for: no such id among the causes; found 'hard-watr'"
    assert line in ran.out
    assert "did you mean hard-water" in ran.out
    assert "[form]" in ran.out
    told = lapwise("check", "--json")
    assert told.code == 3
    finding = next(f for f in told.json["findings"] if f["check"] == "form")
    assert finding["nearest"][0] == "hard-water"
    assert finding["where"] == f"{path}:5: rules.my-rule.then.for"


def test_check_reads_the_files_and_not_what_was_kept_of_them(lapwise: Any, tmp_path: Path) -> None:
    own(tmp_path, RULE.replace("hard-water", "hard-watr"))
    where = folders(tmp_path / "data")
    stamp = files.stamp((*files.shipped_files(), *files.own_files(where)))
    assert stamp is not None
    cache.store(where.cache, stamp, (load().knowledge, ()))
    assert load(where).problems == (), "what was kept says that all is well"
    assert lapwise("check").code == 3


def test_check_runs_the_rule_base_checks_on_own_rules(lapwise: Any, tmp_path: Path) -> None:
    own(tmp_path, RULE + RULE.replace("rules:\n", "").replace("my-rule", "my-other-rule"))
    ran = lapwise("check")
    assert ran.code == 3
    assert "my-other-rule: says the same as the rule 'my-rule'" in ran.out
    assert "[redundant-rules]" in ran.out


@pytest.mark.parametrize("what", ["file", "folder", "flat"])
def test_check_of_a_path(lapwise: Any, tmp_path: Path, what: str) -> None:
    path = own(tmp_path / "elsewhere", RULE)
    chosen = {"file": path, "folder": path.parent.parent, "flat": path.parent}[what]
    assert lapwise("check", str(chosen)).code == 0
    path.write_text(RULE.replace("slightly", "slight"), encoding="utf-8")
    assert lapwise("check", str(chosen)).code == 3
    assert lapwise("check").code == 0, "the own folder is left alone"


def test_check_of_nothing(lapwise: Any, tmp_path: Path) -> None:
    for path in (tmp_path / "none", tmp_path):
        ran = lapwise("check", str(path))
        assert ran.code == 2
        assert str(path) in ran.err


def test_explain_has_a_page_for_every_check(lapwise: Any) -> None:
    listed = lapwise("explain").out
    for check in CHECKS:
        assert check.name in listed
        assert lapwise("explain", check.name).out.startswith(f"# {check.name}\n")
    assert lapwise("explain", "form").code == 0
    wrong = lapwise("explain", "deadends")
    assert wrong.code == 2
    assert "dead-ends" in wrong.err
    assert {row["name"] for row in lapwise("explain", "--json").json} == {c.name for c in CHECKS}


# --- show and list -------------------------------------------------------------------------------------------


def test_show_tells_value_unit_source_and_who_names_it(lapwise: Any) -> None:
    out = lapwise("show", "topaz").out
    for words in ("hardness: 8 Mohs", "cleavage:", "polishes with, best first", "rules that speak of it", "sources:"):
        assert words in out
    assert "shipped: knowledge/materials/topaz.yaml, line " in out
    told = lapwise("show", "topaz", "--json").json
    assert told["kind"] == "materials"
    assert told["own"] is False
    assert told["entry"]["mohs"]["unit"] == "Mohs"
    assert told["record"] == []
    assert told["rules"]
    assert all(source["cite"] for source in told["sources"])


def test_show_takes_labels_and_other_names(lapwise: Any) -> None:
    assert lapwise("show", "Emerald").out.startswith("emerald")
    known = knowledge()
    named = next((m for m in known.materials.values() if m.also), None)
    if named:
        assert show(known, named.also[0].upper()).id == named.id


def test_show_says_what_is_own(lapwise: Any, tmp_path: Path) -> None:
    path = own(tmp_path, RULE)
    out = lapwise("show", "my-rule").out
    assert f"rules, your own: {path}, line 3" in out.replace("\n    ", " ").replace("\n  ", " ")
    assert "lap surface is caked" in out
    assert "my-rule" in lapwise("show", "hard-water").out
    assert lapwise("show", "my-rule", "--json").json["own"] is True


def test_show_of_an_unknown_id_names_the_nearest(lapwise: Any) -> None:
    ran = lapwise("show", "topas")
    assert ran.code == 2
    assert "topaz" in ran.err
    assert ran.out == ""
    told = json.loads(lapwise("show", "topas", "--json").err)
    assert told["error"]["found"] == "topas"
    assert told["error"]["nearest"][0] == "topaz"


def test_everything_can_be_shown() -> None:
    ids = all_ids(knowledge())
    assert len(ids) > 800
    for id_ in ids[::17]:
        shown = show(knowledge(), id_)
        assert shown.id == id_
        json.dumps(shown.as_json())


def test_conditions_and_scales_can_be_shown(lapwise: Any) -> None:
    out = lapwise("show", "wetness").out
    assert "flooded" in out
    assert "rules that speak of it" in out
    assert "usually: 0.85" in lapwise("show", "chance").out
    assert "<ink-off>" not in lapwise("show", "ink-facet").out


def test_list(lapwise: Any) -> None:
    for kind in (*KINDS, "conditions", "checks", "remedy", "lap-traits"):
        ran = lapwise("list", kind)
        assert ran.code == 0
        assert len(ran.out.splitlines()) >= 10
    assert lapwise("list", "remedies", "--json").json[0]["id"]


def test_list_of_an_unknown_kind(lapwise: Any) -> None:
    ran = lapwise("list", "remedys")
    assert ran.code == 2
    assert "remedies" in ran.err


def test_list_of_conditions_is_the_registry(lapwise: Any) -> None:
    assert [row["id"] for row in lapwise("list", "conditions", "--json").json] == list(SLOTS)


# --- new -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("kind", "list_"), [("material", "materials"), ("rule", "rules")])
def test_new_writes_a_draft_that_passes_the_check(lapwise: Any, tmp_path: Path, kind: str, list_: str) -> None:
    ran = lapwise("new", kind, "my-own-thing")
    path = Path(ran.out.strip())
    assert ran.code == 0
    assert path.is_relative_to(tmp_path / "data")
    assert path.read_text(encoding="utf-8").startswith("# Your own ")
    told = lapwise("show", "my-own-thing", "--json").json
    assert (told["kind"], told["own"]) == (list_, True)
    checked = lapwise("check")
    assert checked.code == 0, checked.out
    again = lapwise("new", kind, "my-own-thing")
    assert again.code == 2
    assert "not written over" in again.err


def test_every_line_of_a_draft_can_be_uncommented(lapwise: Any, tmp_path: Path) -> None:
    for kind in ("material", "rule"):
        path = Path(lapwise("new", kind, f"full-{kind}").out.strip())
        lines = path.read_text(encoding="utf-8").splitlines()
        head = next(i for i, line in enumerate(lines) if not line.startswith("#"))
        bare = "\n".join(re.sub(r"^( +)# ", r"\1", line) for line in lines[head:])
        assert bare.count("\n") > 8
        path.write_text(bare, encoding="utf-8")
    out = lapwise("check").out
    assert "[form]" not in out


def test_new_refuses_bad_and_taken_ids(lapwise: Any, tmp_path: Path) -> None:
    for id_ in ("My Stone", "../up", "a" * 61, "tin-lap", ""):
        ran = lapwise("new", "material", id_)
        assert ran.code == 2, id_
        assert ran.err
    assert not (tmp_path / "data" / "knowledge").exists()
    assert lapwise("new", "material", "emerald").code == 0, "an own form of a shipped stone"
    assert lapwise("new", "lap", "x").code == 2


def test_every_command_takes_data_and_json() -> None:
    from lapwise.tui.cli.knowledge import command

    for sub in command.commands.values():
        assert {"data", "as_json"} <= {p.name for p in sub.params}
        assert sub.help


def test_as_a_process(tmp_path: Path) -> None:
    env = os.environ | {"LAPWISE_DATA": str(tmp_path)}
    code = "import sys; from lapwise.tui.cli.main import main; main(sys.argv[1:])"
    ran = subprocess.run(
        [sys.executable, "-c", code, "knowledge", "show", "no-such-thing"],
        env=env,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 2
    assert ran.stdout == ""
    assert ran.stderr.startswith("lapwise: lapwise knowledge show: nothing is known by this name")
    assert "Traceback" not in ran.stderr
