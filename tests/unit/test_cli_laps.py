"""`lapwise laps`: add, change, clean, remove, show, list; warnings; JSON."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

Run = Callable[..., tuple[int, str, str]]


def test_a_lap_from_its_entry_to_its_end(run: Run) -> None:
    code, _, err = run("laps")
    assert code == 1
    assert "laps add" in err
    code, out, _ = run(
        "laps",
        "add",
        "fine tin",
        "--type",
        "tin-lap",
        "--diameter",
        "200",
        "--carries",
        "aluminium-oxide",
        "--wear",
        "worked-in",
        "--json",
    )
    assert code == 0
    lap_id = json.loads(out)["id"]
    run(
        "log",
        "--material",
        "topaz",
        "--own-lap",
        "fine tin",
        "--symptom",
        "haze",
        "--remedy",
        "clean-lap",
        "--outcome",
        "fixed",
    )
    found = json.loads(run("laps", "show", "fine tin", "--json")[1])
    assert (found["id"], found["type"], found["state"]) == (lap_id, "tin-lap", "clean")
    assert found["ran"] == [{"material": "topaz", "compound": "aluminium-oxide", "cases": 1}]
    assert found["last_run"]
    assert "(! see below)\n    ! No cleaning" in run("laps")[1], "never called clean before a cleaning"
    assert run("laps", "clean", "fine tin")[0] == 0
    assert "(clean)" in run("laps")[1]
    assert "last_cleaned" in json.loads(run("laps", "show", lap_id[-6:], "--json")[1])
    assert run("laps", "change", "fine tin", "--carries", "diamond-50000", "--rename", "old tin")[0] == 0
    assert run("laps", "change", "old tin", "--carries", "aluminium-oxide")[0] == 0
    code, out, _ = run("laps", "list")
    assert "old tin" in out
    assert "It has had 50000 diamond on it as well as" in " ".join(out.split())
    assert "fresh face" in " ".join(out.split())
    assert run("laps", "clean", "old tin", "--resurfaced")[0] == 0
    assert json.loads(run("laps", "--json")[1])["laps"][0]["state"] == "clean"
    assert run("laps", "remove", "old tin")[0] == 0
    assert run("laps")[0] == 1
    assert "taken out of use" in run("laps", "list", "--all")[1]


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (("add", "x"), "--type"),
        (("add", "x", "--type", "tinlap"), "tin-lap"),
        (("add", "x", "--type", "tin-lap", "--carries", "ceria"), "--carries"),
        (("add", "x", "--type", "tin-lap", "--wear", "wornout"), "worn-out"),
        (("add", "x", "--type", "tin-lap", "--diameter", "-4"), "mm"),
        (("add", " ", "--type", "tin-lap"), "name"),
        (("show", "nothing"), "no such lap"),
        (("change", "nothing"), "what to change"),
    ],
)
def test_bad_input_is_said_without_a_traceback(run: Run, argv: tuple[str, ...], words: str) -> None:
    code, out, err = run("laps", *argv)
    assert code in (1, 2)
    assert out == ""
    assert words in err
    assert "Traceback" not in err


def test_an_own_lap_brings_its_type_into_the_diagnosis(run: Run) -> None:
    run("laps", "add", "board", "--type", "acrylic-lap", "--carries", "diamond-3000")
    run("laps", "change", "board", "--carries", "cerium-oxide")
    code, out, err = run(
        "log", "open", "--material", "quartz", "--own-lap", "board", "--symptom", "fine-scratches", "--json"
    )
    assert code == 0, err
    case = json.loads(run("record", "show", json.loads(out)["case"], "--json")[1])["case"]
    assert (case["lap"], case["compound"]) == ("acrylic-lap", "cerium-oxide")
