"""The record: cases with their steps, and own laps. Nothing is overwritten; nothing is said before it is on disk."""

from __future__ import annotations

import json
import sqlite3
import threading
import time
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

from lapwise.engine.case import OUTCOMES, Case, Outcome
from lapwise.engine.errors import BadInput, Issue, LapwiseError, NothingFound, Overtaken
from lapwise.engine.folders import Folders
from lapwise.engine.record import derived
from lapwise.engine.record.backup import back_up, backups_in, prune
from lapwise.engine.record.database import empty, in_words, open_database
from lapwise.engine.record.fold import facts_only, undoable
from lapwise.engine.record.ids import next_id, now_text
from lapwise.engine.record.model import RESULTS, CaseRecord, PairResult, Step
from lapwise.engine.record.own_laps import OwnLaps
from lapwise.engine.record.rows import Refused, read_row

T = TypeVar("T")
_ANY_TIME = 1 << 62
"""The clock of this machine is not doubted when it logs."""
KEPT = 64
LONGEST_MINUTES = 100_000.0
DAILY_BACKUP_BYTES = 64 * 1024 * 1024
"""A larger record is backed up on request only: a copy at every closing would be felt."""


def backup_folder(folders: Folders) -> Path:
    """Where the backups of the record lie."""
    return folders.data / "backups"


