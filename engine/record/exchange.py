"""Export and import: JSON Lines, a union by id. The same files in any order give the same record."""

from __future__ import annotations

import json
import sqlite3
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from types import MappingProxyType
from typing import IO, Any

from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.record import derived
from lapwise.engine.record.credit import difference
from lapwise.engine.record.model import Counts
from lapwise.engine.record.rows import FORMAT, HEADER, LONGEST_LINE, Refused, Row, dump, parse_line, read_row
from lapwise.engine.record.store import Record

Progress = Callable[[int], None]
"""Called now and then with the number of rows done."""
EXAMPLES = 20
EVERY = 1000
_COLUMNS = {
    "cases": ("id", "at", "facts", "knowledge", "version"),
    "steps": (
        "id",
        "case_id",
        "at",
        "kind",
        "remedy",
        "outcome",
        "look",
        "result",
        "minutes",
        "note",
        "shown",
        "facts",
        "withdraws",
        "knowledge",
        "version",
    ),
    "lap_rows": ("id", "lap_id", "at", "kind", "body"),
}
_ROW_NAMES = {"cases": "case", "steps": "step", "lap_rows": "lap"}
_INSERT = {
    table: f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))}) "
    "ON CONFLICT (id) DO NOTHING"
    for table, columns in _COLUMNS.items()
}


def export_lines(record: Record) -> Iterator[str]:
    """The whole record as lines of JSON, the header first, then rows by id. The same record gives the same bytes."""
    yield dump(HEADER)
    with record.reading() as connection:
        for table in ("lap_rows", "cases", "steps"):
            names = ", ".join(_COLUMNS[table])
            for row in connection.execute(f"SELECT {names} FROM {table} ORDER BY id"):
                yield dump(_outside(table, row))


def _outside(table: str, row: tuple[Any, ...]) -> dict[str, Any]:
    out: dict[str, Any] = {"row": _ROW_NAMES[table]}
    for column, value in zip(_COLUMNS[table], row, strict=True):
        if value is None or (column == "note" and not value):
            continue
        if column in ("facts", "shown", "body"):
            out["case" if column == "facts" else column] = json.loads(value)
        else:
            out[column] = value
    return out


