"""What can be read of a damaged record is brought into a whole one; what is lost is counted."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lapwise.engine.flat import flat
from lapwise.engine.record import derived
from lapwise.engine.record.ids import is_id, milliseconds, next_id, now_text, time_text
from lapwise.engine.record.intake import Intake, outside
from lapwise.engine.record.model import COLUMNS
from lapwise.engine.record.pages import Pages, Values
from lapwise.engine.record.rows import ANY_TIME, Refused, Row, read_row
from lapwise.engine.record.work import EVERY, READING, Progress


@dataclass(frozen=True, slots=True)
class Salvage:
    """What a damaged file gave. ``lost``: rows that its indexes name and that cannot be read any more, logged between
    ``first`` and ``last`` (UTC). Rows of which nothing is left at all cannot be counted."""

    cases: int = 0
    steps: int = 0
    lap_rows: int = 0
    lost: int = 0
    first: str | None = None
    last: str | None = None

    @property
    def rows(self) -> int:
        """How many rows could be read."""
        return self.cases + self.steps + self.lap_rows

    def as_json(self) -> dict[str, Any]:
        """A flat JSON form."""
        return flat(self, first="lost_from", last="lost_to")

    def __str__(self) -> str:
        could = f"{self.cases} cases, {self.steps} steps and {self.lap_rows} rows of laps can be read"
        if not self.lost:
            return f"{could}; no row is known to be lost"
        return f"{could}; {self.lost} rows are lost (logged between {self.first:.16} and {self.last:.16} UTC)"


def _row_of(values: Values) -> tuple[str, tuple[Any, ...]] | None:
    """(table, its columns) if a record of a table leaf has the shape of a row."""
    if len(values) == len(COLUMNS["steps"]) + 1:
        return "steps", values[1:]
    if len(values) == len(COLUMNS["cases"]) + 1:
        return ("lap_rows" if is_id(values[2]) else "cases"), values[1:]
    return None


def _checked(table: str, columns: tuple[Any, ...]) -> Row | None:
    try:
        return read_row(outside(table, columns), ANY_TIME)
    except (Refused, ValueError, TypeError, RecursionError):
        return None


class _Found:
    """Goes through a damaged file once; notes which ids it names."""

    def __init__(self, path: Path, progress: Progress | None) -> None:
        self.path, self.progress = path, progress
        self.read: dict[str, set[str]] = {table: set() for table in COLUMNS}
        self.named: set[str] = set()
        """Ids that stand in an index of ids: of cases, steps, lap rows and marks."""
        self.marks: dict[str, str] = {}
        self.own: set[str] = set()

    def rows(self) -> Iterator[Row]:
        """Every row that can be read and has its form, each id once, in the order of the pages."""
        done = 0
        pages = Pages(self.path)
        size = max(pages.length, 1)
        for number, in_table, values in pages.records():
            if not in_table:
                self._name(values)
            elif len(values) == 5 and values[0] is None and values[3] in ("forget", "remember"):
                self.marks[str(values[1])] = str(values[3])
            elif (found := _row_of(values)) is not None:
                row = _checked(*found)
                if row is None:
                    if is_id(found[1][0]):
                        self.named.add(str(found[1][0]))
                elif row.columns["id"] not in self.read[row.table]:
                    self.read[row.table].add(row.columns["id"])
                    yield row
                    done += 1
                    if self.progress and done % EVERY == 0:
                        self.progress(done, READING * min(number * pages.size / size, 1.0))

    def _name(self, values: Values) -> None:
        if len(values) == 2 and is_id(values[0]):
            if isinstance(values[1], int):
                self.named.add(str(values[0]))
            elif values[1] == "own":
                self.own.add(str(values[0]))
        elif len(values) == 3 and is_id(values[0]) and is_id(values[1]) and isinstance(values[2], int):
            self.named.add(str(values[1]))

    def result(self) -> Salvage:
        got = set().union(*self.read.values())
        lost = sorted(self.named - got - set(self.marks))
        first, last = (time_text(milliseconds(lost[n])) if lost else None for n in (0, -1))
        cases, steps, laps = (len(self.read[table]) for table in COLUMNS)
        return Salvage(cases, steps, laps, len(lost), first, last)


def look(path: Path, progress: Progress | None = None) -> Salvage:
    """What could be read of a damaged file, and what not; changes nothing. Raises ``OSError``."""
    found = _Found(path, progress)
    for _ in found.rows():
        pass
    return found.result()


def readable_ids(path: Path) -> set[str]:
    """The ids of all rows that can be read of a damaged file. Raises ``OSError``."""
    found = _Found(path, None)
    return {row.columns["id"] for row in found.rows()}


def bring_over(connection: sqlite3.Connection, path: Path, progress: Progress | None = None) -> tuple[Salvage, Intake]:
    """Add every row that can be read of a damaged file, within a transaction. Raises ``OSError``, ``sqlite3.Error``.

    If which cases were the person's own cannot be read, all are taken to be. That learning was told to start afresh
    is kept: what is here then teaches nothing.
    """
    found = _Found(path, progress)
    work = Intake(connection)
    done = 0
    for done, row in enumerate(found.rows(), 1):
        work.take(done, row)
    own = found.own or found.read["cases"] | found.read["lap_rows"]
    for thing in own:
        derived.put_here(connection, thing)
    work.settle(progress, done)
    if found.marks and found.marks[max(found.marks)] == "forget":
        up_to = connection.execute("SELECT ifnull(max(seq), 0) FROM cases").fetchone()[0]
        mark = next_id(milliseconds(max(found.marks)), max(found.marks))
        connection.execute(
            "INSERT INTO marks (id, at, kind, up_to) VALUES (?, ?, 'forget', ?)", (mark, now_text(), up_to)
        )
        for _ in derived.rebuild(connection):
            pass
    return found.result(), work
