"""The nudge: senses, amounts, bracketing, what is not contact, and what to beware of."""

from __future__ import annotations

import itertools
import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwise.engine.case import FacetSetting, Trial
from lapwise.engine.contact import correct, findings, sentences
from lapwise.engine.errors import BadInput, NothingFound
from lapwise.engine.machine import MachineProfile


def setting(*trials, **other):
    base = {"part": "pavilion", "angle": 42.0, "index": 30.0, "gear": 96, "size_mm": (9.0, 6.0)}
    made = tuple(t if isinstance(t, Trial) else Trial(0, 0, t) for t in trials)
    return FacetSetting(**{**base, **other}, trials=made)


def ids(answer):
    return {c.id for c in answer.cautions}


@pytest.mark.parametrize(
    ("text", "turn", "angle"),
    [
        ("BBD/BBD/BBD", "counterclockwise", "none"),
        ("DBB/DBB/DBB", "clockwise", "none"),
        ("BBB/BBB/DDD", "none", "raise"),
        ("DDD/BBB/BBB", "none", "lower"),
        ("BBD/BDD/DDD", "counterclockwise", "raise"),
        ("DDD/DDB/DBB", "clockwise", "lower"),
        ("BDD/DDD/DDD", "counterclockwise", "raise"),
    ],
)
def test_the_dull_side_goes_down(text, turn, angle):
    out = correct(setting(text)).as_json()
    assert (out["turn"]["sense"], out["angle"]["sense"]) == (turn, angle)
    assert out["turn"]["seen_from"] == "behind the handpiece"
    assert (out["turn"]["degrees"] > 0) == (turn != "none")
    assert out["done"] is False


def test_the_json_has_the_agreed_form():
    out = json.loads(json.dumps(correct(setting("BBD/BBD/BBD")).as_json(), allow_nan=False))
    assert {"turn", "angle", "next", "reading", "slope", "done", "cautions"} <= set(out)
    assert {"sense", "seen_from", "degrees", "divisions", "teeth"} <= set(out["turn"])
    assert out["turn"]["divisions"] is None
    assert out["reading"] is None
    assert out["next"]["turn"] == -out["turn"]["degrees"]
    low, high = out["turn"]["range"]
    assert low <= -out["turn"]["degrees"] <= high


planes = st.tuples(st.floats(-1, 1), st.floats(-1, 1), st.floats(0.05, 0.95), st.integers(3, 6), st.integers(3, 6))


def plane_map(sx, sy, level, rows, columns):
    values = [
        [sx * (c / (columns - 1) - 0.5) + sy * (0.5 - r / (rows - 1)) for c in range(columns)] for r in range(rows)
    ]
    flat = [v for row in values for v in row]
    line = min(flat) + level * (max(flat) - min(flat))
    return "/".join("".join("B" if v >= line else "D" for v in row) for row in values)


@settings(max_examples=25, deadline=None)
@given(planes)
def test_a_mirrored_map_gives_the_mirrored_answer(plane):
    text = plane_map(*plane)
    one = correct(setting(text))
    other = correct(setting("/".join(row[::-1] for row in text.split("/"))))
    turned = correct(setting("/".join(reversed(text.split("/")))))
    assert other.turn.degrees == pytest.approx(-one.turn.degrees, abs=2e-4)
    assert other.angle.degrees == pytest.approx(one.angle.degrees, abs=2e-4)
    assert turned.turn.degrees == pytest.approx(one.turn.degrees, abs=2e-4)
    assert turned.angle.degrees == pytest.approx(-one.angle.degrees, abs=2e-4)


def test_every_clear_slope_of_nine_marks_is_followed():
    """All 512 maps of nine known marks: an axis that differs by two marks or more is never zero nor against."""
    for letters in itertools.islice(itertools.product("BD", repeat=9), 0, 512, 3):
        text = "/".join("".join(letters[k : k + 3]) for k in (0, 3, 6))
        rows = text.split("/")
        across = sum(r[0] == "D" for r in rows) - sum(r[2] == "D" for r in rows)
        along = rows[2].count("D") - rows[0].count("D")
        answer = correct(setting(text))
        for marks, moved in ((across, answer.turn.degrees), (along, answer.angle.degrees)):
            if abs(marks) >= 2:
                assert moved * marks > 0, text