class _Import:
    """The work of one import within one transaction."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self.added: Counter[str] = Counter()
        self.reasons: Counter[str] = Counter()
        self.examples: list[str] = []
        self.known = self.cleaned = self.refused = 0
        self.first_step = 0
        self.limit = derived.forgotten_up_to(connection)
        self.newest = ""
        """The case of the row before, whose key is there and which is noted as touched."""
        connection.execute("CREATE TEMP TABLE IF NOT EXISTS touched (case_id TEXT PRIMARY KEY) WITHOUT ROWID")
        connection.execute("DELETE FROM touched")

    def refuse(self, number: int, reason: str) -> None:
        self.refused += 1
        self.reasons[reason] += 1
        if len(self.examples) < EXAMPLES:
            self.examples.append(f"line {number}: {reason}")

    def take(self, number: int, row: Row) -> None:
        """Add a row, or find that it is known; one of another content under a known id is refused."""
        table, columns = row.table, _COLUMNS[row.table]
        values = tuple(row.columns[c] for c in columns)
        case_id = row.columns["id"] if table == "cases" else row.columns.get("case_id")
        if case_id is not None and case_id != self.newest:
            self.connection.execute("INSERT OR IGNORE INTO case_keys VALUES (?)", (case_id,))
        if self.connection.execute(_INSERT[table], values).rowcount:
            self.added[_ROW_NAMES[table]] += 1
            if case_id is not None and case_id != self.newest:
                self.connection.execute("INSERT OR IGNORE INTO touched VALUES (?)", (case_id,))
                self.newest = case_id
        else:
            kept = self.connection.execute(
                f"SELECT {', '.join(columns)} FROM {table} WHERE id = ?", (row.columns["id"],)
            ).fetchone()
            if tuple(kept) != values:
                self.refuse(number, "a row of this id with other content is in the record already")
                return
            self.known += 1
        if row.cleaned:
            self.cleaned += 1
            if len(self.examples) < EXAMPLES:
                self.examples.append(f"line {number}: cleaned (control characters, or too long)")

    def settle(self, progress: Progress | None, done: int) -> None:
        """Bring the derived tables up to date for every case that got a row."""
        tally = derived.Tally(self.connection)
        last = ""
        while True:
            rows = self.connection.execute(
                "SELECT case_id FROM touched WHERE case_id > ? ORDER BY case_id LIMIT 500", (last,)
            ).fetchall()
            if not rows:
                break
            for (case_id,) in rows:
                now = derived.load_case(self.connection, case_id)
                if now is not None:
                    before = self._before(case_id)
                    tally.stands(now)
                    tally.add(difference(derived.counted(self.connection, now, self.limit), before))
            last = rows[-1][0]
            if progress:
                progress(done)
        tally.flush()
        self.connection.execute("DELETE FROM touched")

    def _before(self, case_id: str) -> Mapping[Any, tuple[int, int]]:
        """What the case counted for before this import: nothing if its opening row is new, else from its old rows."""
        if self.connection.execute("SELECT 1 FROM case_now WHERE case_id = ?", (case_id,)).fetchone() is None:
            return {}
        earlier = derived.load_case(self.connection, case_id, steps_up_to=self.first_step)
        return derived.counted(self.connection, earlier, self.limit)

    def counts(self) -> Counts:
        """The report."""
        reasons = tuple(sorted(self.reasons.items(), key=lambda item: (-item[1], item[0])))
        return Counts(
            MappingProxyType(dict(sorted(self.added.items()))),
            self.known,
            self.cleaned,
            self.refused,
            reasons,
            tuple(self.examples),
        )


class _Undone(Exception):
    """Raised to take a trial run back."""


def _lines(source: IO[str]) -> Iterator[tuple[int, str | None]]:
    """(number, line), None for one that is too long; never holds more than one line of bounded length."""
    number = 0
    while line := source.readline(LONGEST_LINE + 1):
        number += 1
        if len(line) > LONGEST_LINE and not line.endswith("\n"):
            while (rest := source.readline(LONGEST_LINE)) and not rest.endswith("\n"):
                pass
            yield number, None
        elif line.strip():
            yield number, line


def import_lines(record: Record, source: IO[str], *, progress: Progress | None = None, trial: bool = False) -> Counts:
    """Take in rows from a file in the JSON Lines format, in one transaction: all good rows of it, or none.

    Bad rows are refused one by one, with the reason. ``trial``: only say what would happen. Raises
    :class:`BadInput` if the first line is not the header of a format that is known.
    """
    lines = _lines(source)
    _check_header(next(lines, (0, None)))
    now_ms = time.time_ns() // 1_000_000
    return _run(record, ((n, line, now_ms) for n, line in lines), progress, trial)


def _run(
    record: Record, lines: Iterable[tuple[int, str | None, int]], progress: Progress | None, trial: bool
) -> Counts:
    found: Counts | None = None
    try:
        with record.writing() as connection:
            work = _Import(connection)
            work.first_step = connection.execute("SELECT ifnull(max(seq), 0) FROM steps").fetchone()[0]
            done = 0
            for done, (number, line, now_ms) in enumerate(lines, 1):
                try:
                    if line is None:
                        raise Refused(f"longer than {LONGEST_LINE // 1024} thousand characters")
                    work.take(number, read_row(parse_line(line), now_ms))
                except Refused as reason:
                    work.refuse(number, str(reason))
                if progress and done % EVERY == 0:
                    progress(done)
            work.settle(progress, done)
            found = work.counts()
            if trial or not found.added:
                raise _Undone
    except _Undone:
        pass
    assert found is not None
    return found


def _check_header(first: tuple[int, str | None]) -> None:
    what = f"the first line is not the header of a record (format {FORMAT})"
    if first[1] is None:
        raise BadInput(Issue(what, "line 1", "nothing" if first[0] == 0 else "a very long line"))
    try:
        data = parse_line(first[1].removeprefix("\ufeff"))
    except Refused as reason:
        raise BadInput(Issue(what, "line 1", str(reason))) from None
    if not isinstance(data, dict) or data.get("row") != "header" or data.get("what") != HEADER["what"]:
        raise BadInput(Issue(what, "line 1", first[1].strip()[:60]))
    if data.get("format") != FORMAT:
        raise BadInput(
            Issue("this file is of another format version", "line 1", str(data.get("format"))[:20], (str(FORMAT),))
        )


def merge(record: Record, rows: Iterable[str], *, progress: Progress | None = None) -> Counts:
    """Take in rows that are lines of JSON already (a backup), without a header, in one transaction."""
    now_ms = time.time_ns() // 1_000_000
    return _run(record, ((n, line, now_ms) for n, line in enumerate(rows, 1)), progress, False)
