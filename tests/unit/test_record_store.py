"""The record: what is logged is there, how a case stands, undo, own laps, ids."""

from __future__ import annotations

import sqlite3
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit import shipped
from tests.unit.record_kit import case, knowledge, shown, where

from lapwise.engine.case import Case
from lapwise.engine.errors import BadInput, LapwiseError, NothingFound
from lapwise.engine.record import ids
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.store import Record


def test_reading_an_absent_record_creates_nothing(tmp_path):
    with Record.open(where(tmp_path)) as record:
        assert record.empty()
        assert record.cases() == record.open_cases() == record.laps() == []
        assert record.last_case() is None
        assert record.pair_result([["beryl"]], "tin-lap", "aluminium-oxide") is None
    assert not (tmp_path / "data").exists()


def test_an_outcome_is_there_for_another_reader_at_once(tmp_path):
    with Record.open(where(tmp_path)) as record, Record.open(where(tmp_path), readonly=True) as other:
        step = record.log_outcome(case(), "clean-lap", "no-change", minutes=4, note="dusty", knowledge_digest="k")
        found = other.last_case()
        assert found is not None
        assert found.steps[0].id == step
        assert found.case == replace(case(), tried=(("clean-lap", "no-change"),))
        assert found.open
        assert found.minutes == 4
        with pytest.raises(LapwiseError, match="reading only"):
            other.open_case(case())


def test_the_file_is_opened_to_be_durable(tmp_path):
    with Record.open(where(tmp_path)) as record:
        record.open_case(case())
        with record.reading() as connection:
            pragma = {
                p: connection.execute(f"PRAGMA {p}").fetchone()[0]
                for p in ("journal_mode", "synchronous", "foreign_keys")
            }
    assert pragma == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}


def test_a_case_in_steps_and_undo(tmp_path):
    with Record.open(where(tmp_path)) as record:
        case_id = record.open_case(case())
        record.log_look(case_id, "loupe-check", "dotted")
        record.log_outcome(case(), "clean-lap", "better", minutes=None, knowledge_digest="k", case_id=case_id)
        record.log_outcome(case(), "clean-lap", "fixed", minutes=3, knowledge_digest="k", case_id=case_id)
        assert record.case(case_id).result == "fixed"
        assert record.open_cases() == []
        rows = len(record.steps(case_id))
        record.undo_last(case_id)
        again = record.case(case_id)
        assert again.open
        assert again.case.tried == (("clean-lap", "better"),)
        assert len(again.steps) == rows + 1  # the row taken back is still there
        record.undo_last(case_id)
        record.undo_last(case_id)
        assert record.case(case_id).case.saw == ()
        record.undo_last(case_id)
        assert record.cases() == []
        assert record.case(case_id).withdrawn
        with pytest.raises(NothingFound):
            record.undo_last(case_id)


def test_changed_facts_are_a_row_and_settle_what_was_tried(tmp_path):
    with Record.open(where(tmp_path)) as record:
        case_id = record.open_case(case())
        record.log_outcome(case(), "clean-lap", "no-change", minutes=1, knowledge_digest="k", case_id=case_id)
        assert record.update_case(case_id, case()) is None
        assert record.update_case(case_id, case(compound="cerium-oxide")) is not None
        record.log_outcome(
            case(compound="cerium-oxide"), "clean-lap", "worse", minutes=1, knowledge_digest="k", case_id=case_id
        )
        found = record.case(case_id)
        assert [s.kind for s in found.steps] == ["try", "facts", "try"]
        assert found.case.compound == "cerium-oxide"
        assert found.case.settled == 1
        assert len(found.case.tried) == 2


def test_nothing_is_ever_updated_or_deleted_in_the_rows(tmp_path):
    """Every row written stays as it was, whatever follows."""
    with Record.open(where(tmp_path)) as record:
        case_id = record.open_case(case())
        lap = record.add_lap(OwnLap("mine", "tin-lap"))

        def rows():
            with record.reading() as connection:
                return [set(connection.execute(f"SELECT * FROM {t}")) for t in ("cases", "steps", "lap_rows")]

        before = rows()
        for act in (
            lambda: record.log_outcome(case(), "clean-lap", "fixed", minutes=1, knowledge_digest="k", case_id=case_id),
            lambda: record.undo_last(case_id),
            lambda: record.close_case(case_id, "given-up"),
            lambda: record.change_lap(lap, wear="worn"),
            lambda: record.clean_lap(lap),
            lambda: record.remove_lap(lap),
        ):
            act()
            now = rows()
            assert all(a <= b for a, b in zip(before, now, strict=True))
            before = now


