"""The seat of the stone against scipy's rotations: exact turning of normals, and its own fit of a rotation.

A stone leans by a tilt towards an azimuth: its tip end, the +z axis of the cut, goes that way. A facet is cut at the
setting (azimuth, polar angle) of its normal; after the lean the same facet wants the setting of the leaning normal.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from scipy.stats import t as student

from lapwise.engine.transfer import Row, fit

GEARS = (32, 48, 64, 72, 77, 80, 84, 88, 96, 120)


def lean(tilt, toward_degrees):
    """The rotation that takes +z towards the azimuth."""
    f = math.radians(toward_degrees)
    return Rotation.from_rotvec(math.radians(tilt) * np.array([-math.sin(f), math.cos(f), 0.0]))


def normal(index, angle, gear):
    a, e = 2 * math.pi * index / gear, math.radians(angle)
    return np.array([math.sin(e) * math.cos(a), math.sin(e) * math.sin(a), math.cos(e)])


def corrected(number, index, angle, gear, tilt, toward, zero_teeth=0.0, offset=0.0):
    """The row of a facet: what full rotations ask of it, plus index zero and angle offset."""
    n = lean(tilt, toward).apply(normal(index, angle, gear))
    azimuth = math.degrees(math.atan2(n[1], n[0])) - 360.0 * index / gear
    azimuth = (azimuth + 180.0) % 360.0 - 180.0
    polar = math.degrees(math.acos(n[2]))
    return Row(number, float(index), angle, azimuth * gear / 360.0 + zero_teeth, polar - angle + offset)


@pytest.mark.parametrize("gear", GEARS)
@pytest.mark.parametrize("tilt", [0.05, 0.2, 0.5])
def test_the_seat_is_recovered_to_a_thousandth_of_a_degree(gear, tilt):
    rng = np.random.default_rng(gear)
    for _ in range(4):
        toward, zero, offset = rng.uniform(0, 360), rng.uniform(-0.1, 0.1), rng.uniform(-0.2, 0.2)
        places = sorted(rng.choice(gear, 5, replace=False) + 1)
        rows = [
            corrected(k, i, e, gear, tilt, toward, zero, offset)
            for k, (i, e) in enumerate(zip(places, rng.uniform(25, 60, 5), strict=True), 1)
        ]
        answer = fit(rows, gear)
        assert answer.tilt == pytest.approx(tilt, abs=1e-3)
        apart = (answer.toward_index * 360 / gear - toward + 180) % 360 - 180
        assert math.radians(abs(apart)) * tilt < 1e-3
        assert answer.index_zero * 360 / gear == pytest.approx(zero * 360 / gear, abs=1e-3)
        assert answer.angle_offset == pytest.approx(offset, abs=1e-3)
        assert answer.suspects == ()


def test_two_facets_tell_all_four_and_predict_the_others():
    rows = [corrected(k, i, 42.0, 96, 0.3, 77.0, 0.04, -0.06) for k, i in ((1, 12), (2, 40))]
    answer = fit([*rows, Row(3, 66.0, 41.0), Row(4, 90.0, 38.0)], 96)
    assert answer.errors is None
    for row in answer.predictions:
        wanted = corrected(row.number, row.index, row.angle, 96, 0.3, 77.0, 0.04, -0.06)
        assert row.index_change * 3.75 == pytest.approx(wanted.index_change * 3.75, abs=1e-3)
        assert row.angle_change == pytest.approx(wanted.angle_change, abs=1e-3)
    # the mirror settings k and 96 - k
    assert [r.index for r in answer.mirrored] == [84.0, 56.0]
    for row in answer.mirrored:
        wanted = corrected(0, row.index, 42.0, 96, 0.3, 77.0, 0.04, -0.06)
        assert row.angle_change == pytest.approx(wanted.angle_change, abs=1e-3)


@pytest.mark.parametrize("tilt", [0.1, 0.3, 0.5])
def test_it_agrees_with_the_fit_of_a_rotation(tilt):
    """scipy's align_vectors, given the normals as cut and as they now stand, finds the same lean."""
    places = [(5, 42.0), (21, 42.0), (37, 41.0), (53, 40.0), (69, 42.0), (85, 43.0)]
    rows = [corrected(k, i, e, 96, tilt, 130.0, zero_teeth=0.05) for k, (i, e) in enumerate(places, 1)]
    cut = np.array([normal(r.index, r.angle, 96) for r in rows])
    now = np.array([normal(r.index + r.index_change, r.angle + r.angle_change, 96) for r in rows])
    found, _ = Rotation.align_vectors(now, cut)
    tip = found.apply([0.0, 0.0, 1.0])
    answer = fit(rows, 96)
    assert answer.tilt == pytest.approx(math.degrees(math.acos(tip[2])), abs=1e-3)
    # index zero turns the azimuths about the dop axis after the lean
    azimuth = math.degrees(math.atan2(tip[1], tip[0])) - answer.index_zero * 3.75
    assert (answer.toward_index * 3.75 - azimuth + 180) % 360 - 180 == pytest.approx(0.0, abs=0.05)


