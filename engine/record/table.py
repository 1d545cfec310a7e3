"""The record as a CSV for a spreadsheet: one row for each remedy, look and closing that still counts."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from typing import BinaryIO

from lapwise.engine.record import derived
from lapwise.engine.record.model import CaseRecord, Step
from lapwise.engine.record.store import Record
from lapwise.engine.record.work import EVERY, Progress

COLUMNS = (
    "case",
    "step",
    "time_utc",
    "material",
    "lap",
    "compound",
    "stage",
    "symptoms",
    "facts",
    "kind",
    "remedy",
    "outcome",
    "look",
    "result",
    "minutes",
    "note",
)
_FORMULA = re.compile(r"""((?:\A|[;\t\r\n])[\s"']*)(?=[=+\-@\uff1d\uff0b\uff0d\uff20])""")
"""Where a formula would begin: at the start of a cell, or after what may be taken for the end of one."""


def cell(value: object) -> str:
    """A cell that a spreadsheet takes as text, whatever it takes for the end of a cell: where a formula would begin
    an apostrophe stands before it, and one that begins with a tab or a line end gets one too.

    Common practice against formula injection (OWASP, CSV Injection). Numbers of ours are never negative.
    """
    text = _FORMULA.sub(r"\1'", "" if value is None else str(value))
    return "'" + text if text.startswith(("\t", "\r", "\n")) else text


def rows(record: Record) -> Iterator[tuple[str, ...]]:
    """The rows in order of time, each of :data:`COLUMNS`."""
    with record.reading() as connection:
        for (case_id,) in connection.execute("SELECT case_id FROM case_now WHERE withdrawn = 0 ORDER BY case_id"):
            case = derived.load_case(connection, case_id)
            if case is not None:
                for step in case.steps:
                    if not step.withdrawn and step.kind in ("try", "look", "close"):
                        yield _row(case, step)


def _row(found: CaseRecord, step: Step) -> tuple[str, ...]:
    case = found.case
    facts = "; ".join(f"{k}={v}" for k, v in sorted(case.facts.items()))
    minutes = "" if step.minutes is None else f"{step.minutes:g}"
    values = (
        found.id,
        step.id,
        step.at,
        case.material,
        case.lap,
        case.compound,
        case.stage,
        "; ".join(case.symptoms),
        facts,
        step.kind,
        step.remedy,
        step.outcome,
        step.look,
        step.result,
        minutes,
        step.note,
    )
    return tuple(cell(v) for v in values)


def write_csv(record: Record, target: BinaryIO, progress: Progress | None = None) -> int:
    """Write the table with its heading, as UTF-8; returns the number of rows."""
    text = io.TextIOWrapper(target, encoding="utf-8", newline="")
    steps = record.counts()["steps"] if progress else 0
    count = 0
    try:
        writer = csv.writer(text)
        writer.writerow(COLUMNS)
        for row in rows(record):
            writer.writerow(row)
            count += 1
            if progress and count % EVERY == 0:
                progress(count, count / max(steps, count))
    finally:
        text.detach()
    return count