def test_teeth_divisions_and_degrees_are_three_numbers():
    profile = MachineProfile(
        gear=96, numbers_run="clockwise", fine_mark="degrees", fine_mark_size=0.05, knob="reversed"
    )
    answer = correct(setting("BBD/BBD/BBD"), profile=profile)
    out = answer.as_json()["turn"]
    assert out["teeth"] == pytest.approx(out["degrees"] / 3.75, abs=1e-4)
    assert out["divisions"] == pytest.approx(out["degrees"] / 0.05, abs=0.01)
    said = " ".join(sentences(answer))
    assert "turn the fine-index knob clockwise" in said, "the knob of this machine turns the stone the other way"
    # numbers printed clockwise rise as the stone turns counter-clockwise
    assert answer.reading()["index"] > 30


def test_both_readings_are_told_without_a_profile():
    said = " ".join(sentences(correct(setting("BBD/BBD/BBD"))))
    assert "if your numbers fall" in said
    assert "if they rise" in said


def test_index_zero_and_the_gear_number_are_one_setting():
    profile = MachineProfile(gear=96, numbers_run="clockwise")
    trial = Trial(0.3, 0.0, "BBB/BBB/BBB")
    assert correct(setting(trial, index=0.08), profile=profile).reading()["index"] == 96
    assert correct(setting(trial, index=0.0), profile=profile).reading()["index"] == pytest.approx(95.92)


def test_amounts_grow_with_the_damage_and_shrink_with_the_facet():
    small = correct(setting("BBD/BBD/BBD", size_mm=(3, 3)), damage_um=(1, 2)).turn.degrees
    large = correct(setting("BBD/BBD/BBD", size_mm=(12, 12)), damage_um=(1, 2)).turn.degrees
    deep = correct(setting("BBD/BBD/BBD", size_mm=(12, 12)), damage_um=(10, 20)).turn.degrees
    assert abs(small) > 2 * abs(large)
    assert abs(deep) > 4 * abs(large)


def test_two_lines_give_the_size_of_the_slope():
    """Ink gone to 6 mm from the left, bright to 3 mm, damage 2 um: the slope is 2 um in 3 mm, 0.0382 degrees."""
    ink = Trial(0, 0, "RRRRRRNNN/RRRRRRNNN/RRRRRRNNN", ink=True)
    polish = Trial(0, 0, "BBBDDDDDD/BBBDDDDDD/BBBDDDDDD")
    alone = correct(setting(polish, size_mm=(9, 9)), damage_um=(2, 2))
    both = correct(setting(ink, polish, size_mm=(9, 9)), damage_um=(2, 2))
    assert abs(both.slope_across.degrees) == pytest.approx(0.0382, rel=0.25)

    def width(a):
        return a.slope_across.high - a.slope_across.low

    assert width(both) < 0.6 * width(alone)


def test_trials_bracket_the_zero():
    first, second = Trial(0, 0, "BBD/BBD/BBD"), Trial(-0.4, 0, "DBB/DBB/DBB", fresh=True)
    answer = correct(setting(first, second))
    assert -0.4 < answer.next_turn < 0
    assert answer.turn.degrees == pytest.approx(answer.next_turn + 0.4, abs=1e-6)


def test_dull_all_over_after_a_nudge_goes_back():
    """A nudge that went far too far leaves the facet dull; the first map still tells the way."""
    answer = correct(setting(Trial(0, 0, "BBD/BBD/BBD"), Trial(-0.9, 0, "DDD/DDD/DDD", fresh=True)))
    assert answer.turn.degrees > 0
    assert -0.9 < answer.next_turn < 0
    assert "no-slope" not in ids(answer)
    assert "went too far" in sentences(answer)[0]


