"""The seat of the stone: what can be told, what cannot, suspect rows, mirrored settings, when to dop again."""

from __future__ import annotations

import json
import math

import pytest

from lapwise.engine.errors import NothingFound
from lapwise.engine.transfer import Row, fit, pattern


def seat(places, tilt=0.2, toward=40.0, zero=0.03, offset=-0.05, angle=42.0, gear=96):
    """Rows by the linear formula of the fit, small tilts."""
    out = []
    for number, index in enumerate(places, 1):
        a = 2 * math.pi * (index - toward) / gear
        cot = 1 / math.tan(math.radians(angle))
        turn = -tilt * cot * math.sin(a)
        out.append(Row(number, float(index), angle, turn * gear / 360 + zero, tilt * math.cos(a) + offset))
    return out


SIX = (3, 19, 35, 51, 67, 83)


def test_the_linear_formula_is_recovered():
    answer = fit(seat(SIX), 96)
    assert answer.tilt == pytest.approx(0.2, abs=1e-3)
    assert answer.toward_index == pytest.approx(40, abs=0.2)
    assert answer.index_zero == pytest.approx(0.03, abs=1e-3)
    assert answer.angle_offset == pytest.approx(-0.05, abs=1e-3)


def test_facets_towards_the_lean_need_a_higher_angle():
    rows = seat((40, 88), zero=0, offset=0)
    assert rows[0].angle_change > 0 > rows[1].angle_change
    answer = fit([*seat(SIX, zero=0, offset=0), Row(7, 40.0, 42.0)], 96)
    assert answer.predictions[0].angle_change == pytest.approx(0.2, abs=1e-3)
    assert answer.predictions[0].index_change == pytest.approx(0.0, abs=1e-3)


def test_the_json_has_the_agreed_form():
    out = json.loads(json.dumps(fit([*seat(SIX), Row(7, 10.0, 42.0)], 96).as_json(), allow_nan=False))
    assert {"tilt", "toward_index", "index_zero", "angle_offset", "rms", "suspect", "predictions"} <= set(out)
    assert set(out["standard_errors"]) == {"tilt", "toward_index", "index_zero", "angle_offset"}
    assert [set(p) for p in out["predictions"]] == [{"index", "angle", "index_change", "angle_change"}]
    assert fit(seat(SIX[:2]), 96).as_json()["standard_errors"] is None


def test_no_tilt_has_no_direction():
    answer = fit([Row(n, float(i), 42.0, 0.0, 0.0) for n, i in enumerate(SIX, 1)], 96)
    assert answer.tilt == pytest.approx(0, abs=1e-9)
    assert answer.as_json()["tilt"] == 0
    assert not answer.redop


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([Row(1, 3, 90, 0.1, 0.1), Row(2, 30, 90, 0.1, 0.1)], "tilt"),
        ([Row(1, 3, 42, 0.1, 0.1)], "tilt"),
        ([Row(n, i, 42, None, 0.1) for n, i in enumerate(SIX, 1)], "cannot tell the index zero;"),
        ([Row(n, i, 90, 0.1, None) for n, i in enumerate(SIX, 1)], "the angle offset"),
        ([Row(1, 3, 42), Row(2, 30, 42)], "no row holds a change"),
    ],
)
def test_what_cannot_be_told_is_named(rows, words):
    with pytest.raises(NothingFound) as caught:
        fit(rows, 96)
    assert words in str(caught.value)
    assert caught.value.exit_code == 1


def test_girdle_facets_well_round_the_stone_do_tell():
    rows = seat((3, 27, 51, 75), angle=90.0)
    answer = fit(rows, 96)
    assert answer.tilt == pytest.approx(0.2, abs=1e-3)


@pytest.mark.parametrize("row", range(6))
@pytest.mark.parametrize("column", ["index_change", "angle_change"])
def test_a_wrong_sign_is_named_and_left_out(row, column):
    rows = seat(SIX, toward=37.0)
    r = rows[row]
    flip = {"index_change": r.index_change, "angle_change": r.angle_change}
    flip[column] = -flip[column]
    rows[row] = Row(r.number, r.index, r.angle, **flip)
    answer = fit(rows, 96)
    if abs(flip[column]) < 0.004:
        return
    assert answer.as_json()["suspect"] == [row + 1]
    assert answer.suspects[0].column == column
    assert answer.suspects[0].expected == pytest.approx(-flip[column], abs=2e-3)
    assert answer.tilt == pytest.approx(0.2, abs=1e-3)


def test_no_row_is_suspect_before_four():
    rows = seat(SIX[:3])
    rows[1] = Row(2, rows[1].index, 42.0, rows[1].index_change, -rows[1].angle_change)
    assert fit(rows, 96).suspects == ()


