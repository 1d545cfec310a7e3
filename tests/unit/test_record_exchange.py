"""Export and import: union by id, any order, hostile files, bounded memory, nothing half-done; the CSV."""

from __future__ import annotations

import contextlib
import csv
import io
import itertools
import json
import random
import time
import tracemalloc
from dataclasses import fields, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.record_kit import case, shown, where

from lapwise.engine.case import Case, FacetSetting, Trial
from lapwise.engine.errors import BadInput
from lapwise.engine.record import ids, rows
from lapwise.engine.record.care import check
from lapwise.engine.record.exchange import export_lines, import_lines
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.store import Record
from lapwise.engine.record.table import COLUMNS, write_csv

HEADER = json.dumps(rows.HEADER)


def file_of(lines):
    return io.StringIO("".join(f"{line}\n" for line in lines))


def exported(record):
    return list(export_lines(record))


def fill(record, cases=4):
    lap = record.add_lap(OwnLap("mine", "tin-lap", carries=("aluminium-oxide",)))
    for n in range(cases):
        case_id = record.open_case(case(own_lap=lap if n % 2 else None))
        record.log_outcome(
            case(own_lap=lap if n % 2 else None),
            "clean-lap",
            "no-change",
            minutes=n,
            note=f"note {n}",
            shown=shown(0.3 + n / 20, 0.4, 0.8),
            knowledge_digest="k",
            case_id=case_id,
        )
        record.log_look(case_id, "loupe-check", "dotted")
        if n == 2:
            record.undo_last(case_id)
        if n == 3:
            record.close_case(case_id, "given-up", note="enough")


def counts(record):
    with record.reading() as connection:
        return sorted(connection.execute("SELECT * FROM counts WHERE a <> 0 OR b <> 0"))


def test_everything_a_case_can_hold_survives_the_record_and_the_exchange(tmp_path):
    """A field added to the case and forgotten in the record would make such a case impossible to log."""
    with Record.open(where(tmp_path / "a")) as first, Record.open(where(tmp_path / "b")) as second:
        lap = first.add_lap(OwnLap("mine", "tin-lap"))
        stated = Case(
            material="topaz",
            lap="tin-lap",
            compound="diamond-50000",
            stage="prepolish",
            symptoms=("haze",),
            facts={"wetness": "dry"},
            prior="diamond-3000",
            own_lap=lap,
            facet=FacetSetting(
                part="pavilion",
                angle=42.0,
                index=12.0,
                gear=96,
                size_mm=(4.0, 3.0),
                adapter="45",
                trials=(Trial(0.1, -0.2, "BBD/BBD/BBD", ink=True, fresh=True),),
            ),
            corrections=((12.0, 42.0, 0.1, None), (44.0, 42.0, None, -0.2)),
        )
        case_id = first.open_case(stated)
        first.log_look(case_id, "loupe-check", "dotted")
        first.log_outcome(stated, "clean-lap", "better", minutes=1, knowledge_digest="k", case_id=case_id)
        first.update_case(case_id, replace(stated, facts={"wetness": "wet"}))
        found = first.case(case_id).case
        for field in fields(Case):
            assert getattr(found, field.name) != getattr(Case(), field.name), f"{field.name} is not tried here"
        assert found == replace(stated, facts={"wetness": "wet"}, tried=found.tried, saw=found.saw, settled=1)
        import_lines(second, file_of(exported(first)))
        assert second.case(case_id).case == found


