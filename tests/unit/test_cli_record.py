"""`lapwise record`: show, card, chart, export, import, backup, check, forget; exit codes and JSON."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from lapwise.engine.case import Case
from lapwise.engine.folders import folders
from lapwise.engine.record.store import Record

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def shop(run: Run, tmp_path: Path) -> Run:
    """Ten cases on topaz: alumina on tin did well eight times of ten, diamond on zinc once."""
    with Record.open(folders(tmp_path / "data")) as record:
        for n in range(10):
            case = Case(material="topaz", lap="tin-lap", compound="aluminium-oxide", symptoms=("haze",))
            shown = {"posterior": {"loaded-lap": 0.7, "residue": 0.3}, "fix": {"loaded-lap": 0.85}}
            case_id = record.open_case(case)
            note = "=1+1 [bold]x[/bold]" if n == 0 else ""
            record.log_outcome(
                case,
                "clean-lap",
                "fixed" if n < 8 else "no-change",
                minutes=6,
                shown=shown,
                note=note,
                knowledge_digest="k",
                case_id=case_id,
            )
            if n == 9:
                record.close_case(case_id, "given-up")
    return run


def test_one_command_says_what_works_on_topaz(shop: Run) -> None:
    code, out, _ = shop("record", "show", "--material", "topaz")
    assert code == 0
    assert "Topaz: 10 cases" in out
    assert "Tin lap with Aluminium oxide" in out
    assert "8 of 9" in out  # the pair: eight polished, one given up, one still open
    assert "8 of 10" in out  # the remedy
    assert "%" in out


def test_show_as_json_and_a_single_case(shop: Run) -> None:
    data = json.loads(shop("record", "show", "--json")[1])
    assert data["cases"] == 10
    assert data["pairs"][0]["worked"] == 8
    case = data["newest"][0]
    code, out, _ = shop("record", "show", case["id"][-8:])
    assert code == 0
    assert "no-change" in out
    assert json.loads(shop("record", "show", case["id"], "--json")[1])["id"] == case["id"]
    assert shop("record", "show", "nothere")[0] == 1
    assert len(shop("record", "show", "--open")[1].splitlines()) == 1


def test_an_empty_record(run: Run, tmp_path: Path) -> None:
    assert run("record", "show")[0] == 1
    assert run("record", "chart")[0] == 1
    assert run("record", "card", "--material", "topaz")[0] == 1
    assert run("record", "forget", "--yes")[0] == 1
    assert run("record", "backup")[0] == 1
    assert run("record", "check")[0] == 0
    assert run("record", "export")[1].count("\n") == 1
    assert not (tmp_path / "data" / "record.sqlite3").exists()


def test_the_chart(shop: Run) -> None:
    code, out, _ = shop("record", "chart", "--material", "topaz")
    assert code == 0
    assert any("●" in line and "8/10" in line for line in out.splitlines())
    assert "MINUTES SPENT" in out
    assert "CURES, BY STONE" in out
    assert json.loads(shop("record", "chart", "--json")[1])["by_month"][0]["facets"] == 8


def test_the_card_to_screen_and_to_a_file(shop: Run, tmp_path: Path) -> None:
    code, out, _ = shop("record", "card", "--material", "topaz")
    assert code == 0
    assert out.startswith("TOPAZ")
    target = tmp_path / "topaz.md"
    assert shop("record", "card", "--material", "topaz", "--out", str(target))[0] == 0
    assert "| 8 | 10 |" in target.read_text()
    assert "\\[bold\\]" in target.read_text()
    code, _, err = shop("record", "card", "--material", "topaz", "--out", str(target))
    assert code == 2
    assert "left as it is" in err
    code, _, err = shop("record", "card", "--material", "topas")
    assert code == 2
    assert "topaz" in err
    assert json.loads(shop("record", "card", "--material", "topaz", "--json")[1])["pairs"][0]["trials"] == 9


def test_export_and_import(shop: Run, tmp_path: Path) -> None:
    target = tmp_path / "mine.jsonl"
    assert shop("record", "export", str(target))[0] == 0
    assert shop("record", "export", str(target))[0] == 2
    other = ("--data", str(tmp_path / "other"))
    code, out, _ = shop("record", "import", str(target), "--trial", "--json", *other)
    assert json.loads(out)["added"] == {"case": 10, "step": 11}
    code, out, _ = shop("record", "import", str(target), "--json", *other)
    assert code == 0
    assert json.loads(out)["refused"] == 0
    code, out, _ = shop("record", "import", str(target), *other)
    assert code == 0
    assert "nothing new" in out
    assert shop("record", "export", *other)[1] == target.read_text()
    table = shop("record", "export", "--csv")[1]
    assert table.startswith("case,step,time_utc")
    assert "'=1+1" in table


def test_a_bad_import_says_what_was_refused(shop: Run, tmp_path: Path) -> None:
    target = tmp_path / "bad.jsonl"
    shop("record", "export", str(target))
    target.write_text(target.read_text() + "junk\n" * 3 + '{"row":"case"}\n')
    code, out, err = shop("record", "import", str(target))
    assert code == 0
    assert "Refused: 4" in out
    assert "3 x not JSON" in out
    assert "line 23: not JSON" in err
    assert shop("record", "import", str(tmp_path / "none.jsonl"))[0] == 2
    (tmp_path / "binary").write_bytes(bytes(range(256)) * 40)
    code, _, err = shop("record", "import", str(tmp_path / "binary"))
    assert code == 2
    assert "Traceback" not in err


def test_backup_restore_check(shop: Run, tmp_path: Path) -> None:
    code, out, _ = shop("record", "backup")
    assert code == 0
    made = Path(out.strip())
    assert made.exists()
    assert str(made) in shop("record", "backup", "--list")[1]
    assert "sound" in shop("record", "check")[1]
    record = tmp_path / "data" / "record.sqlite3"
    record.write_bytes(b"\x00" * 5000)
    for suffix in ("-wal", "-shm"):
        record.with_name(record.name + suffix).unlink(missing_ok=True)
    code, _, err = shop("record", "show")
    assert code == 3
    assert str(made) in err
    code, out, err = shop("record", "backup", "--restore", str(made))
    assert code == 0
    assert "set aside" in err
    assert "10 case rows" in out
    assert shop("record", "show", "--material", "topaz")[0] == 0


def test_forget_asks_first(shop: Run) -> None:
    code, _, err = shop("record", "forget")
    assert code == 2
    assert "--yes" in err
    assert json.loads(shop("record", "forget", "--yes", "--json")[1]) == {"cases": 10, "forgotten": True}
    assert "8 of 10" in shop("record", "show", "--material", "topaz")[1]
    assert json.loads(shop("record", "forget", "--undo", "--json")[1]) == {"cases": 10, "forgotten": False}


def test_knowledge_show_prints_what_the_record_says(shop: Run) -> None:
    out = shop("knowledge", "show", "clean-lap")[1]
    assert "your record" in out
    assert "together" in out


def test_a_rule_is_taught_from_a_case(run: Run, tmp_path: Path) -> None:
    facts = (
        "--material",
        "topaz",
        "--lap",
        "tin-lap",
        "--compound",
        "aluminium-oxide",
        "--symptom",
        "haze",
        "--fact",
        "carrier=oil",
    )

    def plan() -> list[str]:
        return [s["remedy"] for s in json.loads(run("diagnose", *facts, "--json")[1])["plan"]]

    before = plan()
    cure = before[4]  # the advice failed: four others stand before it
    run(
        "log",
        *facts,
        *(x for r in before[:3] for x in ("--tried", f"{r}=no-change")),
        "--remedy",
        cure,
        "--outcome",
        "fixed",
    )
    case_id = json.loads(run("record", "show", "--json")[1])["newest"][0]["id"]
    teach = ("knowledge", "new", "rule", "oil-hazes-here", "--from-case", case_id)
    code, out, err = run(*teach)
    assert code == 2
    assert "--yes" in err
    assert 'carrier: "oil"' in out
    assert not (tmp_path / "data" / "rules").exists()
    assert run(*teach, "--yes")[0] == 0
    assert run(*teach, "--yes")[0] == 2
    assert (tmp_path / "data" / "cases" / "oil-hazes-here.yaml").exists()
    assert run("knowledge", "check")[0] == 0
    run("record", "forget", "--yes")  # the rule alone, without what the case itself taught
    assert cure in plan()[:3]
    # without the rule the kept case fails, and the check says so
    (tmp_path / "data" / "rules" / "oil-hazes-here.yaml").unlink()
    code, out, _ = run("knowledge", "check")
    assert code == 3
    assert "own-cases" in out


def test_the_promises_are_shown(run: Run) -> None:
    code, out, _ = run("record", "promises")
    assert code == 0
    assert "What can be lost" in out
    assert "What can be lost" in json.loads(run("record", "promises", "--json")[1])["text"]


def test_how_often_the_rules_fire_in_cases_written_by_hand(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "cases" / "more"
    folder.mkdir(parents=True)
    told = """cases:
    - id: one
      case: {material: quartz, symptoms: [partial-polish], facts: {facet_part: table}, map: BBD/BBD/BBD}
    - id: two
      case: {material: quartz, symptoms: [hot-stone], tried: {wetter: no-change}, saw: {loupe-check: clean}}
"""
    (folder / "some.yaml").write_text(told, encoding="utf-8")
    (folder / "other.yaml").write_text("answers: {}", encoding="utf-8")
    code, out, _ = run("knowledge", "check", "--cases", str(tmp_path / "cases"), "--json")
    found = json.loads(out)
    assert code == 0
    assert found["firing"]["cases"] == 2
    assert "hot-stone-is-let-cool-first" in found["firing"]["one"]
    assert not set(found["firing"]["one"]) & set(found["firing"]["none"])
    (folder / "some.yaml").write_text(told.replace("quartz", "quarz"), encoding="utf-8")
    code, _, error = run("knowledge", "check", "--cases", str(tmp_path / "cases"))
    assert code == 2
    assert "some.yaml: one" in error
