"""Looking after the record: check it through, back it up, bring a backup back, let learning start afresh."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from itertools import zip_longest
from pathlib import Path
from typing import Any

from lapwise.engine.errors import BadInput, Damaged, Issue, LapwiseError, NothingFound
from lapwise.engine.flat import flat
from lapwise.engine.folders import Folders
from lapwise.engine.machine import profile_path
from lapwise.engine.record import derived, schema
from lapwise.engine.record.backup import back_up, backups_in, is_good, missing_rows, unchanging
from lapwise.engine.record.database import empty, schema_version, set_aside_in
from lapwise.engine.record.exchange import export_lines, merge
from lapwise.engine.record.file import backup_folder
from lapwise.engine.record.ids import now_text
from lapwise.engine.record.model import COLUMNS, Counts
from lapwise.engine.record.salvage import Salvage, bring_over, look, readable_ids
from lapwise.engine.record.store import Record
from lapwise.engine.record.work import EVERY, Progress, beating
from lapwise.engine.transfer.kept import list_path


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
    salvage: Salvage | None = None
    """What can be read of a damaged record; after a repair, what was brought into the new one."""
    aside: str = ""
    """The name under which a repair set the damaged file aside."""
    elsewhere: tuple[tuple[str, int], ...] = ()
    """Backups and damaged files set aside that hold rows which the record lacks: (path, how many)."""

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong and nothing is missing."""
        return not self.faults and not self.elsewhere

    def as_json(self) -> dict[str, Any]:
        """A flat JSON form."""
        return {
            **flat(self, aside="set_aside"),
            "set_aside": self.aside or None,
            "elsewhere": [{"file": path, "rows": rows} for path, rows in self.elsewhere],
            "sound": self.sound,
        }


def check(record: Record, *, repair: bool = False, progress: Progress | None = None) -> Checked:
    """Read the whole record: SQLite's integrity check, keys, every row's form, and the tables worked out from rows.

    ``repair``: work the derived tables out again if they are wrong; if rows are damaged, set the file aside and bring
    all that can be read into a new one. No row is ever changed.
    """
    try:
        _opens_afresh(record)
        found = _checked(record, repair, progress)
    except Damaged as error:
        found = Checked(0, 0, 0, tuple(p.what for p in error.problems), 0)
    damaged = bool(found.faults) and record.path.exists() and found.faults != (_OUT_OF_STEP,)
    if not damaged:
        aside = _aside_name(record) if record.salvaged else ""
        return replace(found, elsewhere=_elsewhere(record), salvage=record.salvaged, aside=aside)
    if repair and record.writable:
        salvage = record.begin_anew(progress)
        again = check(record)
        return replace(again, salvage=salvage, rebuilt=True)
    salvage = look(record.path, progress)
    return replace(found, cases=salvage.cases, steps=salvage.steps, lap_rows=salvage.lap_rows, salvage=salvage)


def _opens_afresh(record: Record) -> None:
    """Raises :class:`Damaged` if nobody else could open the file: who has it open may see it whole for a while, from
    what it keeps of it in memory."""
    if record.path.exists():
        Record.open(record.folders, readonly=True).close()


def unreadable(folders: Folders, error: Damaged, progress: Progress | None = None) -> Checked:
    """What to say of a record that cannot even be opened: the error, and what can be read of it all the same."""
    faults = tuple(p.what for p in error.problems)
    salvage = look(folders.record, progress) if folders.record.exists() else Salvage()
    return Checked(salvage.cases, salvage.steps, salvage.lap_rows, faults, 0, salvage=salvage if salvage.rows else None)


_OUT_OF_STEP = "what learning reads is out of step with the rows: `lapwise record check --repair` mends it"


def _aside_name(record: Record) -> str:
    newest = set_aside_in(record.path.parent)
    return str(newest[0]) if newest else ""