def test_export_and_import_give_the_same_record(tmp_path):
    with Record.open(where(tmp_path / "a")) as first, Record.open(where(tmp_path / "b")) as second:
        fill(first)
        lines = exported(first)
        found = import_lines(second, file_of(lines))
        assert (found.refused, found.cleaned, found.known) == (0, 0, 0)
        assert sum(found.added.values()) == len(lines) - 1
        assert exported(second) == lines
        assert counts(second) == counts(first)
        theirs = [replace(c, yours=True).as_json() for c in second.cases()]
        assert theirs == [c.as_json() for c in first.cases()]
        again = import_lines(second, file_of(lines))
        assert dict(again.added) == {}
        assert again.known == len(lines) - 1
        assert exported(second) == lines
        assert not check(second).faults


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 10**6), pieces=st.integers(1, 5))
def test_any_pieces_in_any_order_give_the_same_record(tmp_path_factory, seed, pieces):
    path = tmp_path_factory.mktemp("x")
    with Record.open(where(path / "a")) as a, Record.open(where(path / "b")) as b:
        fill(a, 3)
        fill(b, 2)
        body = exported(a)[1:] + exported(b)[1:]
    results = set()
    for order in (seed, seed + 1):
        dice = random.Random(order)
        shuffled = body[:]
        dice.shuffle(shuffled)
        cuts = sorted(dice.sample(range(len(body)), pieces - 1)) if pieces > 1 else []
        with Record.open(where(path / f"m{order}")) as merged:
            for low, high in itertools.pairwise([0, *cuts, len(body)]):
                import_lines(merged, file_of([HEADER, *shuffled[low:high]]))
            results.add(json.dumps([exported(merged), counts(merged)]))
            assert not check(merged).faults
            assert check(merged).stray_steps == 0
    assert len(results) == 1


def test_two_benches_that_learn_on_merge_to_one(tmp_path):
    with Record.open(where(tmp_path / "a")) as a, Record.open(where(tmp_path / "b")) as b:
        fill(a)
        import_lines(b, file_of(exported(a)))
        case_id = b.open_cases(of_all=True)[0].id
        b.log_outcome(
            case(),
            "clean-everything",
            "fixed",
            minutes=2,
            knowledge_digest="k",
            case_id=case_id,
            shown=shown(0.9, 0.9, 0.1),
        )
        import_lines(a, file_of(exported(b)))
        assert exported(a) == exported(b)
        assert counts(a) == counts(b)
        assert a.case(case_id).result == b.case(case_id).result


NOW = time.time_ns() // 1_000_000
AT = "2026-01-31T12:00:00.000Z"


def new_id(ms=NOW):
    return ids.next_id(ms, None)


def good_case(**changes):
    return {
        "row": "case",
        "id": new_id(),
        "at": AT,
        "case": {"material": "topaz", "stage": "polish"},
        "knowledge": "",
        "version": "",
        **changes,
    }


def good_step(case_id, **changes):
    return {
        "row": "step",
        "id": new_id(),
        "case_id": case_id,
        "at": AT,
        "kind": "try",
        "remedy": "clean-lap",
        "outcome": "fixed",
        "note": "",
        "knowledge": "",
        "version": "",
        **changes,
    }


CASE = new_id()
HOSTILE = {
    "not JSON": "{not json",
    "nested too deep": "[" * 100_000 + "]" * 100_000,
    "not an object": "[1, 2]",
    "row is none": json.dumps({"row": "spell"}),
    "unknown key": json.dumps(good_case(extra=1)),
    "is not a UUIDv7": json.dumps(good_case(id="017f22e2-79b0-4cc3-98c4-dc0c0c07398f")),
    "id lies in the future": json.dumps(good_case(id=new_id(NOW + 10**10))),
    "at lies in the future": json.dumps(good_case(at="2999-01-31T12:00:00.000Z")),
    "not a possible time": json.dumps(good_case(at="2026-02-31T12:00:00.000Z")),
    "not a time in UTC": json.dumps(good_case(at="yesterday")),
    "case is not an object": json.dumps(good_case(case=[])),
    "material is not an id": json.dumps(good_case(case={"material": "<script>", "stage": "polish"})),
    "symptoms is not a list": json.dumps(good_case(case={"symptoms": "haze"})),
    "corrections is not a list": json.dumps(good_case(case={"corrections": "all"})),
    "a correction is not four": json.dumps(good_case(case={"corrections": [[1, 2, 3]]})),
    "angle": json.dumps(good_case(case={"corrections": [[1, 400, 0, 0]]})),
    "a change": json.dumps(good_case(case={"corrections": [[1, 40, "0", 0]]})),
    "facts are not short": json.dumps(good_case(case={"facts": {"wetness": "x" * 1000}})),
    "gear is not": json.dumps(good_case(case={"facet": {"gear": True}})),
    "no facet map": json.dumps(good_case(case={"facet": {"trials": [{"turn": 0, "angle": 0, "map": "XYZ"}]}})),
    "minutes is not a number": json.dumps(good_step(CASE, minutes="5")),
    "minutes is not between": json.dumps(good_step(CASE, minutes=-1)),
    "is not a JSON number": json.dumps(good_step(CASE, minutes=0)).replace('"minutes": 0', '"minutes": NaN'),
    "outcome is none of": json.dumps(good_step(CASE, outcome="FIXED")),
    "remedy is not an id": json.dumps(good_step(CASE, remedy="=cmd|' /C calc'!A0")),
    "note is not text": json.dumps(good_step(CASE, note={"a": 1})),
    "sums to more than 1": json.dumps(good_step(CASE, shown={"posterior": {"a": 1.0, "b": 1.0}})),
    "shown.posterior is not between": json.dumps(good_step(CASE, shown={"posterior": {"a": -1}})),
    "in shown": json.dumps(good_step(CASE, shown={"html": "<b>"})),
    "longer than": json.dumps(good_step(CASE, note="x" * 300_000)),
}