def test_dopping_again_is_advised_for_a_large_tilt():
    assert fit(seat(SIX, tilt=0.8), 96).redop
    assert not fit(seat(SIX, tilt=0.2), 96).redop
    assert not fit(seat(SIX[:2], tilt=0.8), 96).redop, "with nothing to check it by, one more facet comes first"
    doubtful = [Row(1, 96, 42, 0.5, 0.2), Row(2, 24, 42, 0.5, 0.2), Row(3, 48, 42, -0.3, 0.0)]
    answer = fit(doubtful, 96)
    assert answer.errors is not None
    assert answer.tilt < 2 * answer.errors.tilt
    assert not answer.redop


def test_a_pattern_is_told_apart():
    assert pattern(seat(SIX, tilt=0.2, zero=0, offset=0), 96) == "one-wave"
    assert pattern(seat(SIX, tilt=0.0, zero=0.05, offset=0.1), 96) == "constant"
    assert pattern(seat(SIX, tilt=0.0, zero=0, offset=0), 96) is None
    assert pattern(seat(SIX[:2]), 96) is None


def test_a_fitted_rotation_does_not_depend_on_the_order():
    rows = seat(SIX)
    one, two = fit(rows, 96), fit(rows[::-1], 96)
    assert one.as_json()["tilt"] == two.as_json()["tilt"]


def test_mirror_settings_are_checked():
    """An angle offset cancels between k and 96 - k; what is left is the lean across the mirror line."""
    rows = seat((12, 84, 30, 66), toward=24.0)
    checks = fit(rows, 96).mirror_checks
    assert [(m.index, m.mirror) for m in checks] == [(12.0, 84.0), (30.0, 66.0)]
    for m in checks:
        assert m.found == pytest.approx(0.4 * math.sin(2 * math.pi * m.index / 96), abs=1e-9)
        assert m.expected == pytest.approx(m.found, abs=2e-3)
    assert fit(seat((12, 40, 70)), 96).mirror_checks == ()


NOISE = (0.004, -0.006, 0.002, 0.005, -0.003, -0.004)
"""Degrees by which the angle of each row is off, so that no row agrees with the others to the last figure."""


def noisy(**how):
    rows = seat(SIX, tilt=0.3, toward=37.0, **how)
    return [
        Row(r.number, r.index, r.angle, r.index_change, r.angle_change + n) for r, n in zip(rows, NOISE, strict=True)
    ]


@pytest.mark.parametrize(
    ("slip", "column", "typed"),
    [
        ("tenfold", "angle_change", lambda r: Row(r.number, r.index, r.angle, r.index_change, r.angle_change * 10)),
        ("tenfold", "index_change", lambda r: Row(r.number, r.index, r.angle, r.index_change * 10, r.angle_change)),
        ("swapped", "index_change", lambda r: Row(r.number, r.index, r.angle, r.angle_change, r.index_change)),
        ("index", "index", lambda r: Row(r.number, 96 - r.index, r.angle, r.index_change, r.angle_change)),
        ("angle", "angle", lambda r: Row(r.number, r.index, 4.2, r.index_change, r.angle_change)),
    ],
)
def test_the_row_with_a_slip_is_named_and_dopping_again_is_never_its_answer(slip, column, typed):
    """A slip of the pen in one of six rows; what it is said to be is what was done to it."""
    rows = noisy()
    at = 4
    rows[at] = typed(rows[at])
    answer = fit(rows, 96)
    assert [(s.row, s.slip, s.column) for s in answer.suspects] == [(at + 1, slip, column)]
    assert not answer.redop
    assert answer.tilt == pytest.approx(0.3, abs=0.02), "the other rows still tell the lean"


def test_good_rows_are_not_suspected_and_a_large_lean_is_still_told():
    assert fit(noisy(), 96).suspects == ()
    large = fit(seat(SIX, tilt=0.8), 96)
    assert large.redop
    assert large.suspects == ()


def test_a_row_unlike_the_others_is_named_though_no_usual_slip_explains_it():
    rows = noisy()
    more = seat([11, 27, 43], tilt=0.3, toward=37.0)
    rows += [Row(7 + n, r.index, r.angle, r.index_change, r.angle_change) for n, r in enumerate(more)]
    bad = rows[2]
    rows[2] = Row(bad.number, bad.index, bad.angle, bad.index_change + 0.31, bad.angle_change + 0.77)
    answer = fit(rows, 96)
    assert [(s.row, s.slip) for s in answer.suspects] == [(3, "unlike")]
    assert not answer.redop