def test_bright_before_proves_nothing_later():
    """Bright by two settings is not one plane; on fresh ink or at the same setting it is."""
    first = Trial(0, 0, "BBD/BBD/BBD")
    two = correct(setting(first, Trial(-0.1, 0, "BBB/BBB/BBB")))
    assert not two.done
    assert "two-planes" in ids(two)
    assert two.turn.degrees == two.angle.degrees == 0
    assert correct(setting(first, Trial(-0.1, 0, "BBB/BBB/BBB", fresh=True))).done
    assert correct(setting(first, Trial(0, 0, "BBB/BBB/BBB"))).done


def test_a_flat_facet_is_done():
    for trial in (Trial(0, 0, "BBB/BBB/BBB"), Trial(0, 0, "RRR/RRR/RRR", ink=True)):
        answer = correct(setting(trial))
        assert answer.done
        assert answer.as_json()["turn"]["sense"] == "none"
        assert "Flat enough" in " ".join(sentences(answer))


@pytest.mark.parametrize(
    ("text", "contact", "centre", "caution"),
    [
        ("DDD/DDD/DDD", "even", None, "no-slope"),
        ("BBB/BDB/BBB", "patchy", "centre", "not-contact"),
        ("DDD/DBD/DDD", "patchy", "edges", "not-contact"),
        ("BDB/DBD/BDB", "patchy", "edges", "not-contact"),
    ],
)
def test_no_slope_is_not_contact(text, contact, centre, caution):
    answer = correct(setting(text))
    assert answer.turn.degrees == answer.angle.degrees == 0
    assert caution in ids(answer)
    assert "no slope to correct" in " ".join(sentences(answer))
    found = findings(setting(text))
    assert found["contact"] == contact
    assert found.get("contact_centre") == centre
    assert "contact_slope" not in found


@pytest.mark.parametrize(
    ("trial", "caution"),
    [
        (Trial(0, 0, "??D/??D/??D"), "unmarked"),
        (Trial(0, 0, "NNN/N?N/NNN", ink=True), "unmarked"),
        (Trial(0, 0, "DDD/DDD/DDD"), "no-slope"),
        (Trial(0, 0, "DD./DDD/DDD"), "no-slope"),
        (Trial(0, 0, "NNN/NNN/NNN", ink=True), "no-slope"),
    ],
)
def test_dull_all_over_is_said_only_when_all_is_marked(trial, caution):
    """Common practice, no source: what nobody looked at is neither bright nor dull."""
    answer = correct(setting(trial))
    assert {"unmarked", "no-slope"} & set(ids(answer)) == {caution}
    assert answer.turn.degrees == answer.angle.degrees == 0
    said = " ".join(sentences(answer))
    assert ("all over" in said) == (caution == "no-slope")
    assert ("Mark the rest before anything is turned." in said) == (caution == "unmarked")
    if caution == "unmarked":
        assert "mark the rest first" in " ".join(c.text for c in answer.cautions)


@pytest.mark.parametrize(
    ("text", "slope"), [("BBD/BBD/BBD", "side-to-side"), ("BBB/BBB/DDD", "tip-to-dop"), ("BBD/BDD/DDD", "both")]
)
def test_findings_for_the_rules(text, slope):
    found = findings(setting(text))
    assert found == {"contact": "sloped", "contact_slope": slope, "correction_size": "fine"}
    assert findings(FacetSetting()) == {}
    assert findings(setting("???/???/???")) == {}


@pytest.mark.parametrize("ink", [True, False])
@pytest.mark.parametrize("text", ["??N./??../??..", "?.../N.../....", "..N/.../...", "R../.../..N"])
def test_stone_at_one_edge_of_the_map_alone_gives_an_answer(text, ink):
    text = text if ink else text.replace("N", "D").replace("R", "B")
    answer = correct(setting(Trial(0, 0, text, ink=ink)))
    assert all(math.isfinite(n) for n in (answer.turn.degrees, answer.angle.degrees))