@pytest.mark.parametrize("reason", HOSTILE)
def test_a_hostile_row_is_refused_with_its_reason_and_the_rest_is_kept(tmp_path, reason):
    with Record.open(where(tmp_path)) as record:
        lines = [HEADER, json.dumps(good_case(id=CASE)), HOSTILE[reason], json.dumps(good_step(CASE))]
        found = import_lines(record, file_of(lines))
        assert found.refused == 1, found
        assert reason in found.reasons[0][0]
        assert found.examples[0].startswith("line 3: ")
        assert dict(found.added) == {"case": 1, "step": 1}
        assert not check(record).faults


def test_a_huge_number_is_no_trouble(tmp_path):
    line = json.dumps(good_step(CASE, minutes=0)).replace('"minutes": 0', '"minutes": ' + "9" * 5000)
    with Record.open(where(tmp_path)) as record:
        assert import_lines(record, file_of([HEADER, line])).refused == 1


def test_what_a_person_wrote_is_cleaned_and_counted(tmp_path):
    dirty = good_step(CASE, note="\x1b]0;title\x07\x1b[2Jgone \u202egnihtyreve\x00 [red]x[/red] " + "y" * 20_000)
    with Record.open(where(tmp_path)) as record:
        lines = [HEADER, json.dumps(good_case(id=CASE)), json.dumps(dirty)]
        found = import_lines(record, file_of(lines))
        assert (found.cleaned, found.refused) == (1, 0)
        note = record.case(CASE).steps[0].note
        assert note.startswith("gone gnihtyreve [red]x[/red] yyy")
        assert len(note) == 10_000
        assert not any(ord(c) < 32 for c in note)
        again = import_lines(record, file_of(lines))
        assert (again.known, dict(again.added), again.refused) == (2, {}, 0)


def test_other_content_under_a_known_id_is_refused(tmp_path):
    step = good_step(CASE)
    with Record.open(where(tmp_path)) as record:
        lines = [HEADER, json.dumps(good_case(id=CASE)), json.dumps(step), json.dumps({**step, "outcome": "worse"})]
        found = import_lines(record, file_of(lines))
        assert found.refused == 1
        assert "other content" in found.reasons[0][0]
        assert record.case(CASE).steps[0].outcome == "fixed"


@pytest.mark.parametrize("first", ["", "{}", "not json", '{"row":"case"}', "[" * 50_000, "x" * 300_000], ids=range(6))
def test_a_file_that_is_no_record_is_refused_whole(tmp_path, first):
    with Record.open(where(tmp_path)) as record:
        with pytest.raises(BadInput, match="header"):
            import_lines(record, io.StringIO(first + "\n" + json.dumps(good_case()) + "\n"))
        assert record.empty()


def test_another_format_version_is_said(tmp_path):
    with Record.open(where(tmp_path)) as record, pytest.raises(BadInput, match="another format version"):
        import_lines(record, file_of([json.dumps({**rows.HEADER, "format": 99})]))


def test_nothing_half_done_when_an_import_breaks_off(tmp_path):
    class Breaks(io.StringIO):
        lines = 0

        def readline(self, *args):
            self.lines += 1
            if self.lines > 50:
                raise OSError("the stick was pulled out")
            return super().readline(*args)

    with Record.open(where(tmp_path)) as record:
        fill(record)
        before, learned = exported(record), counts(record)
        lines = [HEADER, *(json.dumps(good_case()) for _ in range(100))]
        with pytest.raises(OSError, match="pulled"):
            import_lines(record, Breaks("".join(f"{line}\n" for line in lines)))
        assert exported(record) == before
        assert counts(record) == learned