def test_bad_input_is_refused_and_leaves_nothing(tmp_path):
    with Record.open(where(tmp_path)) as record:
        with pytest.raises(BadInput, match="no-change"):
            record.log_outcome(case(), "clean-lap", "no_change", minutes=1, knowledge_digest="k")  # type: ignore[arg-type]
        for minutes in (-1, float("nan"), float("inf"), 1e9):
            with pytest.raises(BadInput):
                record.log_outcome(case(), "clean-lap", "fixed", minutes=minutes, knowledge_digest="k")
        with pytest.raises(BadInput):
            record.log_outcome(case(), "Not An Id", "fixed", minutes=1, knowledge_digest="k")
        with pytest.raises(NothingFound):
            record.close_case("01a21338-6329-7df4-a7e6-1c2e5c87c931")
        assert record.empty()


def test_a_note_keeps_its_words_and_loses_its_escapes(tmp_path):
    with Record.open(where(tmp_path)) as record:
        record.log_outcome(
            case(),
            "clean-lap",
            "fixed",
            minutes=1,
            knowledge_digest="k",
            note="\x1b[31mred\x1b[0m [b]bold[/b]\x07 \u202eabc é 💎\r\nline",
        )
        found = record.last_case()
    assert found is not None
    assert found.steps[0].note == "red [b]bold[/b] abc é 💎\nline"


def test_find_by_the_end_of_an_id(tmp_path):
    with Record.open(where(tmp_path)) as record:
        made = [record.open_case(case()) for _ in range(3)]
        assert record.find_case(made[1][-8:]).id == made[1]
        with pytest.raises(NothingFound):
            record.find_case("zzzz")
        with pytest.raises(NothingFound):
            record.find_case("%" * 6)


def test_pair_result_by_the_nearest_group(tmp_path):
    pair = ("tin-lap", "aluminium-oxide")
    with Record.open(where(tmp_path)) as record:
        for material, result in (("beryl", "given-up"), ("aquamarine", "polished")):
            record.close_case(record.open_case(case(material=material)), result)
        assert record.pair_result([["emerald"], ["beryl"]], *pair) == "failed"
        assert record.pair_result([["aquamarine"], ["beryl"]], *pair) == "worked"
        assert record.pair_result([["emerald"], ["beryl", "aquamarine", "emerald"]], *pair) == "mixed", "pooled"
        record.close_case(record.open_case(case(material="beryl")), "polished")
        assert record.pair_result([["beryl"]], *pair) == "mixed"
        assert record.pair_result([["topaz"]], *pair) is None
        # cured by going to another pair: the old one failed, the new one worked
        record.log_outcome(
            case(material="topaz"),
            "clean-lap",
            "fixed",
            minutes=1,
            knowledge_digest="k",
            shown=shown(0.5, 0.5, 0.5, to={"lap": "zinc-lap", "compound": "diamond-50000"}),
        )
        assert record.pair_result([["topaz"]], *pair) == "failed"
        assert record.pair_result([["topaz"]], "zinc-lap", "diamond-50000") == "worked"


def test_own_laps(tmp_path):
    known = knowledge()
    with Record.open(where(tmp_path)) as record:
        lap = record.add_lap(OwnLap("Fine tin", "tin-lap", diameter_mm=200, carries=("aluminium-oxide",)))
        assert record.lap("fine tin").id == lap
        assert record.lap(lap[-6:]).name == "Fine tin"
        assert record.lap_state(lap, known) == "clean"
        with pytest.raises(BadInput, match="already"):
            record.add_lap(OwnLap("FINE TIN", "zinc-lap"))
        with pytest.raises(BadInput, match="mm"):
            record.add_lap(OwnLap("other", "zinc-lap", diameter_mm=-5))
        with pytest.raises(NothingFound, match="Fine tin"):
            record.lap("fine tn")
        for _ in range(8):
            record.open_case(case(own_lap=lap))
        assert record.lap_state(lap, known) == "due-for-cleaning"
        assert any("since it was last cleaned" in w for w in record.lap_warnings(lap, known))
        record.clean_lap(lap)
        assert record.lap_state(lap, known) == "clean"
        record.open_case(case(own_lap=lap, compound="diamond-3000"))
        assert record.lap_state(lap, known) == "carried-coarser"
        assert record.lap_state(lap) == "carried-coarser"
        record.clean_lap(lap)
        assert record.lap_state(lap, known) == "carried-coarser"  # washing does not take diamond out of a lap's face
        assert any("fresh face" in w for w in record.lap_warnings(lap, known))
        named = known.compounds["diamond-3000"].label
        assert record.lap_warnings(lap, known)[0].startswith(
            f"It has had {named[:1].lower()}{named[1:]} on it as well as "
        )
        record.clean_lap(lap, resurfaced=True)
        assert record.lap_state(lap, known) == "clean"
        assert {(u.compound, u.cases) for u in record.lap_uses(lap)} == {("aluminium-oxide", 8), ("diamond-3000", 1)}
        both = record.add_lap(OwnLap("Board", "phenolic-lap", carries=("aluminium-oxide", "diamond-8000")))
        (warning,) = record.lap_warnings(both, known)
        assert warning.lower().count("diamond") == 1, "each is named once"
        plate = record.add_lap(OwnLap("Plate", "ceramic-lap", carries=("diamond-60000", "diamond-3000")))
        assert "bare ceramic" in record.lap_warnings(plate, shipped.knowledge())[0]
        for done in (plate, both, lap):
            record.remove_lap(done)
        assert record.laps() == []
        assert all(gone.removed for gone in record.laps(removed=True))