def test_findings_use_the_declared_slots():
    from lapwise.engine.slots import SLOTS

    for text in ("BBD/BBD/BBD", "BBB/BDB/BBB", "BBB/BBB/BBB", "BBD/BDD/DDD"):
        for slot, value in findings(setting(text)).items():
            assert value in SLOTS[slot].values


def test_large_corrections_are_no_fine_corrections():
    answer = correct(setting("BDD/BDD/BDD", size_mm=(2, 2)), damage_um=(40, 60))
    assert abs(answer.turn.degrees) > 1
    assert "large-correction" in ids(answer)
    assert findings(setting(Trial(1.5, 0, "BDD/BDD/BDD")))["correction_size"] == "large"
    # half a tooth of a fine gear is less than a degree
    fine = correct(setting("BDD/BDD/BDD", gear=1000, size_mm=(5, 5)), damage_um=(2, 10))
    assert 0.18 < abs(fine.turn.degrees) < 1
    assert "large-correction" in ids(fine)


def test_past_level_and_below_upright():
    assert "past-level" in ids(correct(setting("BBB/BBB/DDD", part="girdle", angle=90)))
    low = correct(setting("DDD/BBB/BBB", part="table", angle=0, adapter="none"))
    assert "below-upright" in ids(low)


def test_a_table_needs_words_of_its_own():
    queried = correct(setting("BBD/BBD/BBD", part="table", angle=5, adapter="45"))
    assert "quill-angle" in ids(queried)
    assert queried.frame.tilt_per_turn == pytest.approx(0.7071, abs=1e-4), "45 is used instead"
    said = " ".join(sentences(correct(setting("BBB/BBB/DDD", part="table", angle=45))))
    assert "near edge must go down: raise the angle" in said


def test_unknowns_are_allowed_and_told():
    answer = correct(FacetSetting(trials=(Trial(0, 0, "BBD/BBD/BBD"),)))
    assert answer.as_json()["turn"]["sense"] == "counterclockwise"
    assert ids(answer) >= {"size-unknown", "angle-unknown", "prior-unknown"}
    assert answer.as_json()["turn"]["teeth"] is None
    with pytest.raises(NothingFound):
        correct(FacetSetting())
    with pytest.raises(BadInput):
        correct(setting("BB/BB"))
    with pytest.raises(BadInput):
        correct(setting("BBD/BBD/BBD"), damage_um=(3.0, 1.0))


def test_the_meets_move_by_the_published_amount():
    """0.1 degrees over 2.5 mm is 4.4 um, over 5 mm 8.7 um (arithmetic of the tangent)."""
    import math

    answer = correct(setting("BBB/BBB/DDD", size_mm=(5, 10)), damage_um=(1, 4))
    assert answer.edge_um[1] == pytest.approx(1000 * math.tan(math.radians(answer.angle.degrees)) * 5)
    assert 1000 * math.tan(math.radians(0.1)) * 5 == pytest.approx(8.7, abs=0.05)
    assert 1000 * math.tan(math.radians(0.1)) * 2.5 == pytest.approx(4.4, abs=0.05)


def test_a_triangle_is_read_with_its_empty_corners():
    answer = correct(setting("..B../.BBB./DDDDD"))
    assert answer.as_json()["angle"]["sense"] == "raise"
    assert answer.as_json()["turn"]["sense"] == "none"


def test_contradicting_maps_are_named():
    answer = correct(
        setting(
            Trial(0, 0, "BBD/BBD/BBD"),
            Trial(-0.4, 0, "BBD/BBD/BBD", fresh=True),
            Trial(0.4, 0, "DBB/DBB/DBB", fresh=True),
            Trial(0.4, 0, "BBD/BBD/BBD", fresh=True),
        )
    )
    assert "maps-disagree" in ids(answer)


def test_a_dial_that_reads_zero_level_is_answered_in_its_numbers():
    profile = MachineProfile(angle_zero="level", angle_resolution=5.0, rest="platform", numbers_run="clockwise")
    answer = correct(setting("BBB/BBB/DDD"), profile=profile)
    assert answer.reading()["angle"] == pytest.approx(90 - 42 - answer.angle.degrees, abs=1e-3)
    assert ids(answer) >= {"below-resolution", "height-moves-angle"}