class Record(OwnLaps):
    """A person's record. Made with :meth:`open`; use as a context manager or call :meth:`close`.

    Reading never creates a file; the first write does. Safe to use from several threads and processes: writers wait
    for each other. ``message``: what the person should know (damaged and set aside, newer, write-protected), or "".
    """

    def __init__(self, folders: Folders, *, readonly: bool) -> None:
        self.folders = folders
        self.path = folders.record
        self.readonly = readonly
        self.message = ""
        self.writable = not readonly
        self._lock = threading.RLock()
        self._connection: sqlite3.Connection | None = None
        self._on_disk = False
        self._wrote = False
        self._writes = 0
        self._kept: dict[Hashable, Any] = {}
        self._kept_for: tuple[int, int] | None = None

    @classmethod
    def open(cls, folders: Folders, *, readonly: bool = False) -> Record:
        """Open the record in ``folders``. Raises :class:`LapwiseError` if it is there and cannot even be read."""
        record = cls(folders, readonly=readonly)
        if record.path.exists():
            record._open_file()
        return record

    def __enter__(self) -> Record:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; makes the day's backup first if something was logged since the last one."""
        with self._lock:
            if self._connection is None:
                return
            if self._wrote:
                self._daily_backup()
            self._connection.close()
            self._connection = None
            self._on_disk = False

    def _open_file(self) -> None:
        opened = open_database(self.path, backup_folder(self.folders), derived.fill, readonly=self.readonly)
        if self._connection is not None:
            self._connection.close()
        self._connection = opened.connection
        self._writes += 1  # another file may lie there now: what was worked out before does not hold
        self._on_disk = True
        self.writable = opened.writable
        self.message = opened.message or self.message

    def _daily_backup(self) -> None:
        """A backup if the newest is from another day. A failure to copy never costs the person their answer."""
        folder = backup_folder(self.folders)
        stamp = datetime.now(UTC).strftime("%Y%m%d")
        try:
            if self.path.stat().st_size > DAILY_BACKUP_BYTES:
                return
            if any(p.name.startswith(f"record-{stamp}") for p in backups_in(folder)):
                return
            back_up(self._reading(), folder, "daily")
            prune(folder)
        except (OSError, sqlite3.Error):
            return

    # --- connection ---------------------------------------------------------------------------------------------

    def _reading(self) -> sqlite3.Connection:
        """The connection to read from: nothing on disk yet reads as an empty record."""
        if not self._on_disk and self.path.exists():
            self._open_file()
        if self._connection is None:
            self._connection = empty()
        return self._connection

    @contextmanager
    def _read(self) -> Iterator[sqlite3.Connection]:
        with self._lock, in_words(self.path):
            yield self._reading()

    @contextmanager
    def _write(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all of it is on disk when the block has ended, or none of it."""
        with self._lock:
            if self.readonly:
                raise LapwiseError(Issue("the record was opened for reading only", str(self.path)))
            if not self._on_disk:
                try:
                    self._open_file()
                except OSError as error:
                    what = f"the record cannot be written there ({error.strerror}): nothing was logged"
                    raise LapwiseError(Issue(what, str(self.path))) from error
            connection = self._reading()
            if not self.writable:
                raise LapwiseError(Issue(f"{self.message}: nothing was logged", str(self.path)))
            with in_words(self.path):
                connection.execute("BEGIN IMMEDIATE")
                try:
                    yield connection
                    connection.execute("COMMIT")
                except BaseException:
                    if connection.in_transaction:
                        connection.execute("ROLLBACK")
                    raise
                self._wrote = True
                self._writes += 1

    def state(self) -> tuple[int, int]:
        """Changes whenever the record does, by this or another process: a key for what is worked out from it."""
        with self._read() as connection:
            return self._writes, int(connection.execute("PRAGMA data_version").fetchone()[0])

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """The connection, to read from only: for what is worked out from the counts."""
        with self._read() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction to write in, for an import and the like: all of it or nothing."""
        with self._write() as connection:
            yield connection

    def remember(self, key: Hashable, make: Callable[[], T]) -> T:
        """What ``make`` gives, kept for this key until the record changes."""
        with self._lock:
            state = self.state()
            if self._kept_for != state:
                self._kept.clear()
                self._kept_for = state
            if key not in self._kept:
                if len(self._kept) >= KEPT:
                    self._kept.clear()
                self._kept[key] = make()
            found: T = self._kept[key]
            return found

    def new_id(self, connection: sqlite3.Connection) -> str:
        """An id greater than any in the record. Within a transaction."""
        row = connection.execute(
            "SELECT max((SELECT ifnull(max(id), '') FROM cases), (SELECT ifnull(max(id), '') FROM steps), "
            "(SELECT ifnull(max(id), '') FROM lap_rows), (SELECT ifnull(max(id), '') FROM marks))"
        ).fetchone()
        return next_id(time.time_ns() // 1_000_000, row[0] or None)

    # --- writing ------------------------------------------------------------------------------------------------

    def log_outcome(
        self,
        case: Case,
        remedy: str,
        outcome: Outcome,
        *,
        minutes: float | None,
        note: str = "",
        shown: Mapping[str, Any] | None = None,
        knowledge_digest: str,
        case_id: str | None = None,
        newest: str | None = None,
    ) -> str:
        """Log what a remedy did; returns the new row's id once it is on disk.

        Without ``case_id`` a case is opened first, with ``case`` as it is. With it, changed facts of ``case`` become
        a row of their own before. ``minutes``: hands-on minutes. ``shown``: what was on the screen before the remedy,
        see :mod:`lapwise.engine.diagnosis.shown`. Ids are not checked against the knowledge here.

        ``newest``, here and below: the id of the case's newest row as the caller knows it; if another process has
        added to the case since, :class:`Overtaken` is raised and nothing is written.
        """
        if outcome not in OUTCOMES:
            raise BadInput.unknown("no such outcome", outcome, OUTCOMES, "outcome")
        if minutes is not None and not 0 <= minutes <= LONGEST_MINUTES:
            raise BadInput(Issue("minutes from 0 to 100000 are wanted", "minutes", str(minutes)))
        with self._write() as connection:
            case_id = self._at_case(connection, case, case_id, knowledge_digest, newest)
            return self._add_step(
                connection,
                case_id,
                "try",
                knowledge_digest,
                remedy=remedy,
                outcome=outcome,
                minutes=minutes,
                note=note,
                shown=shown,
            )

    def log_look(
        self,
        case_id: str | None,
        look: str,
        result: str,
        *,
        minutes: float | None = None,
        note: str = "",
        shown: Mapping[str, Any] | None = None,
        knowledge_digest: str = "",
        case: Case | None = None,
        newest: str | None = None,
    ) -> str:
        """Log what a look showed; returns the new row's id. ``case``: as for :meth:`log_outcome`."""
        with self._write() as connection:
            if case is not None:
                case_id = self._at_case(connection, case, case_id, knowledge_digest, newest)
            elif case_id is None:
                raise BadInput(Issue("a look is logged of a case", "case"))
            else:
                self._need(connection, case_id, newest)
            return self._add_step(
                connection,
                case_id,
                "look",
                knowledge_digest,
                look=look,
                result=result,
                minutes=minutes,
                note=note,
                shown=shown,
            )

    def open_case(self, case: Case, *, knowledge_digest: str = "") -> str:
        """Open a case; returns its id."""
        with self._write() as connection:
            return self._at_case(connection, case, None, knowledge_digest)

    def update_case(
        self, case_id: str, case: Case, *, knowledge_digest: str = "", newest: str | None = None
    ) -> str | None:
        """Log changed facts as a new row; returns its id, or None if nothing is different."""
        with self._write() as connection:
            before = connection.execute("SELECT max(id) FROM steps").fetchone()[0]
            self._at_case(connection, case, case_id, knowledge_digest, newest)
            after = connection.execute("SELECT max(id) FROM steps").fetchone()[0]
            return None if before == after else str(after)

    def close_case(
        self,
        case_id: str | None,
        result: str = "given-up",
        *,
        note: str = "",
        case: Case | None = None,
        knowledge_digest: str = "",
        newest: str | None = None,
    ) -> str:
        """Close a case as ``fixed``, ``polished``, ``accepted`` or ``given-up``; returns the new row's id.

        ``case``: as for :meth:`log_outcome`.
        """
        if result not in RESULTS:
            raise BadInput.unknown("a case cannot end so", result, RESULTS, "result")
        with self._write() as connection:
            if case is not None:
                case_id = self._at_case(connection, case, case_id, knowledge_digest, newest)
            elif case_id is None:
                raise BadInput(Issue("there is no case to close", "case"))
            else:
                self._need(connection, case_id, newest)
            return self._add_step(connection, case_id, "close", "", result=result, note=note)

    def undo_last(self, case_id: str) -> str:
        """Take back the newest row of the case that still counts, by a new row; returns the new row's id.

        The case itself is taken back when nothing else is left of it.
        """
        with self._write() as connection:
            target = undoable(self._need(connection, case_id))
            if target is None:
                raise NothingFound(Issue("there is nothing left to take back in this case", "case", case_id))
            return self._add_step(connection, case_id, "undo", "", withdraws=target)

    def undo(
        self,
        case_id: str,
        step_id: str,
        case: Case | None = None,
        *,
        knowledge_digest: str = "",
        newest: str | None = None,
    ) -> str:
        """Take one step back by a new row; what came after it stands. Returns the new row's id.

        ``case``: the case as it stands, whose changed facts are kept in the same transaction. Raises
        :class:`NothingFound` if the step is not there or was taken back already: nothing is changed then.
        """
        with self._write() as connection:
            self._counting(connection, case_id, step_id, newest)
            if case is not None:
                self._at_case(connection, case, case_id, knowledge_digest)
            return self._add_step(connection, case_id, "undo", "", withdraws=step_id)

    def amend(
        self,
        case_id: str,
        step_id: str,
        *,
        minutes: float | None,
        note: str,
        knowledge_digest: str,
        newest: str | None = None,
    ) -> str:
        """Other minutes or another note for a try or a look: its row is taken back and written anew, or nothing is.

        Returns the new row's id. Raises as :meth:`undo` does.
        """
        with self._write() as connection:
            before = self._need(connection, case_id).case
            step = self._counting(connection, case_id, step_id, newest)
            self._add_step(connection, case_id, "undo", "", withdraws=step_id)
            kept = {name: getattr(step, name) for name in ("remedy", "outcome", "look", "result", "shown")}
            new = self._add_step(connection, case_id, step.kind, knowledge_digest, minutes=minutes, note=note, **kept)
            if step.kind == "try" and before.settled == len(before.tried):
                # something else was stated since: the facts stand after the try, as they did
                self._add_step(connection, case_id, "facts", knowledge_digest, case=_plain(facts_only(before)))
            return new

    def _counting(self, connection: sqlite3.Connection, case_id: str, step_id: str, newest: str | None) -> Step:
        for step in self._need(connection, case_id, newest).steps:
            if step.id == step_id and step.kind != "undo" and not step.withdrawn:
                return step
        raise NothingFound(Issue("this is taken back already, or not in the case", "step", step_id))

    def _need(self, connection: sqlite3.Connection, case_id: str, newest: str | None = None) -> CaseRecord:
        found = derived.load_case(connection, case_id)
        if found is None:
            raise NothingFound(Issue("no such case in the record", "case", case_id))
        if newest is not None and found.last != newest:
            raise Overtaken(Issue("the case went on in another window", "case", case_id))
        return found

    def _at_case(
        self,
        connection: sqlite3.Connection,
        case: Case,
        case_id: str | None,
        digest: str,
        newest: str | None = None,
    ) -> str:
        """The case to add to: opened, or its facts brought up to date."""
        if case_id is None:
            case_id = self.new_id(connection)
            connection.execute("INSERT INTO case_keys VALUES (?)", (case_id,))
            self._insert(
                connection,
                {
                    "row": "case",
                    "id": case_id,
                    "at": now_text(),
                    "case": _plain(case.as_json()),
                    "knowledge": digest,
                    "version": _version(),
                },
            )
            derived.changed(connection, {}, derived.load_case(connection, case_id))
            return case_id
        now = self._need(connection, case_id, newest)
        if facts_only(now.case) != facts_only(case):
            self._add_step(connection, case_id, "facts", digest, case=_plain(facts_only(case)))
        return case_id

    def _add_step(self, connection: sqlite3.Connection, case_id: str, kind: str, digest: str, **columns: object) -> str:
        before = derived.counted(connection, derived.load_case(connection, case_id))
        step_id = self.new_id(connection)
        self._insert(
            connection,
            {
                "row": "step",
                "id": step_id,
                "case_id": case_id,
                "at": now_text(),
                "kind": kind,
                "knowledge": digest,
                "version": _version(),
                **columns,
            },
        )
        derived.changed(connection, before, derived.load_case(connection, case_id))
        return step_id

    def _insert(self, connection: sqlite3.Connection, data: Mapping[str, Any]) -> None:
        """Add a row through the same checks as an import, so that whatever is kept can be exported and read again."""
        try:
            row = read_row({k: v for k, v in data.items() if v is not None}, _ANY_TIME)
        except Refused as reason:
            raise BadInput(Issue(f"this cannot be logged: {reason}")) from None
        columns = row.columns
        connection.execute(
            f"INSERT INTO {row.table} ({', '.join(columns)}) VALUES ({', '.join(':' + c for c in columns)})", columns
        )

    # --- reading ------------------------------------------------------------------------------------------------

    def empty(self) -> bool:
        """Whether nothing at all was logged."""
        with self._read() as connection:
            return connection.execute("SELECT 1 FROM cases LIMIT 1").fetchone() is None

    def case(self, case_id: str) -> CaseRecord:
        """A case as it stands now. Raises :class:`NothingFound`."""
        with self._read() as connection:
            return self._need(connection, case_id)

    def case_of(self, step_id: str) -> CaseRecord:
        """The case that a row is of, as it stands now. Raises :class:`NothingFound`."""
        with self._read() as connection:
            row = connection.execute("SELECT case_id FROM steps WHERE id = ?", (step_id,)).fetchone()
            return self._need(connection, row[0] if row else step_id)

    def steps(self, case_id: str) -> tuple[Step, ...]:
        """The steps of a case in order, those taken back marked."""
        return self.case(case_id).steps

    def cases(self, material: str | Sequence[str] | None = None, limit: int = 50) -> list[CaseRecord]:
        """The newest cases, newest first. ``material``: an id, or several (a group), or None for all."""
        names = [material] if isinstance(material, str) else list(material or ())
        with self._read() as connection:
            if names:
                marks = ", ".join("?" * len(names))
                rows = connection.execute(
                    f"SELECT case_id FROM case_now WHERE material IN ({marks}) AND withdrawn = 0 "
                    "ORDER BY last DESC LIMIT ?",
                    (*names, limit),
                ).fetchall()
            else:
                rows = connection.execute(
                    "SELECT case_id FROM case_now WHERE withdrawn = 0 ORDER BY last DESC LIMIT ?", (limit,)
                ).fetchall()
            return [self._need(connection, row[0]) for row in rows]

    def open_cases(self, limit: int = 50) -> list[CaseRecord]:
        """Cases not yet closed, the one worked on last first."""
        with self._read() as connection:
            rows = connection.execute(
                "SELECT case_id FROM case_now WHERE open = 1 AND withdrawn = 0 ORDER BY last DESC LIMIT ?", (limit,)
            ).fetchall()
            return [self._need(connection, row[0]) for row in rows]

    def last_case(self) -> CaseRecord | None:
        """The case worked on last, open or not."""
        found = self.cases(limit=1)
        return found[0] if found else None

    def find_case(self, text: str) -> CaseRecord:
        """The case with this id, or whose id ends so (four characters or more). Raises :class:`NothingFound`."""
        with self._read() as connection:
            return self._need(connection, self._find(connection, "cases", text, "case"))

    def _find(self, connection: sqlite3.Connection, table: str, text: str, what: str) -> str:
        wanted = text.strip().lower()
        if connection.execute(f"SELECT 1 FROM {table} WHERE id = ?", (wanted,)).fetchone():
            return wanted
        if len(wanted) >= 4 and set(wanted) <= set("0123456789abcdef-"):
            rows = connection.execute(f"SELECT id FROM {table} WHERE id LIKE ? LIMIT 5", (f"%{wanted}",)).fetchall()
            if len(rows) == 1:
                return str(rows[0][0])
            if rows:
                ids = tuple(row[0] for row in rows)
                raise BadInput(Issue(f"more than one {what} ends so: give more of the id", what, text, ids))
        short = " (give the whole id, or at least its last four characters)" if len(wanted) < 4 else ""
        raise NothingFound(Issue(f"no such {what} in the record{short}", what, text))

    def counts(self) -> dict[str, int]:
        """How many cases, steps and lap rows there are."""
        with self._read() as connection:
            return {
                table: int(connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0])
                for table in ("cases", "steps", "lap_rows")
            }

    def pair_result(self, line: Sequence[str], lap: str, compound: str) -> PairResult | None:
        """What the record says of this lap and compound on a material. ``line``: itself first, then its groups.

        The nearest group that has anything logged decides: "worked" from three in four, "failed" up to one in four.
        """
        with self._read() as connection:
            for material in line:
                row = connection.execute(
                    "SELECT a, b FROM counts WHERE kind = 'use' AND k1 = ? AND k2 = ? AND k3 = ?",
                    (material, lap, compound),
                ).fetchone()
                if row and row[0] + row[1] > 0:
                    share = row[0] / (row[0] + row[1])
                    return "worked" if share >= 0.75 else "failed" if share <= 0.25 else "mixed"
        return None


def _plain(data: Mapping[str, Any]) -> dict[str, Any]:
    """Tuples as lists, as JSON has them."""
    found: dict[str, Any] = json.loads(json.dumps(data))
    return found


def _version() -> str:
    from lapwise.engine.record.version import version

    return version()
