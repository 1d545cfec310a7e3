"""Learning: soft counts, pooling from far to near, three views, forgetting, speed that does not grow, cards."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.record_kit import case, knowledge, shown, where

from lapwise.engine.errors import BadInput
from lapwise.engine.learning import card as cards
from lapwise.engine.learning import fix_chances, pooling
from lapwise.engine.learning.pooling import GroupCounts
from lapwise.engine.learning.tryout import something_new
from lapwise.engine.learning.works import answer_lines, record_lines, what_works
from lapwise.engine.record import care
from lapwise.engine.record.credit import UNIT, counts_of
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.store import Record

KNOWN = knowledge()


def cured(record, material="aquamarine", remedy="clean-lap", outcome="fixed", times=1, sure=1.0, **more):
    """Log cases whose cause is all but known: stray grit with certainty ``sure``."""
    for _ in range(times):
        record.log_outcome(
            case(material=material, **more),
            remedy,
            outcome,
            minutes=5,
            knowledge_digest="k",
            shown=shown(sure, 0.3, 0.85),
        )


def grit(learned):
    return learned.chance("clean-lap", "stray-grit")


def test_with_nothing_logged_the_shipped_judgement_stands(tmp_path):
    with Record.open(where(tmp_path)) as record:
        learned = fix_chances(record, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide")
        assert learned.fix("clean-lap", "stray-grit") is None
        assert learned.cause_factors() == {}
        found = grit(learned)
        assert found.yours is None
        assert found.together.mean == found.shipped.mean == 0.3
        assert learned.as_json()["cases"] == 0


def test_three_views_after_some_trials(tmp_path):
    with Record.open(where(tmp_path)) as record:
        cured(record, times=8)
        cured(record, outcome="no-change", times=2)
        found = grit(fix_chances(record, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide"))
    assert found.shipped.mean == 0.3
    assert found.yours is not None
    assert found.yours.trials == pytest.approx(10)
    assert found.yours.mean == pytest.approx(0.8)
    assert 0.3 < found.together.mean < 0.8
    assert found.together.low < found.together.mean < found.together.high
    assert found.yours.low < 0.8 < found.yours.high


def test_the_chance_goes_to_the_truth_with_many_trials(tmp_path):
    with Record.open(where(tmp_path)) as record:
        cured(record, times=90)
        cured(record, outcome="no-change", times=10)
        learned = fix_chances(record, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide")
        assert learned.fix("clean-lap", "stray-grit") == pytest.approx(0.9, abs=0.03)
        assert math.isclose(grit(learned).yours.trials, 100)


def test_credit_is_shared_by_what_is_believed_at_the_end(tmp_path):
    """Before: half and half. Cleaning the lap cures grit with .3, a loaded lap with .85: most credit goes there."""
    with Record.open(where(tmp_path)) as record:
        cured(record, sure=0.5)
        found = counts_of(record.last_case())
    to_grit = found["fix", "all", "*", "clean-lap", "stray-grit"]
    to_lap = found["fix", "all", "*", "clean-lap", "loaded-lap"]
    assert to_grit[0] / UNIT == pytest.approx(0.15 / (0.15 + 0.425), abs=1e-6)
    assert (to_grit[0] + to_lap[0]) / UNIT == pytest.approx(1.0, abs=1e-6)
    assert to_grit[0] == to_grit[1]


def test_an_earlier_failure_is_judged_by_what_cured_it_in_the_end(tmp_path):
    with Record.open(where(tmp_path)) as record:
        case_id = record.open_case(case())
        record.log_outcome(
            case(),
            "clean-lap",
            "no-change",
            minutes=1,
            knowledge_digest="k",
            case_id=case_id,
            shown=shown(0.5, 0.3, 0.85),
        )
        record.log_outcome(
            case(),
            "clean-everything",
            "fixed",
            minutes=1,
            knowledge_digest="k",
            case_id=case_id,
            shown=shown(0.8, 0.85, 0.0),
        )
        found = counts_of(record.case(case_id))
    # in the end it was grit for certain: the failure of cleaning the lap says nothing of loaded laps
    assert found["fix", "all", "*", "clean-lap", "stray-grit"] == (UNIT, 0)
    assert ("fix", "all", "*", "clean-lap", "loaded-lap") not in found


def test_near_groups_count_for_more_than_far_ones(tmp_path):
    with Record.open(where(tmp_path)) as record:
        cured(record, material="emerald", times=20)

        def chance(material):
            return fix_chances(record, KNOWN, material, "tin-lap", "aluminium-oxide").fix("clean-lap", "stray-grit")

        assert chance("emerald") > chance("aquamarine") > chance("topaz") > 0.3
        before = chance("aquamarine")
        cured(record, material="aquamarine", outcome="no-change", times=20)
        assert chance("aquamarine") < before
        assert chance("emerald") > chance("aquamarine")


def test_a_lap_of_ones_own_is_learned_beside_its_type(tmp_path):
    with Record.open(where(tmp_path)) as record:
        bad = record.add_lap(OwnLap("bad", "tin-lap"))
        cured(record, times=15)
        cured(record, outcome="no-change", times=15, own_lap=bad)
        whole = fix_chances(record, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide").fix("clean-lap", "stray-grit")
        own = fix_chances(record, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide", bad).fix("clean-lap", "stray-grit")
        assert own < whole


def test_a_cause_met_more_often_than_expected_is_taken_as_more_frequent(tmp_path):
    with Record.open(where(tmp_path)) as record:
        for _ in range(20):
            record.log_outcome(
                case(), "clean-everything", "fixed", minutes=1, knowledge_digest="k", shown=shown(0.3, 0.85, 0.02)
            )
        factors = fix_chances(record, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide").cause_factors()
        assert factors["stray-grit"] > 1.3
        assert factors["loaded-lap"] < 0.7
        far = fix_chances(record, KNOWN, "topaz", "zinc-lap", "diamond-50000").cause_factors()
        assert 1.0 < far["stray-grit"] < factors["stray-grit"]


def test_logging_only_one_symptom_does_not_make_its_causes_frequent(tmp_path):
    """What the symptoms said is expected as much as seen: without an outcome that tells, the factors stay at 1."""
    with Record.open(where(tmp_path)) as record:
        for _ in range(50):
            record.log_outcome(
                case(),
                "clean-lap",
                "no-change",
                minutes=1,
                knowledge_digest="k",
                shown={
                    "posterior": {"stray-grit": 0.9, "loaded-lap": 0.1},
                    "fix": {"stray-grit": 0.2, "loaded-lap": 0.2},
                },
            )
        factors = fix_chances(record, KNOWN).cause_factors()
    assert factors == pytest.approx({"stray-grit": 1.0, "loaded-lap": 1.0})


def test_undo_takes_what_was_learned_back_exactly(tmp_path):
    with Record.open(where(tmp_path)) as record:
        cured(record, times=3)

        def counts():
            with record.reading() as connection:
                return sorted(connection.execute("SELECT * FROM counts WHERE a <> 0 OR b <> 0"))

        before = counts()
        cured(record, sure=0.123)
        assert counts() != before
        record.undo_last(record.last_case().id)
        record.undo_last(record.last_case().id)
        assert counts() == before


def test_forget_takes_only_what_was_learned(tmp_path):
    with Record.open(where(tmp_path)) as record:
        cured(record, times=12)
        learned = fix_chances(record, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide").fix("clean-lap", "stray-grit")
        works = what_works(record, KNOWN, "beryl")
        assert care.forget(record) == 12
        fresh = fix_chances(record, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide")
        assert fresh.fix("clean-lap", "stray-grit") is None
        assert fresh.cause_factors() == {}
        assert record.pair_result([["aquamarine"]], "tin-lap", "aluminium-oxide") is None
        assert len(record.cases()) == 12
        assert what_works(record, KNOWN, "beryl") == works
        cured(record)
        after_one = fix_chances(record, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide")
        assert grit(after_one).yours.trials == pytest.approx(1.0)
        assert not care.check(record).faults
        care.remember(record)
        again = fix_chances(record, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide").fix("clean-lap", "stray-grit")
        assert again > learned


def test_a_case_of_before_the_forgetting_teaches_nothing_afterwards(tmp_path):
    with Record.open(where(tmp_path)) as record:
        case_id = record.open_case(case())
        care.forget(record)
        record.log_outcome(
            case(), "clean-lap", "fixed", minutes=1, knowledge_digest="k", case_id=case_id, shown=shown(1.0, 0.5, 0.5)
        )
        assert fix_chances(record, KNOWN).fix("clean-lap", "stray-grit") is None
        assert not care.check(record).faults


def test_what_is_kept_is_dropped_when_another_process_logs(tmp_path):
    with Record.open(where(tmp_path)) as record, Record.open(where(tmp_path)) as other:
        cured(record)
        first = fix_chances(record, KNOWN)
        assert fix_chances(record, KNOWN) is first
        cured(other)
        assert fix_chances(record, KNOWN) is not first


# --- pooling ---------------------------------------------------------------------------------------------------

groups = st.lists(st.tuples(st.floats(0, 100), st.floats(0, 1)), max_size=4).map(
    lambda items: sorted((GroupCounts(t, t * share) for t, share in items), key=lambda s: -s.trials)
)


@given(st.floats(0.02, 0.98), groups)
def test_a_pooled_chance_is_a_chance_and_stays_without_trials(shipped, found):
    pooled = pooling.chance(shipped, found)
    assert 0 < pooled.mean < 1
    assert pooled.size > 0
    if not any(s.trials for s in found):
        assert pooled.mean == pytest.approx(shipped)


@given(st.floats(0.05, 0.95), st.floats(0, 50), st.floats(0, 1), st.floats(0.1, 50))
def test_another_success_never_lowers_a_chance(shipped, trials, share, more):
    one = pooling.chance(shipped, [GroupCounts(trials, trials * share)])
    two = pooling.chance(shipped, [GroupCounts(trials + more, trials * share + more)])
    assert two.mean >= one.mean - 1e-12


@given(st.floats(0.01, 0.5), st.floats(0, 100), st.floats(0, 100))
def test_factors_are_within_bounds_and_one_when_seen_is_expected(share, seen, expected):
    assert pooling.FACTOR_LOW <= pooling.factor(share, [GroupCounts(expected, seen)]).mean <= pooling.FACTOR_HIGH
    assert pooling.factor(share, [GroupCounts(expected, expected)]).mean == pytest.approx(1.0)


# --- what a person reads ---------------------------------------------------------------------------------------


@pytest.fixture
def shop(tmp_path):
    with Record.open(where(tmp_path)) as record:
        cured(record, times=6)
        cured(record, outcome="no-change", times=2)
        cured(record, material="topaz", compound="cerium-oxide", times=1)
        yield record


def test_what_works_by_pair_and_by_remedy(shop):
    found = what_works(shop, KNOWN, "beryl")
    assert found.cases == 8
    assert [(w.name, w.worked, w.trials) for w in found.pairs] == [("tin-lap|aluminium-oxide", 6, 6)]
    assert [(w.name, w.worked, w.trials, w.minutes) for w in found.remedies] == [("clean-lap", 6, 8, 5.0)]
    assert found.remedies[0].estimate.low < 0.75 < found.remedies[0].estimate.high
    assert sum(found.minutes_by_cause.values()) == pytest.approx(40, abs=0.2)
    assert found.by_month[0][1:] == (6, 5.0)
    assert [(remedy, times) for _, remedy, times in found.cured] == [("clean-lap", 6)]
    assert what_works(shop, KNOWN).cases == 9


def test_record_lines_for_show(shop):
    assert any("6 of 8" in line for line in record_lines(shop, KNOWN, "beryl"))
    assert any(
        "shipped 30 %" in line and "yours" in line and "together" in line
        for line in record_lines(shop, KNOWN, "clean-lap")
    )
    assert record_lines(shop, KNOWN, "stray-grit")
    assert any("Tin lap with Cerium oxide" in line for line in record_lines(shop, KNOWN, "cerium-oxide"))
    assert record_lines(shop, KNOWN, "no-such-thing") == []


def test_what_stands_beside_an_answer(shop, tmp_path):
    told = fix_chances(shop, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide").as_json()
    lines = answer_lines(told, KNOWN)
    assert lines[0].startswith("8 cases of this stone")
    assert "worked on it 6 of 6 times" in lines[1]
    assert "30 % as shipped" in lines[2]
    assert answer_lines(None, KNOWN) == answer_lines(fix_chances(shop, KNOWN).as_json(), KNOWN) == []


def test_the_card(shop):
    shop.log_outcome(
        case(),
        "clean-lap",
        "fixed",
        minutes=1,
        knowledge_digest="k",
        note="<script>alert(1)</script> | **bold** [x](y)\n# title",
    )
    found = cards.card(shop, KNOWN, "beryl")
    text, markdown = cards.text(found), cards.markdown(found)
    assert "worked 7 of 9 times" in text
    assert "Tin lap with Aluminium oxide" in text
    assert "<script>" not in markdown
    assert "\n# title" not in markdown
    assert markdown.count("| Tin lap with Aluminium oxide | 7 | 7 |") == 1
    with pytest.raises(BadInput, match="beryl"):
        cards.card(shop, KNOWN, "berl")
    assert "Nothing logged yet" in cards.text(cards.card(shop, KNOWN, "emerald"))


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=60))
def test_no_note_becomes_markup_on_a_card(text):
    plain = cards.plain(text)
    assert "\n" not in plain
    assert "<" not in plain
    assert ">" not in plain
    for i, character in enumerate(plain):
        if character in "`*_[]|#":
            assert plain[i - 1] == "\\"


def test_something_new_gives_the_little_tried_their_turn(tmp_path):
    with Record.open(where(tmp_path)) as record:
        cured(record, outcome="no-change", times=30)
        learned = fix_chances(record, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide")
        posterior = {"stray-grit": 0.6, "loaded-lap": 0.4}
        minutes = {"clean-lap": 5.0, "clean-everything": 10.0}
        drawn = [something_new(learned, posterior, minutes, seed) for seed in range(60)]
    assert {d.remedy for d in drawn} == {"clean-lap", "clean-everything"}
    assert something_new(learned, posterior, minutes, 7) == drawn[7]
    assert something_new(learned, {"other": 1.0}, minutes, 1) is None


def test_a_chance_that_rules_had_lifted_is_not_learned_twice(tmp_path):
    """The base is .3, the rules of the case lift it to .6, and .6 of the trials succeed: nothing was wrong, so the
    learned chance (before such rules) stays at .3 instead of going to .6."""
    with Record.open(where(tmp_path)) as record:
        for n in range(50):
            record.log_outcome(
                case(),
                "clean-lap",
                "fixed" if n % 5 < 3 else "no-change",
                minutes=1,
                knowledge_digest="k",
                shown={"posterior": {"stray-grit": 1.0}, "fix": {"stray-grit": 0.6}, "base": {"stray-grit": 0.3}},
            )
        learned = fix_chances(record, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide")
        assert learned.fix("clean-lap", "stray-grit") == pytest.approx(0.3, abs=1e-6)
        assert grit(learned).yours.mean == pytest.approx(0.3, abs=1e-6)


def test_more_failures_than_were_expected_cannot_make_a_chance_negative(tmp_path):
    with Record.open(where(tmp_path)) as record:
        for _ in range(60):
            record.log_outcome(
                case(),
                "clean-lap",
                "no-change",
                minutes=1,
                knowledge_digest="k",
                shown={"posterior": {"stray-grit": 1.0}, "fix": {"stray-grit": 0.9}, "base": {"stray-grit": 0.3}},
            )
        learned = fix_chances(record, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide")
        assert 0 < learned.fix("clean-lap", "stray-grit") < 0.1
        assert grit(learned).yours.low >= 0


def test_a_ranking_reads_no_row_of_a_case(tmp_path):
    """Whatever is asked of the record for a ranking is a search by index, never a scan, and never of cases or steps."""
    with Record.open(where(tmp_path)) as record:
        lap = record.add_lap(OwnLap("mine", "tin-lap", carries=("aluminium-oxide",)))
        cured(record, times=3, own_lap=lap)
        record.clean_lap(lap, resurfaced=True)
        asked: list[str] = []
        with record.reading() as connection:
            connection.set_trace_callback(asked.append)
            fix_chances(record, KNOWN, "aquamarine", "tin-lap", "aluminium-oxide", lap)
            record.pair_result([["aquamarine"], ["beryl"]], "tin-lap", "aluminium-oxide")
            record.lap_state(lap, KNOWN)
            connection.set_trace_callback(None)
            queries = [sql for sql in asked if sql.startswith("SELECT")]
            plans = {
                sql: " / ".join(row[3] for row in connection.execute(f"EXPLAIN QUERY PLAN {sql}")) for sql in queries
            }
    assert len(queries) > 10
    for sql, plan in plans.items():
        if "lap_rows" not in sql:  # own laps are few
            assert "SCAN counts" not in plan, sql
            assert "SCAN case_now" not in plan, sql
            assert " steps" not in plan, sql
            assert " cases" not in plan, sql
