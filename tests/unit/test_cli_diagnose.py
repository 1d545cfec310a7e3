"""The command line's contract for diagnose, explain, demo, where and plan: keys, exit codes, no traceback."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., tuple[int, str, str]]


def answer(run: Run, *argv: str) -> dict[str, Any]:
    code, out, err = run("diagnose", *argv, "--json")
    assert code in (0, 1), err
    data: dict[str, Any] = json.loads(out)
    return data


SCRATCHES = (
    "--material",
    "quartz",
    "--lap",
    "phenolic-lap",
    "--compound",
    "cerium-oxide",
    "--symptom",
    "fine-scratches",
)


def test_json_has_every_promised_key(run: Run) -> None:
    data = answer(run, *SCRATCHES)
    assert {
        "case",
        "cautions",
        "causes",
        "plan",
        "look",
        "looks",
        "vetoed",
        "expected_minutes",
        "exact",
        "runner_up",
        "unknown_that_would_help",
    } <= set(data)
    step = data["plan"][0]
    assert {"remedy", "label", "to", "amount", "chance", "cumulative", "minutes", "because", "source"} <= set(step)
    assert step["because"]
    assert step["source"]
    assert math.isclose(sum(c["probability"] for c in data["causes"]), 1.0, abs_tol=1e-9)
    assert any(c["id"] == "other" for c in data["causes"])


def test_the_weights_shown_add_up_to_the_odds(run: Run) -> None:
    """Design contract: ln P(c)/P(other) before, plus all weights, is ln P(c|e)/P(other|e) to 1e-9."""
    data = answer(run, *SCRATCHES, "--tried", "clean-lap=no-change", "--saw", "loupe-check=crooked")
    other = next(c["probability"] for c in data["causes"] if c["id"] == "other")
    for cause in data["causes"]:
        total = cause["prior_weight"] + sum(r["weight"] for r in (*cause["for"], *cause["against"]))
        assert math.isclose(total, math.log(cause["probability"] / other), abs_tol=1e-9), cause["id"]


def test_plan_figures_fit_together(run: Run) -> None:
    plan = answer(run, *SCRATCHES)["plan"]
    left = 1.0
    for step in plan:
        left *= 1.0 if step["ends"] else 1.0 - step["chance"]
        assert math.isclose(step["cumulative"], 1.0 - left, abs_tol=1e-6)
    assert len({s["remedy"] for s in plan}) == len(plan)


def test_no_change_takes_a_remedy_out_and_better_leaves_it_in(run: Run) -> None:
    assert "clean-lap" in [s["remedy"] for s in answer(run, *SCRATCHES)["plan"]]
    assert "clean-lap" not in [s["remedy"] for s in answer(run, *SCRATCHES, "--tried", "clean-lap=no-change")["plan"]]
    assert "clean-lap" in [s["remedy"] for s in answer(run, *SCRATCHES, "--tried", "clean-lap=better")["plan"]]


def test_an_answered_look_moves_the_ranking(run: Run) -> None:
    before = {c["id"]: c["probability"] for c in answer(run, *SCRATCHES)["causes"]}
    after = {c["id"]: c["probability"] for c in answer(run, *SCRATCHES, "--saw", "loupe-check=crooked")["causes"]}
    assert after["earlier-damage"] > before["earlier-damage"]


def test_looks_never_stand_in_the_plan(run: Run) -> None:
    data = answer(run, *SCRATCHES)
    looks = {v["id"] for v in data["looks"]}
    assert looks
    assert not looks & {s["remedy"] for s in data["plan"]}


@pytest.mark.parametrize(
    ("argv", "near"),
    [
        (("--material", "quarz"), "quartz"),
        (("--symptom", "fine-scratch"), "fine-scratches"),
        (("--material", "topaz", "--lap", "tinlap"), "tin-lap"),
        (("--material", "topaz", "--tried", "clean-laps=no-change"), "clean-lap"),
        (("--material", "topaz", "--saw", "loupe-check=doted"), "dotted"),
        (("--material", "topaz", "--fact", "wetness=wett"), "wet"),
        (("--material", "topaz", "--prior", "diamond-1201"), "diamond-1200"),
    ],
)
def test_unknown_ids_exit_2_with_the_nearest(run: Run, argv: tuple[str, ...], near: str) -> None:
    code, out, err = run("diagnose", *argv, "--json")
    assert code == 2
    assert out == ""
    error = json.loads(err)["error"]
    assert set(error) == {"what", "where", "found", "allowed", "nearest"}
    assert near in error["nearest"]


@pytest.mark.parametrize(
    "argv",
    [
        ("diagnose",),
        ("diagnose", "--material", "unknown"),
        ("diagnose", "--material", "topaz", "--tried", "clean-lap=fixed"),
        ("diagnose", "--material", "topaz", "--tried", "clean-lap"),
        ("diagnose", "--material", "topaz", "--no-such-option"),
        ("diagnos", "--material", "topaz"),
        ("explain", "no-such-thing", "--material", "topaz"),
        ("plan", "--material", "topass"),
        ("plan",),
    ],
)
def test_bad_input_exits_2_without_a_traceback(run: Run, argv: tuple[str, ...]) -> None:
    code, out, err = run(*argv)
    assert code == 2
    assert out == ""
    assert err.strip()
    assert "Traceback" not in err


def test_corrections_of_other_facets_tell_the_pattern_and_the_amount(run: Run, tmp_path: Path) -> None:
    """One wave round the stone: it leans on its dop (exact geometry is checked in tests/outside)."""
    path = tmp_path / "found.csv"
    path.write_text(
        "index,angle,index_change,angle_change\n"
        "12,42,-0.08,0.28\n36,42,-0.08,-0.28\n60,42,0.08,-0.28\n84,42,0.08,0.28\n"
    )
    data = answer(run, "--material", "topaz", "--symptom", "partial-polish", "--corrections", str(path))
    weights = {r["rule"] for c in data["causes"] for r in (*c["for"], *c["against"]) if "stone_pattern" in r["finding"]}
    assert weights
    step = next(s for s in data["plan"] if s["remedy"] == "re-dop")
    assert step["amount"]["tilt"] > 0.2


def test_fumes_stop_all_advice(run: Run) -> None:
    code, out, _ = run("diagnose", "--material", "topaz", "--symptom", "haze", "--symptom", "fumes", "--json")
    data = json.loads(out)
    assert code == 1
    assert data["plan"] == []
    assert "fresh air" in data["stop"]


def test_human_answer_puts_cautions_first(run: Run) -> None:
    code, out, _ = run("diagnose", *SCRATCHES)
    assert code == 0
    assert out.index("TAKE CARE") < out.index("TRY IN THIS ORDER")
    assert max(len(line) for line in out.splitlines()) <= 100


def test_explain_names_rules_and_missing_conditions(run: Run) -> None:
    code, out, err = run("explain", "stray-grit", *SCRATCHES, "--json")
    assert code == 0, err
    data = json.loads(out)
    assert data["kind"] == "cause"
    assert data["fired"]
    assert all(q["unmet"] for q in data["not_fired"])
    code, out, _ = run("explain", "refit-film", *SCRATCHES)
    assert code == 0
    assert "does not apply" in out


def test_demo_ends_with_advice_and_writes_nothing(run: Run, tmp_path: Path) -> None:
    code, out, err = run("demo", "--data", tmp_path / "none")
    assert code == 0, err
    assert "TRY IN THIS ORDER" in out
    assert not (tmp_path / "none").exists()


def test_where_creates_nothing(run: Run, tmp_path: Path) -> None:
    code, out, _ = run("where", "--json", "--data", tmp_path / "none")
    assert code == 0
    assert json.loads(out)["data"] == str(tmp_path / "none")
    assert not (tmp_path / "none").exists()


@pytest.mark.parametrize("material", ["topaz", "quartz", "fluorite", "sapphire"])
def test_a_plan_goes_from_cutting_to_polish(run: Run, material: str) -> None:
    code, out, err = run("plan", "--material", material, "--json")
    assert code == 0, err
    data = json.loads(out)
    sizes = [s["um"] for s in data["steps"] if s["compound"].startswith("diamond")]
    assert sizes == sorted(sizes, reverse=True)
    assert data["steps"][0]["stage"] == "cut"
    assert data["steps"][-1]["stage"] == "polish"
    assert data["cautions"]


def test_a_plan_warns_of_a_gap_in_the_own_laps(run: Run) -> None:
    laps = "plated-diamond-lap=diamond-260,tin-lap"
    code, out, _ = run("plan", "--material", "topaz", "--laps", laps, "--json")
    assert code == 0
    assert json.loads(out)["warnings"]


def test_something_new_is_offered_apart_from_the_advice(run: Run) -> None:
    plain = answer(run, *SCRATCHES)
    assert answer(run, *SCRATCHES, "--something-new")["something_new"] is None
    code, _, err = run("log", *SCRATCHES, "--remedy", "clean-lap", "--outcome", "fixed", "--minutes", "6")
    assert code == 0, err
    told = answer(run, *SCRATCHES, "--something-new")
    assert told["something_new"]["remedy"] in {s["remedy"] for s in told["plan"]}
    assert "something_new" not in plain


@pytest.mark.parametrize(
    "told", [("--tried", "unknown=no-change"), ("--saw", "unknown=clean"), ("--saw", "loupe-check=unknown")]
)
def test_what_was_done_must_be_named(run: Run, told: tuple[str, str]) -> None:
    code, out, err = run("diagnose", *SCRATCHES, *told)
    assert (code, out) == (2, "")
    assert "is not said" in err


def test_corrections_are_read_with_the_gear_of_the_machine(run: Run, tmp_path: Path) -> None:
    """Index 110 is none on a 96 gear; on a machine with 120 teeth both commands fit the same stone."""
    path = tmp_path / "stone.csv"
    rows = [(5, 0.08, 0.02), (25, 0.07, 0.14), (45, 0.02, 0.07), (65, -0.03, -0.13), (85, -0.02, -0.25)]
    rows.append((110, 0.04, -0.18))
    lines = [f"{i},42,{di},{da}" for i, di, da in rows]
    path.write_text("index,angle,index_change,angle_change\n" + "\n".join(lines) + "\n", encoding="utf-8")
    assert run("machine", "set", "gear=120")[0] == 0
    fitted = json.loads(run("transfer", path, "--json")[1])
    steps = answer(run, "--material", "quartz", "--symptom", "facet-moved", "--corrections", path)["plan"]
    told = next(s["amount"] for s in steps if s["remedy"] == "re-dop")
    assert told["tilt"] == pytest.approx(fitted["tilt"])
    assert told["toward_index"] == pytest.approx(fitted["toward_index"])
