"""The record as a CSV for a spreadsheet: one row for each remedy, look and closing that still counts."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator
from typing import BinaryIO

from lapwise.engine.record import derived
from lapwise.engine.record.model import CaseRecord, Step
from lapwise.engine.record.store import Record
from lapwise.engine.record.work import EVERY, Progress

_CELLS: dict[str, Callable[[CaseRecord, Step], object]] = {
    "case": lambda found, step: found.id,
    "step": lambda found, step: step.id,
    "time_utc": lambda found, step: step.at,
    "material": lambda found, step: found.case.material,
    "lap": lambda found, step: found.case.lap,
    "compound": lambda found, step: found.case.compound,
    "stage": lambda found, step: found.case.stage,
    "symptoms": lambda found, step: "; ".join(found.case.symptoms),
    "facts": lambda found, step: "; ".join(f"{k}={v}" for k, v in sorted(found.case.facts.items())),
    "kind": lambda found, step: step.kind,
    "remedy": lambda found, step: step.remedy,
    "outcome": lambda found, step: step.outcome,
    "look": lambda found, step: step.look,
    "result": lambda found, step: step.result,
    "minutes": lambda found, step: None if step.minutes is None else f"{step.minutes:g}",
    "note": lambda found, step: step.note,
}
"""Each column of the table and what stands in it."""
COLUMNS = tuple(_CELLS)
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
                        yield tuple(cell(value(case, step)) for value in _CELLS.values())


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