def _checked(record: Record, repair: bool, progress: Progress | None) -> Checked:
    faults: list[str] = []
    counts = record.counts()
    half = counts["cases"]
    with record.reading() as connection, beating(connection, lambda: progress(0, None) if progress else None):
        said = [row[0] for row in connection.execute("PRAGMA integrity_check(20)")]
        faults += [f"the file is damaged: {what}" for what in said if what != "ok"]
        faults += [f"a row of {row[0]} points to nothing" for row in connection.execute("PRAGMA foreign_key_check")]
        if not faults:
            faults += _rows_in_form(connection, progress, 2 * half)
        sql = "SELECT count(*) FROM steps WHERE case_id NOT IN (SELECT id FROM cases)"
        stray = connection.execute(sql).fetchone()[0]
    rebuilt = False
    if not faults and not _derived_right(record, progress):
        if repair and record.writable:
            rebuild(record)
            rebuilt = True
        else:
            faults.append(_OUT_OF_STEP)
    return Checked(counts["cases"], counts["steps"], counts["lap_rows"], tuple(faults), int(stray), rebuilt)


def _elsewhere(record: Record) -> tuple[tuple[str, int], ...]:
    """Which backups and files set aside hold rows that the record lacks: what was lost can be brought back."""
    found = []
    with record.reading() as connection:
        for path in backups_in(backup_folder(record.folders)):
            if missing := missing_rows(connection, path):
                found.append((str(path), missing))
        kept = {row[0] for t in COLUMNS for row in connection.execute(f"SELECT id FROM {t}")}
    for path in set_aside_in(record.path.parent):
        if missing := len(readable_ids(path) - kept):
            found.append((str(path), missing))
    return tuple(found)


def _rows_in_form(connection: sqlite3.Connection, progress: Progress | None, of: int) -> list[str]:
    faults: list[str] = []
    for done, row in enumerate(connection.execute("SELECT id FROM cases ORDER BY id"), 1):
        try:
            derived.load_case(connection, row[0])
        except LapwiseError as error:
            faults += [p.what for p in error.problems]
            if len(faults) >= 20:
                break
        if progress and done % EVERY == 0:
            progress(done, done / of)
    for body, row_id in connection.execute("SELECT body, id FROM lap_rows"):
        try:
            derived.read_json(body, f"lap row {row_id}")
        except Damaged as error:
            faults += [p.what for p in error.problems]
    return faults


def _derived_right(record: Record, progress: Progress | None) -> bool:
    """Whether the derived tables are what the rows give: worked out afresh beside, in memory."""
    used = "SELECT * FROM counts WHERE a <> 0 OR b <> 0 ORDER BY kind, k1, k2, k3, k4"
    now = "SELECT * FROM case_now ORDER BY case_id"
    with closing(empty()) as fresh:
        fresh.execute("PRAGMA foreign_keys = OFF")
        with record.reading() as connection:
            connection.execute("BEGIN")  # one state of the record throughout, whatever another process logs meanwhile
            try:
                cases = max(connection.execute("SELECT count(*) FROM cases").fetchone()[0], 1)
                for done in derived.rebuild(connection, fresh):
                    if progress and done % EVERY == 0:
                        progress(done, 0.5 + 0.5 * done / cases)
                return all(
                    a == b for sql in (used, now) for a, b in zip_longest(connection.execute(sql), fresh.execute(sql))
                )
            finally:
                connection.execute("ROLLBACK")


def rebuild(record: Record, progress: Progress | None = None) -> None:
    """Work the derived tables out again from the rows, in one transaction."""
    with record.writing() as connection:
        _rebuilt(connection, progress)


def _rebuilt(connection: sqlite3.Connection, progress: Progress | None) -> None:
    cases = max(connection.execute("SELECT count(*) FROM cases").fetchone()[0], 1)
    for done in derived.rebuild(connection):
        if progress and done % EVERY == 0:
            progress(done, done / cases)


def make_backup(record: Record, to: Path | None = None, progress: Progress | None = None) -> Path:
    """A checked copy of the record as of now, machine profile and transfer list beside it; returns its path. Never
    writes over a file."""
    if not record.path.exists():
        raise NothingFound(Issue("nothing has been logged yet: there is nothing to back up", str(record.path)))
    try:
        with record.reading() as connection:
            made = back_up(connection, backup_folder(record.folders), "backup", to, progress)
        for own, beside in _beside(record.folders, made):
            if own.exists() and not beside.exists():
                shutil.copyfile(own, beside)
        return made
    except FileExistsError as error:
        raise BadInput(Issue("there is such a file already; it was left as it is", str(error.filename))) from error
    except OSError as error:
        raise LapwiseError(Issue(f"the backup could not be written: {error.strerror}", str(to or ""))) from error


