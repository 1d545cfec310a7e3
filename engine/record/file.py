"""The record's file: opened, read, written in whole transactions, backed up, set aside when it is damaged."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self, TypeVar

from lapwise.engine.errors import Damaged, Issue, LapwiseError
from lapwise.engine.folders import Folders
from lapwise.engine.record.backup import back_up, backups_in, prune
from lapwise.engine.record.database import (
    Opened,
    alone,
    begin_anew,
    empty,
    gone_message,
    identity,
    is_gone,
    let_go,
    open_database,
    whole,
)
from lapwise.engine.record.ids import far_ahead, next_id, now_ms
from lapwise.engine.record.salvage import Salvage, bring_over
from lapwise.engine.record.trouble import in_words
from lapwise.engine.record.work import Progress

T = TypeVar("T")
KEPT = 64
DAILY_BACKUP_BYTES = 64 * 1024 * 1024
"""A larger record is backed up on request only: a copy at every closing would be felt."""


def backup_folder(folders: Folders) -> Path:
    """Where the backups of the record lie."""
    return folders.data / "backups"


class RecordFile:
    """The file of a person's record. Made with :meth:`open`; use as a context manager or call :meth:`close`.

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
        self.salvaged: Salvage | None = None
        """What could be read of a damaged record that was set aside when this one was opened or mended."""
        self.trouble = ""
        """Why today's backup could not be made, or ""."""
        self._connection: sqlite3.Connection | None = None
        self._file: tuple[int, int] | None = None
        self._in_write = False
        self._on_disk = False
        self._wrote = False
        self._writes = 0
        self._kept: dict[Hashable, Any] = {}
        self._kept_for: tuple[int, int] | None = None

    @classmethod
    def open(cls, folders: Folders, *, readonly: bool = False) -> Self:
        """Open the record in ``folders``. Raises :class:`LapwiseError` if it is there and cannot even be read."""
        record = cls(folders, readonly=readonly)
        if is_gone(record.path, backup_folder(folders)):
            record.message = gone_message(record.path, backup_folder(folders))
            if readonly:
                raise Damaged(Issue(record.message, str(record.path)))
        elif record.path.exists():
            record._open_file()
        return record

    def __enter__(self) -> Self:
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
            self._drop()

    def _drop(self) -> None:
        connection, self._connection = self._connection, None
        if connection is None:
            return
        on_disk, self._on_disk = self._on_disk, False
        if not on_disk or not self.writable:
            connection.close()
            return
        try:
            with alone(self.path):  # so that nobody sets the file aside between the look and the closing
                if identity(self.path) == self._file:
                    connection.close()
                    return
        except (OSError, sqlite3.Error):
            pass
        let_go(connection)

    def _open_file(self) -> None:
        opened = open_database(
            self.path,
            backup_folder(self.folders),
            readonly=self.readonly,
            bring_over=self._bring_over,
        )
        self._take(opened)
        self.message = opened.message or self.message

    def _take(self, opened: Opened) -> None:
        self._drop()
        self._connection = opened.connection
        self._file = identity(self.path)
        self._writes += 1  # another file may lie there now: what was worked out before does not hold
        self._on_disk = True
        self.writable = opened.writable

    def _bring_over(self, connection: sqlite3.Connection, damaged: Path, progress: Progress | None = None) -> str:
        """Bring what can be read of a damaged file into a new one; says what came of it."""
        connection.execute("BEGIN IMMEDIATE")
        try:
            with whole(connection):
                self.salvaged, _ = bring_over(connection, damaged, progress)
        except (OSError, sqlite3.Error) as error:
            return f"nothing could be brought over ({error})"
        return f"of it {self.salvaged}"

    def begin_anew(self, progress: Progress | None = None) -> Salvage | None:
        """Set the file aside and begin a new one with all that can be read of it: for a record that is damaged within.

        None if another process has just done so.
        """

        def over(connection: sqlite3.Connection, damaged: Path) -> str:
            return self._bring_over(connection, damaged, progress)

        with self._lock:
            mine, self.salvaged = self._file, None
            opened = begin_anew(self.path, backup_folder(self.folders), over, lambda: identity(self.path) == mine)
            if opened is None:
                self._open_file()
            else:
                self._wrote = True
                self._take(opened)
                self.message = opened.message
            return self.salvaged

    def _daily_backup(self) -> None:
        """A backup if the newest is from another day. A failure never costs the person their answer; it is said."""
        folder = backup_folder(self.folders)
        stamp = datetime.now(UTC).strftime("%Y%m%d")
        try:
            if self.path.stat().st_size > DAILY_BACKUP_BYTES:
                return
            if any(p.name.startswith(f"record-{stamp}") for p in backups_in(folder)):
                return
            back_up(self._reading(), folder, "daily")
            prune(folder, self._reading())
        except (OSError, sqlite3.Error) as error:
            self.trouble = f"today's backup could not be made ({error}): see `lapwise record check`"

    # --- connection ---------------------------------------------------------------------------------------------

    def _reading(self) -> sqlite3.Connection:
        """The connection to read from: nothing on disk yet reads as an empty record."""
        if not self._on_disk and self.path.exists():
            self._open_file()
        elif self._on_disk and not self._in_write and identity(self.path) not in (None, self._file):
            self._open_file()  # another process has put a new file in its place: what is logged now stands there
        if self._connection is None:
            self._connection = empty()
        return self._connection

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """The connection, to read from only."""
        with self._lock, in_words(self.path):
            yield self._reading()

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all of it is on disk when the block has ended, or none of it."""
        with self._lock:
            if self._in_write:  # part of a larger transaction
                yield self._reading()
                return
            if self.readonly:
                raise LapwiseError(Issue("the record was opened for reading only", str(self.path)))
            if not self._on_disk or identity(self.path) != self._file:
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
                if identity(self.path) != self._file:  # set aside while we waited for our turn
                    connection.execute("ROLLBACK")
                    self._open_file()
                    connection = self._reading()
                    connection.execute("BEGIN IMMEDIATE")
                self._in_write = True
                try:
                    with whole(connection):
                        yield connection
                finally:
                    self._in_write = False
                    self._writes += 1  # what was worked out within is not kept, whether it was written or taken back
                self._wrote = True
                if identity(self.path) != self._file:
                    what = "another Lapwise found the record damaged and set it aside: nothing was logged, try again"
                    raise LapwiseError(Issue(what, str(self.path)))

    def state(self) -> tuple[int, int]:
        """Changes whenever the record does, by this or another process: a key for what is worked out from it."""
        with self.reading() as connection:
            return self._writes, int(connection.execute("PRAGMA data_version").fetchone()[0])

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

    def new_id(self, connection: sqlite3.Connection, thing: str = "") -> str:
        """An id greater than any in the record, save those that lie far in the future: a clock that was wrong once
        does not stay wrong. Of the same case or lap (``thing``) it is greater in any event. Within a transaction."""
        now = now_ms()
        ahead = far_ahead(now) or "g"
        row = connection.execute(
            "SELECT max((SELECT ifnull(max(id), '') FROM cases WHERE id < :a), "
            "(SELECT ifnull(max(id), '') FROM steps WHERE id < :a), "
            "(SELECT ifnull(max(id), '') FROM lap_rows WHERE id < :a), "
            "(SELECT ifnull(max(id), '') FROM marks WHERE id < :a), :t, "
            "(SELECT ifnull(max(id), '') FROM steps WHERE case_id = :t), "
            "(SELECT ifnull(max(id), '') FROM lap_rows WHERE lap_id = :t))",
            {"a": ahead, "t": thing},
        ).fetchone()
        return next_id(now, row[0] or None)