def test_a_trial_run_changes_nothing_and_says_the_same(tmp_path):
    with Record.open(where(tmp_path)) as record:
        lines = [HEADER, json.dumps(good_case(id=CASE)), json.dumps(good_step(CASE)), "junk"]
        tried = import_lines(record, file_of(lines), trial=True)
        assert record.empty()
        done = import_lines(record, file_of(lines))
        assert tried == done
        assert not record.empty()


class Endless(io.TextIOBase):
    """A file made as it is read: its rows are never in memory at once."""

    def __init__(self, rows_wanted):
        self.left = rows_wanted
        self.started = False

    def readline(self, limit=-1, /):
        if not self.started:
            self.started = True
            return HEADER + "\n"
        if self.left == 0:
            return ""
        self.left -= 1
        if self.left % 2:
            return json.dumps(good_case()) + "\n"
        return '{"row":"case","id":"' + "x" * 500 + '"}\n'


def test_an_import_holds_little_in_memory(tmp_path):
    """Peak of Python's own memory for 2,000 and for 8,000 rows: the same but for a little."""
    peaks = []
    for number in (2_000, 8_000):
        with Record.open(where(tmp_path / str(number))) as record:
            tracemalloc.start()
            found = import_lines(record, Endless(number))  # type: ignore[arg-type]
            peaks.append(tracemalloc.get_traced_memory()[1])
            tracemalloc.stop()
            assert found.refused == found.added["case"] == number // 2
    assert peaks[1] < peaks[0] + 1_500_000, peaks


def test_progress_is_told(tmp_path):
    seen = []
    with Record.open(where(tmp_path)) as record:
        import_lines(record, Endless(3_000), progress=lambda done, share: seen.append(done))  # type: ignore[arg-type]
    assert seen[:3] == [1000, 2000, 3000]


def test_the_csv_is_a_table_and_no_cell_is_a_formula(tmp_path):
    with Record.open(where(tmp_path)) as record:
        for note in ("=HYPERLINK(1)", "+1", "-2", "@SUM(A1)", 'quoted "x", and\nnew line', "plain", "\t=1"):
            record.log_outcome(case(), "clean-lap", "fixed", minutes=2.5, note=note, knowledge_digest="k")
        target = io.BytesIO()
        assert write_csv(record, target) == 7
    table = list(csv.DictReader(io.StringIO(target.getvalue().decode(), newline="")))
    assert tuple(table[0]) == COLUMNS
    assert not any(value[:1] in tuple("=+-@\t\r\n") for row in table for value in row.values() if value)
    assert table[0]["note"] == "'=HYPERLINK(1)"
    assert table[4]["note"] == 'quoted "x", and\nnew line'
    assert table[0]["minutes"] == "2.5"
    assert table[0]["symptoms"] == "haze"


@settings(max_examples=150, deadline=None)
@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
        lambda inner: (
            st.lists(inner, max_size=4)
            | st.dictionaries(
                st.sampled_from(
                    [
                        "row",
                        "id",
                        "case_id",
                        "at",
                        "kind",
                        "case",
                        "shown",
                        "body",
                        "minutes",
                        "note",
                        "facet",
                        "posterior",
                        "step",
                        "remedy",
                    ]
                ),
                inner,
                max_size=6,
            )
        ),
        max_leaves=12,
    )
)
def test_any_json_at_all_is_either_a_row_or_refused(data):
    with contextlib.suppress(rows.Refused):
        rows.read_row(data, NOW)


def test_the_help_page_of_the_format_names_all_that_is_read_and_written(tmp_path):
    from importlib.resources import files

    from lapwise.engine.record.model import LAP_KINDS, RESULTS, STEP_KINDS

    page = (files("lapwise.tui") / "help" / "record-format.md").read_text(encoding="utf-8")
    assert rows.dump(rows.HEADER) in page
    for word in (*STEP_KINDS, *LAP_KINDS, *RESULTS):
        assert word in page
    with Record.open(where(tmp_path)) as record:
        fill(record)
        for line in exported(record)[1:]:
            data = json.loads(line)
            for key in (*data, *data.get("shown", {}), *data.get("body", {}), *data.get("case", {})):
                assert key in page, key