maps = st.tuples(st.integers(3, 5), st.integers(3, 5), st.booleans()).flatmap(
    lambda shape: st.tuples(
        st.lists(
            st.text("RN?." if shape[2] else "BD?.", min_size=shape[0], max_size=shape[0]),
            min_size=shape[1],
            max_size=shape[1],
        ).map("/".join),
        st.just(shape[2]),
    )
)
any_trial = st.builds(
    lambda m, turn, angle, fresh: Trial(turn, angle, m[0], ink=m[1], fresh=fresh),
    maps.filter(lambda m: set(m[0]) - {".", "/"}),
    st.floats(-3, 3),
    st.floats(-3, 3),
    st.booleans(),
)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(any_trial, min_size=1, max_size=3),
    st.sampled_from([None, "table", "crown", "girdle", "pavilion"]),
    st.none() | st.floats(0, 90),
    st.sampled_from([None, "45", "none"]),
)
def test_any_facet_gives_an_answer(trials, part, angle, adapter):
    """No map breaks it; the numbers are finite, and what is advised leads from the last trial to ``next``."""
    facet = setting(*trials, part=part, angle=angle, adapter=adapter)
    answer = correct(facet, damage_um=(0.6, 5.0))
    out = json.loads(json.dumps(answer.as_json(), allow_nan=False))
    sign = {"clockwise": 1, "counterclockwise": -1, "none": 0, "raise": 1, "lower": -1}
    turned = out["next"]["turn"] - trials[-1].turn
    assert turned == pytest.approx(sign[out["turn"]["sense"]] * out["turn"]["degrees"], abs=1e-3)
    raised = out["next"]["angle"] - trials[-1].angle
    assert raised == pytest.approx(sign[out["angle"]["sense"]] * out["angle"]["degrees"], abs=1e-3)
    assert sentences(answer)
    assert findings(facet) is not None


def test_a_map_of_which_only_the_dull_part_is_marked_says_nothing_to_the_rules():
    marked = FacetSetting(part="pavilion", trials=(Trial(0.0, 0.0, "??D/??D/??D"),))
    assert findings(marked) == {}, "the rest may be bright"
    whole = FacetSetting(part="pavilion", trials=(Trial(0.0, 0.0, "BBD/BBD/BBD"),))
    assert findings(whole)["contact"] == "sloped"


@pytest.mark.parametrize(
    ("text", "turns", "tilts"),
    [
        ("DDB/???/???", True, False),
        ("D??/D??/B??", False, True),
        ("DDB/???/BBB", True, True),
        ("DB?/D??/???", False, False),
    ],
)
def test_an_axis_with_nothing_marked_at_one_end_is_left_alone(text, turns, tilts):
    """Which way an end leans that nobody looked at would be guessed: the next marks can say the opposite."""
    answer = correct(FacetSetting(part="pavilion", angle=42.0, index=30.0, gear=96, trials=(Trial(0.0, 0.0, text),)))
    assert bool(answer.turn.degrees) == turns
    assert bool(answer.angle.degrees) == tilts
    assert ("end-unmarked" in ids(answer)) == (not (turns and tilts))
    if not tilts:
        assert not any("end lies" in said or "end must" in said for said in sentences(answer))


@pytest.mark.parametrize(("mark", "near_enough"), [(0.05, False), (30.0, True)])
def test_less_than_a_knob_can_be_set_to_is_near_enough(mark, near_enough):
    """Nobody sets a knob to a twentieth of a mark (common practice, no source)."""
    profile = MachineProfile(
        gear=96, numbers_run="clockwise", fine_mark="degrees", fine_mark_size=mark, knob="with-stone"
    )
    said = " ".join(sentences(correct(setting("BBD/BBD/BBD"), profile=profile)))
    assert ("near enough" in said) is near_enough
    assert ("turn the fine-index knob" in said) is not near_enough
