"""The machine profile: senses, storing, and the deductions of the two-minute ink test."""

from __future__ import annotations

import itertools
import json
from dataclasses import fields

import pytest

from lapwise.engine.errors import BadInput, Damaged
from lapwise.engine.folders import folders
from lapwise.engine.machine import MachineProfile, load_profile, profile_from, profile_path, save_profile
from lapwise.engine.machine.calibrate import QUESTIONS, Seen, deduce
from lapwise.engine.machine.described import FACTS


def test_every_field_has_words_and_a_range():
    assert list(MachineProfile().as_json()) == list(FACTS)
    for fact in FACTS.values():
        assert fact.label
        assert fact.about
        assert bool(fact.values) != (fact.limits[0] < fact.limits[1]), "a list of values, or a number"
        assert set(fact.found) <= set(fact.values)
    assert {f.name for f in fields(Seen)} == set(QUESTIONS)


def test_what_is_saved_is_loaded(tmp_path):
    where = folders(tmp_path / "new")
    assert load_profile(where) is None
    profile = MachineProfile(gear=96, numbers_run="clockwise", fine_mark="teeth", fine_mark_size=0.1, rest="hard-stop")
    assert save_profile(where, profile) == profile_path(where)
    assert load_profile(where) == profile
    assert [p.name for p in where.data.iterdir()] == ["machine.json"], "nothing half-written is left"


def test_an_interrupted_write_leaves_the_old_profile(tmp_path, monkeypatch):
    import os

    where = folders(tmp_path)
    save_profile(where, MachineProfile(gear=96))
    monkeypatch.setattr(os, "fsync", lambda _: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(OSError, match="No space"):
        save_profile(where, MachineProfile(gear=64))
    assert load_profile(where) == MachineProfile(gear=96)
    assert [p.name for p in where.data.iterdir()] == ["machine.json"]


@pytest.mark.parametrize(
    "text", ["", "{", "[1]", '{"gear": 0}', '{"gaer": 96}', '{"knob": "left"}', "[" * 5000, "\x00"]
)
def test_a_damaged_file_is_named(tmp_path, text):
    where = folders(tmp_path)
    profile_path(where).write_text(text)
    with pytest.raises(Damaged) as caught:
        load_profile(where)
    assert "machine.json" in str(caught.value)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"gear": "96.5"}, "whole number"),
        ({"gear": True}, "whole number"),
        ({"knob": "revers"}, "did you mean reversed"),
        ({"gaer": "96"}, "did you mean gear"),
        ({"angle_resolution": "-1"}, "from 0.0001 to 5"),
        ({"fine_mark_size": "0.1"}, "needs its kind"),
    ],
)
def test_wrong_facts_are_refused(values, words):
    with pytest.raises(BadInput) as caught:
        profile_from(values)
    assert words in str(caught.value)


def test_numbers_are_read_as_typed():
    assert profile_from({"fine_mark": "Teeth", "fine_mark_size": "1/20"}).fine_mark_size == 0.05
    assert profile_from({"rest": "hard stop", "angle_resolution": "0,05"}) == MachineProfile(
        rest="hard-stop", angle_resolution=0.05
    )
    assert profile_from({"gear": "96", "knob": "unknown"}) == MachineProfile(gear=96)


def test_marks_in_degrees_teeth_and_lines():
    assert MachineProfile(fine_mark="degrees", fine_mark_size=0.1).degrees_per_mark() == 0.1
    assert MachineProfile(fine_mark="teeth", fine_mark_size=0.1).degrees_per_mark(96) == pytest.approx(0.375)
    assert MachineProfile(fine_mark="lines", fine_mark_size=0.2).degrees_per_mark() == 0.2
    assert MachineProfile(fine_mark="lines").degrees_per_mark() is None


WORLDS = list(itertools.product(("clockwise", "counterclockwise"), ("own", "reversed"), ("upright", "level")))


@pytest.mark.parametrize(("numbers", "knob", "zero"), WORLDS)
def test_every_machine_is_found_out(numbers, knob, zero):
    """What a person would see on that machine leads back to it."""
    stone_clockwise = knob == "own"  # after the knob is turned clockwise
    seen = Seen(
        gear="96",
        # printed clockwise, the number under a fixed pointer falls as the gear turns clockwise
        numbers_after_clockwise="down" if numbers == "clockwise" else "up",
        # a clockwise turn of the stone brings its left side down
        rubbed_after_knob_clockwise="left" if stone_clockwise else "right",
        rubbed_after_knob_counterclockwise="right" if stone_clockwise else "left",
        dial_with_dop_upright="0" if zero == "upright" else "90",
        # a higher reading leans the dop towards level on a dial that is 0 upright: the dop end comes down
        rubbed_after_dial_up="dop" if zero == "upright" else "tip",
        marks_per_tooth="20",
    )
    found = deduce(seen)
    assert found.contradictions == ()
    assert found.open == ()
    profile = profile_from(found.facts)
    assert (profile.numbers_run, profile.knob, profile.angle_zero) == (numbers, knob, zero)
    assert profile.degrees_per_mark() == pytest.approx(0.1875)
    assert profile.index_sign() == (-1 if numbers == "clockwise" else 1)
    assert profile.knob_sense("clockwise") == ("clockwise" if knob == "own" else "counterclockwise")


def test_half_the_test_tells_half():
    found = deduce(Seen(rubbed_after_knob_counterclockwise="left"))
    assert found.facts == {"knob": "reversed"}
    assert len(found.open) == 2


def test_contradictions_are_named_and_not_stored():
    found = deduce(Seen(rubbed_after_knob_clockwise="left", rubbed_after_knob_counterclockwise="left"))
    assert "knob" not in found.facts
    assert "both ways" in found.contradictions[0]
    found = deduce(Seen(dial_with_dop_upright="0", rubbed_after_dial_up="tip"))
    assert "angle_zero" not in found.facts
    assert len(found.contradictions) == 1
    found = deduce(Seen(gear="96", marks_per_tooth="10", degrees_per_mark="1"))
    assert "fine_mark" not in found.facts
    assert "Count the marks again" in found.contradictions[0]
    found = deduce(Seen(rubbed_after_knob_clockwise="even"))
    assert "farther" in found.contradictions[0]
    with pytest.raises(BadInput, match="left"):
        deduce(Seen(rubbed_after_knob_clockwise="lft"))


def test_the_file_is_plain_json(tmp_path):
    where = folders(tmp_path)
    save_profile(where, MachineProfile(gear=77))
    assert json.loads(profile_path(where).read_text())["gear"] == 77
