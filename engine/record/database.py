"""The database file of the record: opening it, bringing it up to date, and what to do when it is damaged."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from lapwise.engine.errors import Damaged, Issue, LapwiseError
from lapwise.engine.record import schema
from lapwise.engine.record.backup import back_up, newest_good_backup

WAIT_SECONDS = 60.0
"""How long one process waits for another to finish writing."""
_DAMAGED = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})


@dataclass(frozen=True, slots=True)
class Opened:
    """A connection and what to tell the person. ``writable`` is false for a newer or a write-protected record."""

    connection: sqlite3.Connection
    writable: bool
    message: str = ""
    set_aside: Path | None = None


def is_damage(error: sqlite3.Error) -> bool:
    """Whether SQLite says that the file's content is damaged (and not that it is busy, full or protected)."""
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and (code & 0xFF) in _DAMAGED


def explain(error: sqlite3.Error, path: Path) -> LapwiseError:
    """The error in words for a person. Nothing was written when a write fails: SQLite takes it back whole."""
    code = (getattr(error, "sqlite_errorcode", 0) or 0) & 0xFF
    if is_damage(error):
        return Damaged(Issue("the record is damaged: run `lapwise record check`", str(path)))
    if code == sqlite3.SQLITE_FULL:
        return LapwiseError(Issue("the disk is full: nothing was logged. Make room and log it again", str(path)))
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return LapwiseError(
            Issue("another Lapwise is writing the record for a long time: nothing was logged, try again", str(path))
        )
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
        return LapwiseError(
            Issue(
                "the record cannot be written there: nothing was logged. See `lapwise where`, "
                "or give another folder with --data",
                str(path),
            )
        )
    if code == sqlite3.SQLITE_IOERR:
        return LapwiseError(Issue("the disk refused to write (full or faulty): nothing was logged", str(path)))
    return LapwiseError(Issue(f"the record could not be used: {error}", str(path)))


@contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Turns SQLite's errors into errors for a person."""
    try:
        yield
    except sqlite3.Error as error:
        raise explain(error, path) from error


def _connect(target: str) -> sqlite3.Connection:
    connection = sqlite3.connect(target, timeout=WAIT_SECONDS, isolation_level=None, check_same_thread=False, uri=True)
    connection.execute("PRAGMA foreign_keys = ON")
    return connection


def _uri(path: Path, mode: str) -> str:
    return f"{path.resolve().as_uri()}?mode={mode}"


