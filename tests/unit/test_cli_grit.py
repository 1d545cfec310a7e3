"""`lapwise grit` from the command line: text, JSON, errors and exit codes."""

from __future__ import annotations

import json

import pytest

from lapwise.tui.cli.main import main


def run(capsys: pytest.CaptureFixture[str], *args: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as stop:
        main(["grit", *args])
    out = capsys.readouterr()
    code = stop.value.code
    return (code if isinstance(code, int) else 0), out.out, out.err


def test_a_number_alone_shows_every_system_and_warns(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "800")
    assert code == 0
    for size in ("21.8 µm", "6.5 µm", "14 µm", "11.5 µm", "20 µm"):
        assert size in out
    assert "Never convert by number" in out
    assert "FEPA 43-1" in out


def test_a_system_shows_size_neighbours_damage_and_trade_diamond(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "1200", "--system", "fepa-f")
    assert code == 0
    assert out.startswith("FEPA F 1200: 3 µm")
    (diamond,) = [line for line in out.splitlines() if line.lstrip().startswith("Diamond mesh of the trade")]
    assert "8000" in diamond
    assert "0.63 to 5.1 µm" in out
    assert "Never convert by number" in err


@pytest.mark.parametrize("columns", [60, 80])
@pytest.mark.parametrize("args", [("600",), ("1200", "--system", "jis"), ("D46",), ("9um",), ("50k",)])
def test_text_fits_the_terminal(
    columns: int, args: tuple[str, ...], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    code, out, _ = run(capsys, *args)
    assert code == 0
    assert max(len(line) for line in out.splitlines()) <= columns


def test_json_of_a_number(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "800", "--json")
    answer = json.loads(out)
    assert code == 0
    assert err == ""
    assert {r["system"]: r["um"] for r in answer["readings"]}["fepa-p"] == 21.8
    assert all(r["standard"] and r["source"] for r in answer["readings"])


def test_json_of_one_system(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "800", "--system", "jis", "--json")
    answer = json.loads(out)
    assert code == 0
    assert (answer["um"], answer["low_um"], answer["high_um"]) == (14.0, 13.0, 15.0)
    assert answer["diamond_trade"]["grit"] == "1200"
    assert answer["damage_um"] == pytest.approx([0.3 * 14**0.68, 2 * 14**0.85])
    assert {n["system"] for n in answer["nearest"]} == {
        "fepa-f",
        "fepa-p",
        "ansi-bonded",
        "ansi-coated",
        "us-mesh",
        "diamond-sieve",
        "diamond-trade",
    }


def test_json_of_a_size(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "45µm", "--system", "us-mesh", "--json")
    answer = json.loads(out)
    assert code == 0
    assert answer["nearest"] == [{"system": "us-mesh", "label": "US mesh", "grit": "325", "um": 45.0, "ratio": 1.0}]


def test_unknown_grit_names_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "1100", "--system", "fepa-f")
    assert (code, out) == (2, "")
    assert "1200" in err
    code, out, err = run(capsys, "5000", "--json")
    assert (code, out) == (2, "")
    error = json.loads(err)["error"]
    assert set(error) == {"what", "where", "found", "allowed", "nearest"}
    assert set(error["nearest"]) >= {"4000", "6000"}


@pytest.mark.parametrize("args", [("1200", "--system", "fepaf"), ("rough",), ("",), ("0um",), ("9", "--sistem", "x")])
def test_bad_input_exits_two_without_a_traceback(args: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, *args)
    assert (code, out) == (2, "")
    assert err.startswith("lapwise")
    assert "Traceback" not in err


def test_control_characters_do_not_reach_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "12\x1b[31m00")
    assert code == 2
    assert "\x1b" not in err
