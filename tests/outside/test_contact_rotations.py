"""Every sign of the correction against full rotations in space (scipy's Rotation is the oracle; no small angles).

The machine is built in a fixed frame: z up, the mast at negative x, the lap level. The quill points from the mast over
the lap along (sin r, 0, -cos r) at the reading r: straight down at 0, level at 90. Seen from behind the hand piece,
looking along the quill, a clockwise turn is a positive rotation about that direction. Raising the reading lifts the
far end of the quill. A facet touches the lap where it is lowest.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from lapwise.engine.case import FacetSetting, Trial
from lapwise.engine.contact import correct, sentences
from lapwise.engine.machine import MachineProfile

GEARS = (32, 48, 64, 72, 77, 80, 84, 88, 96, 120)


def quill(reading):
    r = math.radians(reading)
    return np.array([math.sin(r), 0.0, -math.cos(r)])


def facet_points(n, size):
    """(n, n, 3) points of a facet lying level, rows from the far (tip) end to the near (dop) end, left to right.

    Who faces the facet looks at it from below with its tip end, the far one, up; so the right is at positive y.
    """
    u = np.linspace(-size[0] / 2, size[0] / 2, n)
    v = np.linspace(size[1] / 2, -size[1] / 2, n)
    out = np.zeros((n, n, 3))
    out[:, :, 1], out[:, :, 0] = u[None, :], v[:, None]
    return out


def moved(points, reading, turn, raised):
    """The points after the stone is turned (clockwise positive) and then the angle raised, both in degrees."""
    spin = Rotation.from_rotvec(math.radians(turn) * quill(reading))
    lift = Rotation.from_rotvec(math.radians(raised) * np.array([0.0, -1.0, 0.0]))
    return (lift * spin).apply(points.reshape(-1, 3)).reshape(points.shape)


def seen_map(heights, um):
    """Bright where the point stands less than ``um`` above the lowest."""
    gap = (heights - heights.min()) * 1000.0
    return "/".join("".join("B" if g <= um else "D" for g in row) for row in gap)


def steepness(points):
    return points[:, :, 2].max() - points[:, :, 2].min()


@pytest.mark.parametrize("reading", [8.0, 30.0, 42.0, 60.0, 88.0])
@pytest.mark.parametrize("wrong", itertools.product((-0.3, 0.0, 0.3), (-0.3, 0.0, 0.3)))
def test_following_the_words_brings_the_dull_side_down(reading, wrong):
    """The stone sits wrong by a turn and an angle; the advised senses undo both, and the facet comes flatter."""
    if wrong == (0.0, 0.0):
        return
    turn_needed, raise_needed = wrong
    level = facet_points(5, (6.0, 6.0))
    # the facet as it stands: the needed correction, undone exactly
    spin = Rotation.from_rotvec(math.radians(-turn_needed) * quill(reading))
    lift = Rotation.from_rotvec(math.radians(-raise_needed) * np.array([0.0, -1.0, 0.0]))
    stands = (spin * lift).apply(level.reshape(-1, 3)).reshape(level.shape)
    text = seen_map(stands[:, :, 2], 0.35 * 1000 * steepness(stands))
    facet = FacetSetting(part="pavilion", angle=reading, size_mm=(6.0, 6.0), trials=(Trial(0, 0, text),))
    answer = correct(facet, damage_um=(0.5, 5.0))
    turn, raised = answer.next_turn, answer.next_angle
    side_tilt = abs(turn_needed) * math.sin(math.radians(reading))
    if side_tilt > 0.3 * abs(raise_needed):
        assert math.copysign(1, turn) == math.copysign(1, turn_needed)
    if abs(raise_needed) > 0.3 * side_tilt:
        assert math.copysign(1, raised) == math.copysign(1, raise_needed)
    # a small step in the advised direction, done in space, lowers the dull side
    step = 0.05 / max(abs(turn) * math.sin(math.radians(reading)), abs(raised))
    after = moved(stands, reading, step * turn, step * raised)
    assert steepness(after) < steepness(stands)


def test_the_turn_tilts_by_the_sine_of_the_reading():
    """0.1 degrees of index at 10, 30, 42, 90 degrees tilts the face by 0.0174, 0.0500, 0.0669, 0.1000 degrees.

    Arithmetic of the sine, recomputed here with full rotations. One tooth of 96 at 42 degrees: 2.509.
    """
    for reading, turn, tilt in (
        (10, 0.1, 0.0174),
        (30, 0.1, 0.0500),
        (42, 0.1, 0.0669),
        (90, 0.1, 0.1000),
        (42, 3.75, 2.509),
    ):
        normal = Rotation.from_rotvec(math.radians(turn) * quill(reading)).apply([0.0, 0.0, -1.0])
        assert math.degrees(math.acos(-normal[2])) == pytest.approx(tilt, abs=6e-4 if turn > 1 else 6e-5)
        facet = FacetSetting(part="pavilion", angle=reading, size_mm=(6, 6), trials=(Trial(0, 0, "BBD/BBD/BBD"),))
        answer = correct(facet)
        ratio = answer.slope_across.degrees / answer.turn.degrees
        assert ratio == pytest.approx(tilt / turn, rel=5e-3)


def test_a_table_in_an_adapter_follows_the_quill():
    """The adapter holds the table level with the quill at 45; the far edge is up. Words: far and near edge."""
    level = facet_points(5, (8.0, 8.0))
    for turn_needed, raise_needed in itertools.product((-0.2, 0.2), (-0.2, 0.2)):
        stands = moved(level, 45.0, -turn_needed, -raise_needed)
        text = seen_map(stands[:, :, 2], 0.3 * 1000 * steepness(stands))
        facet = FacetSetting(part="table", angle=45.0, adapter="45", size_mm=(8, 8), trials=(Trial(0, 0, text),))
        answer = correct(facet)
        assert math.copysign(1, answer.next_turn) == math.copysign(1, turn_needed)
        assert math.copysign(1, answer.next_angle) == math.copysign(1, raise_needed)
        said = " ".join(sentences(answer))
        assert ("near edge must go down: raise" in said) == (raise_needed > 0)
        assert ("far edge must go down: lower" in said) == (raise_needed < 0)


@pytest.mark.parametrize("gear", GEARS)
@pytest.mark.parametrize("run", ["clockwise", "counterclockwise"])
@pytest.mark.parametrize(("text", "sense"), [("BBD/BBD/BBD", -1), ("DBB/DBB/DBB", 1)])
def test_the_reading_under_the_pointer(gear, run, text, sense):
    """A gear drawn in space: the number under a fixed pointer after the advised turn is the reading given."""
    profile = MachineProfile(gear=gear, numbers_run=run)
    facet = FacetSetting(
        part="pavilion", angle=42, index=gear / 4, gear=gear, size_mm=(9, 6), trials=(Trial(0, 0, text),)
    )
    answer = correct(facet, profile=profile)
    assert math.copysign(1, answer.turn.degrees) == sense
    axis = np.array([0.0, 0.0, 1.0])  # looking along +z from behind: clockwise is a positive rotation
    printed = 1.0 if run == "clockwise" else -1.0

    def number_at(turn):
        pointer = np.array([1.0, 0.0, 0.0])
        start = Rotation.from_rotvec(math.radians(-printed * 360.0 * facet.index / gear) * axis)
        stone = Rotation.from_rotvec(math.radians(turn) * axis) * start
        place = stone.inv().apply(pointer)
        return (printed * math.degrees(math.atan2(place[1], place[0])) * gear / 360.0) % gear

    assert number_at(0.0) == pytest.approx(facet.index)
    assert answer.reading()["index"] == pytest.approx(number_at(answer.next_turn), abs=1e-3)


def test_the_index_of_a_straight_table_only_spins_it():
    """Dop upright: a turn leaves the table level, and a quarter turn brings the dull side to the near edge."""
    level = facet_points(3, (8.0, 8.0))
    assert steepness(moved(level, 0.0, 0.5, 0.0)) == pytest.approx(0.0, abs=1e-12)
    for side, needed in (("right", "BBD/BBD/BBD"), ("left", "DBB/DBB/DBB")):
        facet = FacetSetting(
            part="table", angle=0, adapter="none", gear=96, size_mm=(8, 8), trials=(Trial(0, 0, needed),)
        )
        answer = correct(facet)
        assert answer.turn.degrees == 0
        assert any(c.id == "index-only-spins" for c in answer.cautions)
        said = " ".join(sentences(answer))
        quarter = 90.0 if "turn the stone clockwise" in said else -90.0
        assert "(24 teeth)" in said
        dull = np.array([0.0, 4.0 if side == "right" else -4.0, 0.0])
        after = Rotation.from_rotvec(math.radians(quarter) * quill(0.0)).apply(dull)
        assert after[0] == pytest.approx(-4.0), "the dull side must come to the near edge, towards the mast"
