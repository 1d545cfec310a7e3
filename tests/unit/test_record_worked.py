"""What worked, as it is told: only minutes that were taken, only what worked as having worked, by own lap."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from tests.unit.record_kit import case, knowledge, where

from lapwise.engine.learning.card import card, text
from lapwise.engine.learning.works import record_lines, what_works
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.store import Record


@pytest.fixture
def record(tmp_path: Path):  # type: ignore[no-untyped-def]
    with Record.open(where(tmp_path)) as found:
        yield found


def log(record: Record, outcome: str, minutes: float | None, *, own_lap: str | None = None) -> str:
    stated = replace(case(), own_lap=own_lap)
    step = record.log_outcome(stated, "clean-lap", outcome, minutes=minutes, knowledge_digest="k")  # type: ignore[arg-type]
    return record.case_of(step).id


def test_what_was_not_timed_has_no_minutes_and_counts_in_no_mean(record: Record) -> None:
    untimed, timed = log(record, "fixed", None), log(record, "fixed", 6.0)
    assert record.case(untimed).minutes is None
    assert record.case(timed).minutes == 6.0
    assert record.case(untimed).cure == "clean-lap"
    assert what_works(record, knowledge()).remedies[0].minutes == 6.0
    taken_back = log(record, "fixed", 90.0)
    record.undo_last(taken_back)
    assert what_works(record, knowledge()).remedies[0].minutes == 6.0
    assert record.case(taken_back).cure is None


def test_what_never_worked_is_said_so_and_not_as_none_of_one(record: Record) -> None:
    log(record, "no-change", None)
    name = case().material
    assert name is not None
    card_text = text(card(record, knowledge(), name))
    assert "tried once, has not fixed it yet" in card_text
    assert "0 of 1" not in card_text
    assert any("tried once, has not fixed it yet" in line for line in record_lines(record, knowledge(), name))
    log(record, "fixed", None)
    assert "worked 1 of 2 times" in text(card(record, knowledge(), name))


def test_of_an_own_lap_only_what_ended_on_it(record: Record) -> None:
    tin, board = (record.add_lap(OwnLap(name, "tin-lap")) for name in ("Tin", "Board"))
    log(record, "fixed", 4.0, own_lap=tin)
    log(record, "fixed", 4.0, own_lap=tin)
    log(record, "no-change", 9.0, own_lap=board)
    log(record, "fixed", 30.0)
    every, on_tin, on_board = (what_works(record, knowledge(), own_lap=lap) for lap in (None, tin, board))
    assert [w.cases for w in (every, on_tin, on_board)] == [4, 2, 1]
    assert [(w.remedies[0].worked, w.remedies[0].trials, w.remedies[0].minutes) for w in (on_tin, on_board)] == [
        (2, 2, 4.0),
        (0, 1, 9.0),
    ]
    assert len(record.cases(own_lap=tin)) == 2
    assert record.cases(case().material, own_lap=board)[0].case.own_lap == board
    assert not record.cases("emerald", own_lap=board)
    # what is worked out for one lap is worked out as for all of them
    with Record.open(where(Path(record.path).parent / "other")) as other:
        log(other, "fixed", 4.0)
        log(other, "fixed", 4.0)
        assert what_works(other, knowledge()).as_json() == on_tin.as_json()
