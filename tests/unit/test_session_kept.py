"""Kept answers of a running session: whatever they rest on changes, they are worked out anew, and nothing is told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from tests.unit import shipped

from lapwise.engine.case import Case
from lapwise.engine.diagnosis import Session
from lapwise.engine.folders import folders
from lapwise.engine.machine import MachineProfile
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.store import Record

CASE = Case("quartz", "acrylic-lap", "cerium-oxide", symptoms=("fine-scratches",))


@pytest.fixture
def record(tmp_path: Path) -> Record:
    return Record.open(folders(tmp_path))


def test_an_own_lap_changed_while_the_session_runs_reaches_the_advice(record: Record) -> None:
    lap = record.add_lap(OwnLap("Clear one", "acrylic-lap", carries=("cerium-oxide",)))
    case = replace(CASE, own_lap=lap)
    session = Session(shipped.knowledge(), record=record)
    before = session.quick(case)
    assert session.prepare(case) is session.prepare(case)
    record.change_lap(lap, carries=("diamond-1200", "cerium-oxide"))
    after = session.quick(case)
    assert after == Session(shipped.knowledge(), record=record).quick(case)
    assert [(c.id, c.probability) for c in after.causes] != [(c.id, c.probability) for c in before.causes]


def test_rows_of_a_second_process_reach_the_advice(record: Record) -> None:
    """The record does not exist yet when the session begins; then another process begins it, then adds to it."""
    session = Session(shipped.knowledge(), record=record)
    before = session.quick(CASE)
    remedy = before.plan[-1].remedy
    for _ in range(2):
        with Record.open(record.folders) as other:
            for _ in range(6):
                other.log_outcome(CASE, remedy, "fixed", minutes=3, knowledge_digest="k")
        now = session.quick(CASE)
        assert now == Session(shipped.knowledge(), record=record).quick(CASE)
        assert now != before
        before = now


def test_another_machine_reaches_the_advice() -> None:
    session = Session(shipped.knowledge())
    kept = session.prepare(CASE)
    session.profile = MachineProfile(gear=64)
    assert session.prepare(CASE) is not kept


def test_what_is_worked_out_while_the_record_is_written_to_is_not_kept(
    record: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = Session(shipped.knowledge(), record=record)
    record.log_outcome(CASE, "clean-lap", "no-change", minutes=3, knowledge_digest="k")
    plain = session._prepare

    def slow(case: Case, rules: object) -> object:
        found = plain(case, rules)
        with Record.open(record.folders) as other:
            other.log_outcome(CASE, "clean-lap", "fixed", minutes=3, knowledge_digest="k")
        return found

    monkeypatch.setattr(session, "_prepare", slow)
    old = session.prepare(CASE)
    monkeypatch.undo()
    assert session.prepare(CASE) is not old
    assert session.quick(replace(CASE)) == Session(shipped.knowledge(), record=record).quick(CASE)