def restore(record: Record, backup: Path, progress: Progress | None = None) -> Counts:
    """Bring back what a backup holds: its rows are added to those that are here, so nothing is lost by it.

    Of a damaged file all that can be read is brought back; raises :class:`Damaged` if that is nothing. The clock is
    not doubted. Machine profile and transfer list beside it are taken back only where there are none.
    """
    if not backup.is_file():
        raise BadInput(Issue("there is no such file", str(backup)))
    try:
        _opens_afresh(record)
    except Damaged:
        if record.writable and record.path.stat().st_size:  # one that is empty is set aside by the first write
            record.begin_anew(progress)
    counts = _restored(record, backup, progress) if is_good(backup) else _salvaged(record, backup, progress)
    for own, beside in _beside(record.folders, backup):
        if beside.exists() and not own.exists():
            shutil.copyfile(beside, own)
    return counts


def _restored(record: Record, backup: Path, progress: Progress | None) -> Counts:
    with closing(sqlite3.connect(unchanging(backup), uri=True)) as source:
        version = schema_version(source)
    if version > schema.CURRENT:
        raise BadInput(Issue("this backup is from a newer Lapwise", str(backup), str(version)))
    left_out: list[str] = []
    there = record.folders
    with Record.open(_Single(there.data, there.config, there.cache, backup), readonly=True) as old:
        lines = export_lines(old, left_out)
        next(lines)
        with record.writing() as connection:
            counts = merge(record, lines, sum(old.counts().values()), progress=progress)
            with old.reading() as theirs:
                for (thing,) in theirs.execute("SELECT id FROM here"):
                    derived.put_here(connection, thing)
    return _short_of(counts, "its content is damaged", len(left_out))


def _salvaged(record: Record, backup: Path, progress: Progress | None) -> Counts:
    if not look(backup).rows:
        what = "this backup is damaged or is not a record: no row of it can be read; nothing was changed"
        raise Damaged(Issue(what, str(backup)))
    with record.writing() as connection:
        salvage, work = bring_over(connection, backup, progress)
    return _short_of(work.counts(), "lost: the file is damaged", salvage.lost)


def _short_of(counts: Counts, why: str, rows: int) -> Counts:
    """The counts with so many rows refused besides."""
    if not rows:
        return counts
    return replace(counts, refused=counts.refused + rows, reasons=(*counts.reasons, (why, rows)))


def _beside(folders: Folders, backup: Path) -> Iterator[tuple[Path, Path]]:
    """The small files that go with the record, each with its name beside a backup."""
    for path in (profile_path(folders), list_path(folders)):
        yield path, backup.with_name(f"{backup.stem}.{path.name}")


@dataclass(frozen=True)
class _Single(Folders):
    """Folders whose record is one given file."""

    file: Path

    @property
    def record(self) -> Path:
        return self.file


def forget(record: Record, progress: Progress | None = None) -> int:
    """Let learning start afresh: all cases up to now teach nothing more. They stay in the record.

    Returns how many cases that is. :func:`remember` takes it back.
    """
    return _mark(record, "forget", progress)


def remember(record: Record, progress: Progress | None = None) -> int:
    """Learn from all cases again. Returns how many there are."""
    return _mark(record, "remember", progress)


def _mark(record: Record, kind: str, progress: Progress | None) -> int:
    with record.writing() as connection:
        cases, up_to = connection.execute("SELECT count(*), ifnull(max(seq), 0) FROM cases").fetchone()
        connection.execute(
            "INSERT INTO marks (id, at, kind, up_to) VALUES (?, ?, ?, ?)",
            (record.new_id(connection), now_text(), kind, up_to if kind == "forget" else 0),
        )
        _rebuilt(connection, progress)
    return int(cases)
