"""Export and import: JSON Lines, a union by id. The same files in any order give the same record."""

from __future__ import annotations

import io
import os
import stat
import time
from collections.abc import Callable, Iterable, Iterator
from typing import IO, BinaryIO

from lapwise.engine.errors import BadInput, Damaged, Issue
from lapwise.engine.record.intake import ROW_NAMES, Intake, outside
from lapwise.engine.record.model import COLUMNS, Counts
from lapwise.engine.record.rows import ANY_TIME, FORMAT, HEADER, LONGEST_LINE, Refused, dump, parse_line, read_row
from lapwise.engine.record.store import Record
from lapwise.engine.record.work import EVERY, READING, Progress


def export_lines(record: Record, left_out: list[str] | None = None, progress: Progress | None = None) -> Iterator[str]:
    """The whole record as lines of JSON, the header first, then rows by id. The same record gives the same bytes.

    A row whose content is damaged is left out and named in ``left_out``; without that it raises :class:`Damaged`.
    """
    yield dump(HEADER)
    done, every = 0, sum(record.counts().values()) if progress else 0
    with record.reading() as connection:
        for table in ("lap_rows", "cases", "steps"):
            names = ", ".join(COLUMNS[table])
            for row in connection.execute(f"SELECT {names} FROM {table} ORDER BY id"):
                done += 1
                if progress and done % EVERY == 0:
                    progress(done, done / max(every, done))
                try:
                    line = dump(outside(table, row))
                    line.encode()
                except ValueError:
                    what = f"{ROW_NAMES[table]} row {_plain(row[0])}: its content is damaged"
                    if left_out is None:
                        advice = "`lapwise record check --repair` brings all that can be read into a new file"
                        raise Damaged(Issue(f"{what}; {advice}", str(record.path))) from None
                    left_out.append(what)
                else:
                    yield line


def write_lines(
    record: Record, target: BinaryIO, left_out: list[str] | None = None, progress: Progress | None = None
) -> int:
    """Write :func:`export_lines` as UTF-8; returns how many rows."""
    count = -1
    for line in export_lines(record, left_out, progress):
        target.write(line.encode() + b"\n")
        count += 1
    return count


def reading_from(raw: BinaryIO) -> tuple[IO[str], Callable[[], float] | None]:
    """The text of an export, for :func:`import_lines`: UTF-8 whatever the terminal; and how much of it was read by
    now, 0 to 1, where that can be known (not of a pipe)."""
    text = io.TextIOWrapper(raw, encoding="utf-8", errors="surrogateescape", newline="\n")
    try:
        found = os.fstat(raw.fileno())
        size = found.st_size if stat.S_ISREG(found.st_mode) else 0
    except OSError:  # what lies in memory has no number
        size = 0
    return text, (lambda: raw.tell() / size) if size else None


def _plain(text: object) -> str:
    return str(text).encode("ascii", "replace").decode()[:40]


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


def import_lines(
    record: Record,
    source: IO[str],
    *,
    progress: Progress | None = None,
    trial: bool = False,
    share: Callable[[], float] | None = None,
    mine: bool = False,
) -> Counts:
    """Take in rows from a file in the JSON Lines format, in one transaction: all good rows of it, or none.

    Bad rows are refused one by one, with the reason. ``trial``: only say what would happen. Raises
    :class:`BadInput` if the first line is not the header of a format that is known. ``share``: how much of ``source``
    has been read, 0 to 1, for ``progress``. ``mine``: the person's own record from another machine: its cases and laps
    are theirs here too. What others logged stays theirs.
    """
    lines = _lines(source)
    _check_header(next(lines, (0, None)))
    now_ms = time.time_ns() // 1_000_000
    return _run(record, lines, now_ms, progress, share, trial=trial, mine=mine)


def _run(
    record: Record,
    lines: Iterable[tuple[int, str | None]],
    now_ms: int,
    progress: Progress | None,
    share: Callable[[], float] | None,
    *,
    trial: bool = False,
    mine: bool = False,
) -> Counts:
    found: Counts | None = None
    try:
        with record.writing() as connection:
            work = Intake(connection, mine=mine)
            done = 0
            for done, (number, line) in enumerate(lines, 1):
                try:
                    if line is None:
                        raise Refused(f"longer than {LONGEST_LINE // 1024} thousand characters")
                    work.take(number, read_row(parse_line(line), now_ms))
                except Refused as reason:
                    work.refuse(number, str(reason))
                if progress and done % EVERY == 0:
                    progress(done, READING * share() if share else None)
            work.settle(progress, done)
            found = work.counts()
            if trial or not (found.added or mine):
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


def merge(record: Record, rows: Iterable[str], all_rows: int, *, progress: Progress | None = None) -> Counts:
    """Take in rows of a backup, ``all_rows`` of them, in one transaction. The clock is not doubted: they were ours."""

    def told(done: int, share: float | None) -> None:
        if progress:
            progress(done, share if share is not None else READING * done / max(all_rows, 1))

    return _run(record, enumerate(rows, 1), ANY_TIME, told, None)