def test_an_oxide_lap_that_was_charged_with_diamond_before(tmp_path):
    with Record.open(where(tmp_path)) as record:
        lap = record.add_lap(OwnLap("board", "acrylic-lap", carries=("diamond-3000",)))
        record.change_lap(lap, carries=("cerium-oxide",))
        assert record.lap_state(lap, knowledge()) == "carried-coarser"


# --- ids -------------------------------------------------------------------------------------------------------


@given(st.lists(st.integers(0, 2**47), min_size=1, max_size=60))
def test_ids_rise_whatever_the_clock_does(clock):
    last = None
    for now in clock:
        new = ids.next_id(now, last)
        assert ids.is_id(new)
        assert last is None or new > last
        last = new


def test_an_id_holds_its_time_as_rfc_9562_lays_it_out():
    # RFC 9562, appendix A.6 (from memory): 017F22E2-79B0-7CC3-98C4-DC0C0C07398F is 2022-02-22T19:22:22.00Z
    assert ids.milliseconds("017f22e2-79b0-7cc3-98c4-dc0c0c07398f") == 1645557742000
    assert ids.is_id("017f22e2-79b0-7cc3-98c4-dc0c0c07398f")
    assert not ids.is_id("017f22e2-79b0-4cc3-98c4-dc0c0c07398f")
    assert ids.milliseconds(ids.next_id(1645557742000, None)) == 1645557742000


def test_a_clock_set_back_by_years_still_logs_in_order(tmp_path, monkeypatch):
    with Record.open(where(tmp_path)) as record:
        first = record.open_case(case())
        monkeypatch.setattr("time.time_ns", lambda: 10**9)
        second = record.open_case(case())
        step = record.log_outcome(case(), "clean-lap", "fixed", minutes=1, knowledge_digest="k", case_id=second)
        assert first < second < step
        assert record.last_case().id == second


# --- the form of what is kept --------------------------------------------------------------------------------


@settings(max_examples=25, deadline=None)
@given(
    note=st.text(max_size=80),
    minutes=st.none() | st.floats(0, 1000),
    posterior=st.dictionaries(st.sampled_from(["a", "b", "c"]), st.floats(0, 0.3), max_size=3),
    symptoms=st.lists(st.sampled_from(["haze", "pits"]), max_size=2, unique=True),
)
def test_whatever_is_logged_reads_back(tmp_path_factory, note, minutes, posterior, symptoms):
    path = tmp_path_factory.mktemp("r")
    stated = case(symptoms=tuple(symptoms))
    with Record.open(where(path)) as record:
        record.log_outcome(
            stated,
            "clean-lap",
            "no-change",
            minutes=minutes,
            note=note,
            shown={"posterior": posterior},
            knowledge_digest="k",
        )
        found = record.last_case()
        assert found.case.symptoms == stated.symptoms
        assert found.steps[0].minutes == minutes
        assert found.steps[0].shown == {"posterior": posterior}


def test_constraints_hold_in_the_database_itself(tmp_path):
    with Record.open(where(tmp_path)) as record:
        case_id = record.open_case(case())
        with record.reading() as connection:
            for sql in (
                f"UPDATE case_now SET open = 2 WHERE case_id = '{case_id}'",
                "INSERT INTO cases (id, at, facts, knowledge, version) VALUES "
                f"('{'x' * 36}', '{'t' * 24}', '{{}}', '', '')",
                f"INSERT INTO steps (id, case_id, at, kind, knowledge, version) VALUES "
                f"('{'y' * 36}', '{case_id}', '{'t' * 24}', 'try', '', '')",
                f"UPDATE cases SET facts = 'not json' WHERE id = '{case_id}'",
            ):
                with pytest.raises(sqlite3.IntegrityError):
                    connection.execute(sql)