def test_a_tenth_of_a_degree_at_42_degrees():
    """Dop tilt 0.1 at 42 degrees: the angle by up to 0.1, the azimuth by up to 0.111; at 90 the azimuth by 0.

    Plain geometry (tilt times cotangent), recomputed with full rotations.
    """
    rows = [corrected(k, k, 42.0, 96, 0.1, 0.0) for k in range(1, 97)]
    assert max(abs(r.angle_change) for r in rows) == pytest.approx(0.1, abs=1e-4)
    assert max(abs(r.index_change) for r in rows) * 3.75 == pytest.approx(0.111, abs=5e-4)
    level = [corrected(k, k, 90.0, 96, 0.1, 0.0) for k in range(1, 97)]
    assert max(abs(r.index_change) for r in level) * 3.75 < 2e-4


@pytest.mark.parametrize(("rows_count", "noise"), [(6, 0.02), (12, 0.05)])
def test_standard_errors_cover_the_truth(rows_count, noise):
    """With noise, truth lies within t(95 %) standard errors in 95 % of 300 cases, give or take 3."""
    rng = np.random.default_rng(7)
    hits = np.zeros(4)
    count = 300
    reach = student.ppf(0.975, 2 * rows_count - 4)
    for _ in range(count):
        tilt, toward = rng.uniform(0.2, 0.4), rng.uniform(0, 360)
        zero, offset = rng.uniform(-0.05, 0.05), rng.uniform(-0.1, 0.1)
        rows = []
        for k in range(rows_count):
            row = corrected(k + 1, 96 * k / rows_count + 3, 42.0, 96, tilt, toward, zero, offset)
            turn, angle = rng.normal(0, noise, 2)
            rows.append(Row(k + 1, row.index, row.angle, row.index_change + turn / 3.75, row.angle_change + angle))
        answer = fit(rows, 96)
        e = answer.errors
        apart = (answer.toward_index - toward / 3.75 + 48) % 96 - 48
        hits += [
            abs(answer.tilt - tilt) <= reach * e.tilt,
            abs(apart) <= reach * e.toward_index,
            abs(answer.index_zero - zero) <= reach * e.index_zero,
            abs(answer.angle_offset - offset) <= reach * e.angle_offset,
        ]
    assert np.all(np.abs(hits / count - 0.95) < 0.03), hits / count


def test_one_wrong_sign_among_six_is_named():
    """Named when its flip exceeds four times the noise by a fair margin; right rows are hardly ever named."""
    rng = np.random.default_rng(11)
    noise = 0.02
    named = tried = false = 0
    for _ in range(250):
        tilt, toward, zero = rng.uniform(0.1, 0.4), rng.uniform(0, 360), rng.uniform(-0.03, 0.03)
        rows = []
        for k in range(6):
            row = corrected(k + 1, 16 * k + 3, 42.0, 96, tilt, toward, zero, 0.05)
            turn, angle = rng.normal(0, noise, 2)
            rows.append(Row(k + 1, row.index, row.angle, row.index_change + turn / 3.75, row.angle_change + angle))
        false += bool(fit(rows, 96).suspects)
        k, column = int(rng.integers(6)), rng.integers(2)
        bad = list(rows)
        r = rows[k]
        size = 2 * abs(r.index_change * 3.75 if column else r.angle_change)
        bad[k] = Row(
            k + 1, r.index, r.angle, r.index_change * (-1 if column else 1), r.angle_change * (1 if column else -1)
        )
        if size > 6 * noise:
            tried += 1
            named += [s.row for s in fit(bad, 96).suspects] == [k + 1]
    assert named >= 0.95 * tried, (named, tried)
    assert false <= 0.05 * 250, false
