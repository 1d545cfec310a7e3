"""Looking after the record: check it through, back it up, bring a backup back, let learning start afresh."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path

from lapwise.engine.errors import BadInput, Damaged, Issue, LapwiseError, NothingFound
from lapwise.engine.folders import Folders
from lapwise.engine.machine import profile_path
from lapwise.engine.record import derived, schema
from lapwise.engine.record.backup import back_up, is_good
from lapwise.engine.record.database import empty, schema_version
from lapwise.engine.record.exchange import Progress, export_lines, merge
from lapwise.engine.record.ids import now_text
from lapwise.engine.record.model import Counts
from lapwise.engine.record.store import Record, backup_folder


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check found. ``faults``: sentences, empty if all is well. ``rebuilt``: derived tables were put right."""

    cases: int
    steps: int
    lap_rows: int
    faults: tuple[str, ...]
    stray_steps: int
    """Steps whose case has not arrived yet (part of an import): kept, but not counted."""
    rebuilt: bool = False


def check(record: Record, *, repair: bool = False) -> Checked:
    """Read the whole record: SQLite's integrity check, keys, every row's form, and the tables worked out from rows.

    ``repair``: work the derived tables out again if they are wrong. Rows themselves are never changed.
    """
    faults: list[str] = []
    with record.reading() as connection:
        faults += [
            f"the file is damaged: {row[0]}"
            for row in connection.execute("PRAGMA integrity_check(20)")
            if row[0] != "ok"
        ]
        faults += [f"a row of {row[0]} points to nothing" for row in connection.execute("PRAGMA foreign_key_check")]
        if not faults:
            faults += _rows_in_form(connection)
        stray = connection.execute("SELECT count(*) FROM steps WHERE case_id NOT IN (SELECT id FROM cases)").fetchone()[
            0
        ]
    counts = record.counts()
    rebuilt = False
    if not faults and not _derived_right(record):
        if repair and record.writable:
            rebuild(record)
            rebuilt = True
        else:
            faults.append("what learning reads is out of step with the rows: `lapwise record check --repair` mends it")
    return Checked(counts["cases"], counts["steps"], counts["lap_rows"], tuple(faults), int(stray), rebuilt)


def _rows_in_form(connection: sqlite3.Connection) -> list[str]:
    faults = []
    for row in connection.execute("SELECT id FROM cases ORDER BY id"):
        try:
            derived.load_case(connection, row[0])
        except (ValueError, KeyError, TypeError) as error:
            faults.append(f"case {row[0]} cannot be read: {error}")
            if len(faults) >= 20:
                break
    return faults


def _derived_right(record: Record) -> bool:
    """Whether the derived tables are what the rows give: worked out afresh beside, in memory."""
    used = "SELECT * FROM counts WHERE a <> 0 OR b <> 0 ORDER BY kind, k1, k2, k3, k4"
    now = "SELECT * FROM case_now ORDER BY case_id"
    fresh = empty()
    try:
        fresh.execute("PRAGMA foreign_keys = OFF")
        with record.reading() as connection:
            connection.execute("BEGIN")  # one state of the record throughout, whatever another process logs meanwhile
            try:
                for _ in derived.rebuild(connection, fresh):
                    pass
                return all(
                    a == b for sql in (used, now) for a, b in zip_longest(connection.execute(sql), fresh.execute(sql))
                )
            finally:
                connection.execute("ROLLBACK")
    finally:
        fresh.close()


def rebuild(record: Record, progress: Callable[[int], None] | None = None) -> None:
    """Work the derived tables out again from the rows, in one transaction."""
    with record.writing() as connection:
        for done in derived.rebuild(connection):
            if progress and done % 1000 == 0:
                progress(done)


def make_backup(record: Record, to: Path | None = None) -> Path:
    """A checked copy of the record as of now, the machine profile beside it; returns its path. Never writes over a
    file."""
    if not record.path.exists():
        raise NothingFound(Issue("nothing has been logged yet: there is nothing to back up", str(record.path)))
    try:
        with record.reading() as connection:
            made = back_up(connection, backup_folder(record.folders), "backup", to)
        profile = profile_path(record.folders)
        if profile.exists() and not _profile_beside(made).exists():
            shutil.copyfile(profile, _profile_beside(made))
        return made
    except FileExistsError as error:
        raise BadInput(Issue("there is such a file already; it was left as it is", str(error.filename))) from error
    except OSError as error:
        raise LapwiseError(Issue(f"the backup could not be written: {error.strerror}", str(to or ""))) from error


def restore(record: Record, backup: Path, progress: Progress | None = None) -> Counts:
    """Bring back what a backup holds: its rows are added to those that are here, so nothing is lost by it.

    The machine profile beside it is taken back only where there is none.
    """
    if not backup.exists():
        raise BadInput(Issue("there is no such file", str(backup)))
    if not is_good(backup):
        raise Damaged(Issue("this backup is damaged or is not a record; nothing was changed", str(backup)))
    source = sqlite3.connect(f"{backup.resolve().as_uri()}?mode=ro&immutable=1", uri=True)
    try:
        version = schema_version(source)
    finally:
        source.close()
    if version > schema.CURRENT:
        raise BadInput(Issue("this backup is from a newer Lapwise", str(backup), str(version)))
    with Record.open(_only_file(record.folders, backup), readonly=True) as old:
        lines = export_lines(old)
        next(lines)
        counts = merge(record, lines, progress=progress)
    profile, kept = profile_path(record.folders), _profile_beside(backup)
    if kept.exists() and not profile.exists():
        shutil.copyfile(kept, profile)
    return counts


def _profile_beside(backup: Path) -> Path:
    return backup.with_name(f"{backup.stem}.machine.json")


def _only_file(folders: Folders, path: Path) -> Folders:
    return _Single(folders.data, folders.config, folders.cache, path)


@dataclass(frozen=True)
class _Single(Folders):
    """Folders whose record is one given file."""

    file: Path

    @property
    def record(self) -> Path:
        return self.file


def forget(record: Record) -> int:
    """Let learning start afresh: all cases up to now teach nothing more. They stay in the record.

    Returns how many cases that is. :func:`remember` takes it back.
    """
    return _mark(record, "forget")


def remember(record: Record) -> int:
    """Learn from all cases again. Returns how many there are."""
    return _mark(record, "remember")


def _mark(record: Record, kind: str) -> int:
    with record.writing() as connection:
        cases, up_to = connection.execute("SELECT count(*), ifnull(max(seq), 0) FROM cases").fetchone()
        connection.execute(
            "INSERT INTO marks (id, at, kind, up_to) VALUES (?, ?, ?, ?)",
            (record.new_id(connection), now_text(), kind, up_to if kind == "forget" else 0),
        )
        for _ in derived.rebuild(connection):
            pass
    return int(cases)