def test_an_empty_case_is_allowed(tmp_path):
    with Record.open(where(tmp_path)) as record:
        record.open_case(Case())
        assert record.last_case().case == Case()


class Failing:
    """A connection whose writes fail from the ``left``-th on."""

    def __init__(self, connection, left):
        self._connection, self.left = connection, left

    def __getattr__(self, name):
        return getattr(self._connection, name)

    def _count(self, statement):
        if statement.split()[0] in ("INSERT", "UPDATE", "DELETE", "COMMIT", "REPLACE", "WITH"):
            self.left -= 1
            if self.left < 0:
                raise sqlite3.OperationalError("the disk refused")

    def execute(self, statement, *given):
        self._count(statement)
        return self._connection.execute(statement, *given)

    def executemany(self, statement, *given):
        self._count(statement)
        return self._connection.executemany(statement, *given)


CHANGES = {
    "undo": lambda record, case_id, step, facts: record.undo(case_id, step, facts, knowledge_digest="k"),
    "amend": lambda record, case_id, step, facts: record.amend(
        case_id, step, minutes=9, note="wet rag", knowledge_digest="k"
    ),
}


@pytest.mark.parametrize("name", CHANGES)
def test_a_failure_between_any_two_writes_changes_nothing(tmp_path, name):
    """Before, taking back and writing anew were transactions of their own: the second failed, the first stood."""
    with Record.open(where(tmp_path)) as record:
        case_id = record.open_case(case())
        step = record.log_outcome(
            case(),
            "clean-lap",
            "no-change",
            minutes=3,
            shown=shown(0.5, 0.3, 0.8),
            knowledge_digest="k",
            case_id=case_id,
        )
        record.update_case(case_id, case(facts={"wetness": "dry"}))
        with Record.open(where(tmp_path), readonly=True) as other:

            def everything(of):
                with of.reading() as connection:
                    return [list(connection.execute(f"SELECT * FROM {t}")) for t in ("steps", "case_now", "counts")]

            before = everything(other)
            failed = 0
            while True:
                real = record._connection
                record._connection = Failing(real, failed)
                try:
                    CHANGES[name](record, case_id, step, case(facts={"wetness": "damp"}))
                except LapwiseError:
                    failed += 1
                    assert everything(other) == before, f"write {failed} failed: all of it is taken back"
                else:
                    break
                finally:
                    record._connection = real
            assert failed >= 4
            assert everything(other) != before


def test_a_try_amended_keeps_its_place_and_what_was_stated_after_it(tmp_path):
    with Record.open(where(tmp_path)) as record:
        case_id = record.open_case(case())
        told = shown(0.5, 0.3, 0.8)
        step = record.log_outcome(
            case(), "clean-lap", "no-change", minutes=3, shown=told, knowledge_digest="k", case_id=case_id
        )
        record.update_case(case_id, case(facts={"wetness": "dry"}))
        before = record.case(case_id)
        new = record.amend(case_id, step, minutes=9, note="wet rag", knowledge_digest="k")
        after = record.case(case_id)
        assert after.case == before.case, "it may be tried again now as before"
        assert after.minutes == 9
        kept = next(s for s in after.steps if s.id == new)
        assert (kept.remedy, kept.outcome, kept.note, kept.shown) == ("clean-lap", "no-change", "wet rag", told)
        with pytest.raises(NothingFound):
            record.amend(case_id, step, minutes=1, note="", knowledge_digest="k")
        look = record.log_look(case_id, "loupe-check", "dotted", minutes=2)
        record.amend(case_id, look, minutes=4, note="", knowledge_digest="k")
        assert record.case(case_id).case.saw == (("loupe-check", "dotted"),)


def test_one_step_is_taken_back_and_what_was_stated_since_stands(tmp_path):
    with Record.open(where(tmp_path)) as record:
        case_id = record.open_case(case())
        step = record.log_outcome(case(), "clean-lap", "fixed", minutes=3, knowledge_digest="k", case_id=case_id)
        record.undo(case_id, step, case(facts={"wetness": "dry"}), knowledge_digest="k")
        found = record.case(case_id)
        assert found.open
        assert found.case == case(facts={"wetness": "dry"})
        with pytest.raises(NothingFound):
            record.undo(case_id, step)