def schema_version(connection: sqlite3.Connection) -> int:
    """The schema version the file says it has; 0 for an empty one."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def migrate(
    connection: sqlite3.Connection, path: Path, fill: Callable[[sqlite3.Connection, int], None], *, backups: Path
) -> None:
    """Bring the tables to the current version, each step in one transaction, with a backup before the first.

    ``fill(connection, version)`` works out derived rows after the step to ``version``, within its transaction.
    """
    if 0 < schema_version(connection) < schema.CURRENT:
        back_up(connection, backups, "before-update")
    while (version := schema_version(connection)) < schema.CURRENT:
        connection.execute("BEGIN IMMEDIATE")
        try:
            if schema_version(connection) == version:  # another process may have done it while we waited
                if version == 0:
                    _refuse_strangers(connection, path)
                for statement in schema.statements(schema.SCRIPTS[version]):
                    connection.execute(statement)
                fill(connection, version + 1)
                connection.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {version + 1}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise


def _refuse_strangers(connection: sqlite3.Connection, path: Path) -> None:
    if connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
        raise Damaged(Issue("this database is not a record of Lapwise; it was left as it is", str(path)))


def empty() -> sqlite3.Connection:
    """A record with nothing in it, in memory."""
    connection = _connect(":memory:")
    for script in schema.SCRIPTS:
        for statement in schema.statements(script):
            connection.execute(statement)
    connection.execute(f"PRAGMA user_version = {schema.CURRENT}")
    return connection


def set_aside(path: Path) -> Path:
    """Rename a damaged record with its side files; nothing is deleted or overwritten. Returns the new name."""
    stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S")
    aside, number = path.with_name(f"record-damaged-{stamp}.sqlite3"), 1
    while aside.exists():
        number += 1
        aside = path.with_name(f"record-damaged-{stamp}-{number}.sqlite3")
    for suffix in ("-wal", "-shm"):
        side = path.with_name(path.name + suffix)
        if side.exists():
            side.rename(aside.with_name(aside.name + suffix))
    path.rename(aside)
    return aside


def open_database(
    path: Path, backups: Path, fill: Callable[[sqlite3.Connection, int], None], *, readonly: bool
) -> Opened:
    """Open the record's file, which may not exist yet when ``readonly`` is false.

    Raises :class:`LapwiseError` if it can be neither written nor read, :class:`Damaged` if it is damaged and
    ``readonly``. A damaged file is set aside and an empty record begun; the message names both and the newest good
    backup. A record of a newer version is opened for reading only.
    """
    try:
        return _open(path, backups, fill, readonly=readonly)
    except sqlite3.Error as error:
        if not is_damage(error):
            raise explain(error, path) from error
    good = newest_good_backup(backups)
    offer = (
        f"bring back the newest good backup with `lapwise record backup --restore {good}`"
        if good
        else "there is no good backup"
    )
    if readonly:
        raise Damaged(Issue(f"the record is damaged; nothing in it was changed; {offer}", str(path)))
    aside = set_aside(path)
    opened = _open(path, backups, fill, readonly=False)
    message = f"the record was damaged and is set aside as {aside.name}; a new one was begun; {offer}"
    return Opened(opened.connection, opened.writable, message, aside)


def _open(path: Path, backups: Path, fill: Callable[[sqlite3.Connection, int], None], *, readonly: bool) -> Opened:
    exists = path.exists()
    writable, message = not readonly, ""
    if writable:
        if not exists:
            path.parent.mkdir(parents=True, exist_ok=True)
        try:
            connection = _connect(_uri(path, "rwc"))
            try:
                if schema_version(connection) <= schema.CURRENT:
                    connection.execute("PRAGMA journal_mode = WAL")
                    connection.execute("PRAGMA synchronous = FULL")
                    if exists or schema_version(connection):
                        _look_over(connection)
                    migrate(connection, path, fill, backups=backups)
                    connection.execute("BEGIN IMMEDIATE")
                    connection.execute("ROLLBACK")
                    return Opened(connection, True)
            except BaseException:
                connection.close()
                raise
            version = schema_version(connection)
            connection.close()
            message = (
                f"this record is from a newer Lapwise (its version {version}, ours {schema.CURRENT}): it can be "
                "read here but not added to"
            )
        except sqlite3.OperationalError as error:
            code = (error.sqlite_errorcode or 0) & 0xFF
            if not exists or code not in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
                raise
            message = "the record is write-protected: it can be read, but nothing can be logged"
    return _open_for_reading(path, message)


def _open_for_reading(path: Path, message: str) -> Opened:
    connection = _connect(_uri(path, "ro"))
    try:
        _look_over(connection)
    except sqlite3.OperationalError as error:
        connection.close()
        code = (error.sqlite_errorcode or 0) & 0xFF
        if code not in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN):
            raise
        # a write-protected folder: SQLite cannot make its side file; nobody can be writing either
        connection = _connect(_uri(path, "ro") + "&immutable=1")
        _look_over(connection)
    version = schema_version(connection)
    if version > schema.CURRENT and not message:
        message = (
            f"this record is from a newer Lapwise (its version {version}, ours {schema.CURRENT}): it can be "
            "read here but not added to"
        )
    if version < schema.CURRENT:
        connection.close()
        return Opened(_copy_up_to_date(path), False, message)
    return Opened(connection, False, message)


def _copy_up_to_date(path: Path) -> sqlite3.Connection:
    """An old record read without writing to it: a copy in memory, brought to the current version."""
    from lapwise.engine.record.derived import fill

    source = _connect(_uri(path, "ro"))
    copy = _connect(":memory:")
    source.backup(copy)
    source.close()
    version = schema_version(copy)
    while version < schema.CURRENT:
        for statement in schema.statements(schema.SCRIPTS[version]):
            copy.execute(statement)
        version += 1
        fill(copy, version)
    copy.execute(f"PRAGMA user_version = {version}")
    return copy


def _look_over(connection: sqlite3.Connection) -> None:
    """Cheap checks that find a truncated or foreign file at once; `lapwise record check` does the thorough one."""
    version = schema_version(connection)
    names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if version and not {"cases", "steps", "lap_rows"} <= names:
        raise _damage("tables are missing")
    pages = connection.execute("PRAGMA page_count").fetchone()[0]
    for table in ("cases", "steps", "lap_rows"):
        if table in names:
            connection.execute(f"SELECT * FROM {table} ORDER BY seq DESC LIMIT 1").fetchone()
    if version and not pages:
        raise _damage("the file is empty")


def _damage(words: str) -> sqlite3.DatabaseError:
    error = sqlite3.DatabaseError(words)
    error.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
    return error
