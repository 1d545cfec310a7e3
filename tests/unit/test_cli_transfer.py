"""`lapwise transfer` and `lapwise machine` as a person runs them."""

from __future__ import annotations

import json

import pytest

GOOD = """index,angle,index_change,angle_change
3,42,0.082,0.023
19,42,0.071,0.144
35,42,0.017,0.071
51,42,-0.029,-0.126
67,42,-0.018,-0.249
83,42,0.037,-0.176
30,42,,
"""


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "stone.csv"
    path.write_text(GOOD, encoding="utf-8")
    return path


def test_the_words_the_curve_and_the_table(run, file):
    code, out, err = run("transfer", file, "--gear", 96)
    assert (code, err) == (0, "")
    said = " ".join(out.split())
    assert "its tip end leans towards index" in said
    assert "±" in said
    assert "●" in out
    assert "The facets you did not try yet:" in out
    assert max(len(line) for line in out.splitlines()) <= 80


def test_the_json(run, file):
    code, out, _ = run("transfer", file, "--gear", 96, "--json")
    data = json.loads(out)
    assert code == 0
    assert data["suspect"] == []
    assert len(data["predictions"]) == 1
    assert data["standard_errors"]["tilt"] > 0


def test_bad_rows_are_said_and_the_good_ones_used(run, file):
    file.write_text(GOOD + "x,42,,\n", encoding="utf-8")
    code, _, err = run("transfer", file, "--gear", "96")
    assert code == 0
    assert "row 8: index: is not a number" in err


def test_a_wrong_sign_is_shown(run, file):
    file.write_text(GOOD.replace("67,42,-0.018,-0.249", "67,42,-0.018,0.249"), encoding="utf-8")
    code, out, _ = run("transfer", file, "--gear", "96")
    assert code == 0
    assert "Row 5: the sign of its angle change looks wrong" in " ".join(out.split())
    assert "!" in out
    assert json.loads(run("transfer", file, "--gear", "96", "--json")[1])["suspect"] == [5]


def test_predictions_are_written_and_never_over_a_file(run, file, tmp_path):
    target = tmp_path / "out.csv"
    assert run("transfer", file, "--gear", "96", "--out", target)[0] == 0
    assert target.read_text(encoding="utf-8").startswith("index,angle,index_change,angle_change\n30.0,42.0,")
    code, _, err = run("transfer", file, "--gear", "96", "--out", file)
    assert code == 2
    assert "nothing was written" in err
    assert file.read_text(encoding="utf-8") == GOOD


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("index,angle,index_change,angle_change\n3,90,0.1,0.1\n30,90,0.1,0.1\n", 1, "the dop tilt and its direction"),
        ("index,angle\n3,42\n", 1, "no row holds a change"),
        ("", 2, "empty"),
        ("a,b\n1,2\n", 2, "must name the columns"),
    ],
)
def test_what_cannot_be_used(run, file, text, code, words):
    file.write_text(text, encoding="utf-8")
    got, out, err = run("transfer", file, "--gear", "96")
    assert (got, out) == (code, "")
    assert words in err


def test_the_gear_comes_from_the_machine(run, file):
    assert "96 teeth taken" in run("transfer", file)[2]
    assert run("machine", "set", "gear=64")[0] == 0
    code, _, err = run("transfer", file)
    assert code == 0
    assert "0 to 64 on the 64 gear" in err
    assert run("transfer", file, "--gear", "many")[0] == 2
    assert run("transfer", file.parent / "none.csv")[0] == 2
    assert run("transfer", file.parent)[0] == 2


def test_machine_show_set_and_calibrate(run):
    assert run("machine", "show")[0] == 1
    code, out, _ = run(
        "machine",
        "calibrate",
        "--gear",
        "96",
        "--numbers-after-clockwise",
        "down",
        "--rubbed-after-knob-clockwise",
        "right",
        "--dial-with-dop-upright",
        "0",
        "--json",
    )
    assert code == 0
    assert json.loads(out)["numbers_run"] == "clockwise"
    assert json.loads(out)["knob"] == "reversed"
    assert json.loads(run("machine", "show", "--json")[1])["gear"] == 96
    assert "index numbers go down - Turn the stone clockwise, seen from behind" in " ".join(run("machine")[1].split())
    assert json.loads(run("machine", "set", "knob=", "--json")[1])["knob"] is None


def test_machine_errors(run):
    assert run("machine", "set")[0] == 2
    code, _, err = run("machine", "set", "knob=sideways", "gaer=3")
    assert code == 2
    assert "allowed: own, reversed" in err
    assert "did you mean gear" in err
    assert run("machine", "set", "gear")[0] == 2
    code, _, err = run("machine", "calibrate", "--rubbed-after-knob-clockwise", "top")
    assert code == 2
    assert "left" in err
    assert run("machine", "calibrate")[0] == 2
    code, _, err = run(
        "machine", "calibrate", "--rubbed-after-knob-clockwise", "left", "--rubbed-after-knob-counterclockwise", "left"
    )
    assert code == 1
    assert "both ways" in " ".join(err.split())


def test_a_damaged_profile_is_named(run, tmp_path):
    (tmp_path / "data" / "machine.json").write_text("{", encoding="utf-8")
    code, _, err = run("machine", "show")
    assert code == 3
    assert "machine.json" in err
