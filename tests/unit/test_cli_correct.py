"""`lapwise correct` as a person runs it."""

from __future__ import annotations

import json

import pytest

from lapwise.tui.cli.main import main
from lapwise.tui.typed import read_facet

FACET = ("--part", "pavilion", "--angle", "42", "--index", "30", "--gear", "96", "--size", "9x6")


@pytest.fixture
def run(capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("LAPWISE_DATA", str(tmp_path))
    monkeypatch.setenv("COLUMNS", "80")

    def go(*args):
        with pytest.raises(SystemExit) as stop:
            main(args)
        seen = capsys.readouterr()
        return stop.value.code, seen.out, seen.err

    return go


def test_the_words_and_the_drawing(run):
    code, out, _ = run("correct", *FACET, "--trial", "0,0,BBD/BBD/BBD")
    said = " ".join(out.split())
    assert code == 0
    assert "The right side must go down: turn the stone counter-clockwise as seen from behind the handpiece" in said
    assert "▼ right side DOWN" in out
    assert "of a tooth on the 96 gear" in said
    assert "if your numbers fall" in said
    assert max(len(line) for line in out.splitlines()) <= 80


def test_the_json(run):
    code, out, err = run("correct", *FACET, "--prior", "diamond-3000", "--trial", "0,0,BBD/BBD/BBD", "--json")
    data = json.loads(out)
    assert code == 0
    assert err == ""
    assert data["turn"]["sense"] == "counterclockwise"
    assert data["angle"]["sense"] == "none"
    assert data["done"] is False
    assert data["cautions"] == []


def test_the_ink_map_is_drawn_beside_the_polish(run):
    args = ("--ink", "0,0,RRN/RRN/RRN", "--trial", "0,0,BDD/BDD/BDD")
    out = run("correct", *FACET, *args)[1]
    assert "Where the ink went:" in out
    assert out.count("▼") == 1
    assert "Where the ink went:" not in run("correct", *FACET, *args[2:])[1]


def test_trials_in_order_the_last_is_where_the_stone_is(run):
    args = ("--trial", "0,0,BBD/BBD/BBD", "--trial", "-0.3,0,DBB/DBB/DBB,fresh", "--json")
    data = json.loads(run("correct", *FACET, *args)[1])
    assert data["turn"]["sense"] == "clockwise"
    assert -0.3 < data["next"]["turn"] < 0


def test_a_profile_gives_marks_and_the_new_number(run):
    assert (
        run("machine", "set", "gear=96", "numbers_run=clockwise", "fine_mark=teeth", "fine_mark_size=1/20", "knob=own")[
            0
        ]
        == 0
    )
    code, out, _ = run("correct", "--part", "pavilion", "--angle", "42", "--index", "30", "--trial", "0,0,BBD/BBD/BBD")
    assert code == 0
    assert "turn the fine-index knob counter-clockwise by" in " ".join(out.split())
    assert "if your numbers fall" not in out


def test_the_published_reading(run):
    """Setting 30 of 96 turned 0.3 degrees towards the lower numbers reads 29.92, not 29.7 (arithmetic: 0.3/3.75)."""
    args = ("--trial", "0.3,0,BBB/BBB/BBB", "--json")
    data = json.loads(run("correct", *FACET, *args)[1])
    assert data["reading"] is None
    assert data["readings"] == {"if_numbers_fall": 29.92, "if_numbers_rise": 30.08}
    run("machine", "set", "numbers_run=clockwise")
    assert json.loads(run("correct", *FACET, *args)[1])["reading"]["index"] == 29.92


@pytest.mark.parametrize(
    ("args", "code", "words"),
    [
        (("--trial", "0,0,BB/BB"), 2, "at least 3 x 3"),
        (("--trial", "0,0"), 2, "TURN,ANGLE,MAP"),
        (("--trial", "a,0,BBD/BBD/BBD"), 2, "not a number"),
        (("--trial", "0,0,BBD/BBD/BBD,frsh"), 2, "TURN,ANGLE,MAP"),
        (("--ink", "0,0,BBD/BBD/BBD"), 2, "letters of a polish map"),
        (("--map", "BBD/BBD/BBD", "--part", "pavillion"), 2, "did you mean pavilion"),
        (("--map", "BBD/BBD/BBD", "--size", "big"), 2, "9x6"),
        (("--map", "BBD/BBD/BBD", "--angle", "400"), 2, "out of range"),
        (("--map", "BBD/BBD/BBD", "--gear", "96", "--index", "97"), 2, "0 to 96"),
        (("--map", "BBD/BBD/BBD", "--adapter", "60"), 2, "45"),
        (("--map", "BBD/BBD/BBD", "--prior", "diamond-300"), 2, "diamond-3000"),
        ((), 1, "no facet map"),
        (("--map", "unknown"), 1, "no facet map"),
    ],
)
def test_bad_input_says_what_and_what_is_allowed(run, args, code, words):
    got, out, err = run("correct", *args)
    assert (got, out) == (code, "")
    assert words in err
    assert "Traceback" not in err
    got, _, err = run("correct", *args, "--json")
    assert got == code
    assert set(json.loads(err)["error"]) == {"what", "where", "found", "allowed", "nearest"}


def test_all_problems_at_once(run):
    _, _, err = run("correct", "--part", "x", "--size", "y", "--map", "BB/BB")
    assert err.count("lapwise:") == 3


def test_options_are_read_as_people_write_them():
    facet = read_facet(
        part="Table", angle="45,5°", size="9 x 6 mm", adapter="45°", gear="96", index="12.5", map_="bbd/bbd/bbd"
    )
    assert (facet.part, facet.angle, facet.size_mm, facet.adapter, facet.index) == ("table", 45.5, (9, 6), "45", 12.5)
    assert facet.trials[0].map == "BBD/BBD/BBD"
    assert read_facet(size="8").size_mm == (8, 8)
    assert read_facet(angle="unknown", part="unknown").angle is None


def test_ink_goes_with_the_trial_of_its_setting():
    facet = read_facet(trial=("0,0,BBD/BBD/BBD", "0.1,0,BBD/BBD/BBD"), ink=("0.1,0,RRN/RRN/RRN", "0,0,RRR/RRR/RRR"))
    assert [(t.turn, t.ink) for t in facet.trials] == [(0, True), (0, False), (0.1, True), (0.1, False)]
