"""`lapwise log`: one line, steps, the id alone on stdout, nearest ids, nothing without being on disk."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from lapwise.engine.folders import folders
from lapwise.engine.record.ids import is_id
from lapwise.engine.record.store import Record

Run = Callable[..., tuple[int, str, str]]
TOPAZ = ("--material", "topaz", "--lap", "tin-lap", "--compound", "aluminium-oxide", "--symptom", "fine-scratches")


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return tmp_path / "data"


def stored(data: Path):
    with Record.open(folders(data), readonly=True) as record:
        return record.cases()


def test_one_line_prints_only_the_new_id(run: Run, data: Path) -> None:
    code, out, _ = run(
        "log",
        *TOPAZ,
        "--fact",
        "wetness=dry",
        "--remedy",
        "clean-lap",
        "--outcome",
        "fixed",
        "--minutes",
        "5",
        "--note",
        "like new",
    )
    assert code == 0
    assert is_id(out.strip())
    assert out == out.strip() + "\n"
    (case,) = stored(data)
    step = case.steps[0]
    assert step.id == out.strip()
    assert (step.remedy, step.outcome, step.minutes, step.note) == ("clean-lap", "fixed", 5.0, "like new")
    assert case.case.facts == {"wetness": "dry"}
    assert case.result == "fixed"
    assert len(step.knowledge) > 10


def test_the_ranking_as_shown_is_kept_with_the_step(run: Run, data: Path) -> None:
    run("log", *TOPAZ, "--remedy", "clean-lap", "--outcome", "no-change")
    shown = stored(data)[0].steps[0].shown
    assert shown is not None
    assert sum(shown["posterior"].values()) == pytest.approx(1, abs=0.02)
    assert sum(shown["after"].values()) == pytest.approx(1, abs=0.02)
    for cause, chance in shown["fix"].items():
        if chance > 0.5 and cause in shown["posterior"]:
            assert shown["after"].get(cause, 0.0) < shown["posterior"][cause]
    assert set(shown["plan"][0]) == {"remedy", "chance", "minutes"}


def test_the_second_line_of_the_same_facts_joins_the_open_case(run: Run, data: Path) -> None:
    run("log", *TOPAZ, "--remedy", "clean-lap", "--outcome", "no-change")
    code, out, err = run("log", *TOPAZ, "--remedy", "recharge-lap", "--outcome", "fixed")
    assert code == 0
    assert "added to the open case" in err
    assert is_id(out.strip())
    assert [len(c.steps) for c in stored(data)] == [2]
    run("log", *TOPAZ, "--remedy", "clean-lap", "--outcome", "no-change")
    run("log", *TOPAZ, "--remedy", "clean-lap", "--outcome", "no-change", "--new-case")
    assert len(stored(data)) == 3


def test_earlier_remedies_stated_in_one_line_become_rows(run: Run, data: Path) -> None:
    run(
        "log",
        *TOPAZ,
        "--tried",
        "clean-lap=no-change",
        "--saw",
        "loupe-check=dotted",
        "--remedy",
        "step-back-one",
        "--outcome",
        "fixed",
    )
    (case,) = stored(data)
    assert [(s.kind, s.remedy or s.look) for s in case.steps] == [
        ("try", "clean-lap"),
        ("look", "loupe-check"),
        ("try", "step-back-one"),
    ]
    assert all(s.shown for s in case.steps)


def test_a_case_in_steps(run: Run, data: Path) -> None:
    _, case_id, _ = run("log", "open", *TOPAZ)
    case_id = case_id.strip()
    assert run("log", "try", case_id, "--remedy", "clean-lap", "--outcome", "better")[0] == 0
    assert run("log", "saw", case_id[-6:], "--saw", "loupe-check=dotted")[0] == 0
    assert run("log", "change", "--fact", "wetness=wet", "--compound", "diamond-50000")[0] == 0
    assert run("log", "change", "--fact", "wetness=wet")[0] == 1
    code, out, _ = run("log", "close", "--result", "accepted", "--json")
    assert code == 0
    assert json.loads(out)["case"] == case_id
    (case,) = stored(data)
    assert case.result == "accepted"
    assert case.case.compound == "diamond-50000"
    assert case.case.tried == (("clean-lap", "better"),)
    code, _, err = run("log", "try", case_id, "--remedy", "clean-lap", "--outcome", "fixed")
    assert code == 2
    assert "closed" in err
    assert run("log", "undo", case_id)[0] == 0
    assert stored(data)[0].open
    assert run("log", "undo")[0] == 0
    assert stored(data)[0].case.compound == "aluminium-oxide"


def test_a_stone_that_came_out_well(run: Run, data: Path) -> None:
    assert run("log", "good", *TOPAZ[:6])[0] == 0
    assert run("log", "good", "--material", "topaz")[0] == 2
    with Record.open(folders(data), readonly=True) as record:
        assert record.pair_result([["topaz"]], "tin-lap", "aluminium-oxide") == "worked"


@pytest.mark.parametrize(
    ("options", "nearest"),
    [
        (("--material", "topas", "--remedy", "clean-lap", "--outcome", "fixed"), "topaz"),
        (("--material", "topaz", "--remedy", "clean-lp", "--outcome", "fixed"), "clean-lap"),
        (("--material", "topaz", "--remedy", "clean-lap", "--outcome", "fixd"), "fixed"),
        (("--material", "topaz", "--remedy", "clean-lap"), "--outcome"),
        (("--fact", "wetness=soaked", "--remedy", "clean-lap", "--outcome", "fixed"), "wet"),
        (("--material", "topaz", "--remedy", "clean-lap", "--outcome", "fixed", "--minutes", "-3"), "minutes"),
        (("--material", "topaz", "--remedy", "clean-lap", "--outcome", "fixed", "--minutes", "nan"), "minutes"),
        (("--own-lap", "nowhere", "--remedy", "clean-lap", "--outcome", "fixed"), "nowhere"),
    ],
)
def test_bad_input_names_the_nearest_and_logs_nothing(
    run: Run, data: Path, options: tuple[str, ...], nearest: str
) -> None:
    code, out, err = run("log", *options)
    assert code in (1, 2)
    assert out == ""
    assert nearest in err
    assert "Traceback" not in err
    assert not data.joinpath("record.sqlite3").exists() or not stored(data) or not stored(data)[0].steps


def test_an_error_as_json(run: Run) -> None:
    code, out, err = run("log", "--remedy", "clean-lp", "--outcome", "fixed", "--json")
    assert (code, out) == (2, "")
    assert json.loads(err)["error"]["nearest"][0] == "clean-lap"


def test_the_folder_may_be_given_before_or_after(run: Run, tmp_path: Path) -> None:
    for number, argv in enumerate(
        (("--data", "X", "log", "good"), ("log", "--data", "X", "good"), ("log", "good", "--data", "X"))
    ):
        folder = tmp_path / str(number)
        assert run(*[str(folder) if a == "X" else a for a in argv], *TOPAZ[:6])[0] == 0
        assert (folder / "record.sqlite3").exists()


def test_nothing_open_to_log_to(run: Run) -> None:
    for argv in (
        ("try", "--remedy", "clean-lap", "--outcome", "fixed"),
        ("saw", "--saw", "loupe-check=dotted"),
        ("close",),
        ("undo",),
    ):
        code, out, _ = run("log", *argv)
        assert (code, out) == (1, "")
    assert run("log", "saw", "--saw", "loupe-check=wet")[0] == 2


def test_what_is_logged_moves_the_advice(run: Run) -> None:
    def chance(cause: str) -> float:
        data = json.loads(run("diagnose", *TOPAZ, "--json")[1])
        return next(c["probability"] for c in data["causes"] if c["id"] == cause)

    before = chance("step-too-big")
    for _ in range(6):
        run("log", *TOPAZ, "--remedy", "step-back-one", "--outcome", "fixed")
    assert chance("step-too-big") > before
    run("record", "forget", "--yes")
    assert chance("step-too-big") == pytest.approx(before, abs=1e-9)
