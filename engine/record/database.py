"""The database file of the record: opening it, bringing it up to date, and what to do when it is damaged."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from lapwise.engine.errors import Damaged, Issue
from lapwise.engine.newfile import part_of, settle
from lapwise.engine.record import derived, schema
from lapwise.engine.record.backup import back_up, newest_good_backup
from lapwise.engine.record.model import COLUMNS
from lapwise.engine.record.trouble import NOT_WRITABLE, code_of, damage, explain, in_words, is_damage

LOCK = "record.lock"
"""A file beside the record that is locked while it is begun, updated or set aside; it stays empty."""
WAIT_SECONDS = 60.0
"""How long one process waits for another to finish writing."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A connection and what to tell the person. ``writable`` is false for a newer or a write-protected record."""

    connection: sqlite3.Connection
    writable: bool
    message: str = ""
    set_aside: Path | None = None


def _connect(target: str) -> sqlite3.Connection:
    connection = sqlite3.connect(target, timeout=WAIT_SECONDS, isolation_level=None, check_same_thread=False, uri=True)
    connection.text_factory = _text
    connection.execute("PRAGMA foreign_keys = ON")
    return connection


def _text(data: bytes) -> str:
    """Text as it is kept; where it is damaged, so that it is no UTF-8, surrogates stand for its bytes."""
    return data.decode("utf-8", "surrogateescape")


def _uri(path: Path, mode: str) -> str:
    return f"{path.resolve().as_uri()}?mode={mode}"


def schema_version(connection: sqlite3.Connection) -> int:
    """The schema version the file says it has; 0 for an empty one."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


@contextmanager
def whole(connection: sqlite3.Connection) -> Iterator[None]:
    """The rest of a transaction: committed at the end, taken back if anything is raised."""
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def _update(connection: sqlite3.Connection, version: int) -> None:
    """From the tables of ``version`` to those of the next, with what must be worked out from the rows for it."""
    for statement in schema.statements(schema.SCRIPTS[version]):
        connection.execute(statement)
    derived.fill(connection, version + 1)
    connection.execute(f"PRAGMA user_version = {version + 1}")


def migrate(connection: sqlite3.Connection, backups: Path) -> None:
    """Bring the tables to the current version, each step in one transaction, with a backup before the first."""
    if 0 < schema_version(connection) < schema.CURRENT:
        back_up(connection, backups, "before-update")
    while (version := schema_version(connection)) < schema.CURRENT:
        connection.execute("BEGIN IMMEDIATE")
        with whole(connection):
            if schema_version(connection) == version:  # another process may have done it while we waited
                _update(connection, version)
                connection.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")


def _refuse_strangers(connection: sqlite3.Connection, path: Path) -> None:
    """Raises :class:`Damaged` for a database of another program, before anything in it is touched."""
    mark = connection.execute("PRAGMA application_id").fetchone()[0]
    names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if mark not in (0, schema.APPLICATION_ID) or (mark == 0 and names and not names & schema.TABLES):
        raise Damaged(Issue("this database is not a record of Lapwise; it was left as it is", str(path)))


def empty() -> sqlite3.Connection:
    """A record with nothing in it, in memory."""
    connection = _connect(":memory:")
    for version in range(schema.CURRENT):
        _update(connection, version)
    return connection


def set_aside(path: Path) -> Path | None:
    """Rename a damaged record with its side files; nothing is deleted or overwritten. Returns the new name, or None if
    there was nothing to rename."""
    stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S")
    aside, number = path.with_name(f"record-damaged-{stamp}.sqlite3"), 1
    while aside.exists() or _beside(aside, "-wal").exists():
        number += 1
        aside = path.with_name(f"record-damaged-{stamp}-{number}.sqlite3")
    there = False
    for suffix in ("-wal", "-shm", ""):
        with contextlib.suppress(FileNotFoundError):
            _beside(path, suffix).rename(_beside(aside, suffix))
            there = True
    if there and not aside.exists():
        aside.touch()  # so that what its log of changes holds is found by its name
    return aside if there else None


def set_aside_in(folder: Path) -> list[Path]:
    """The damaged records that were set aside, newest first."""
    return sorted(folder.glob("record-damaged-*.sqlite3"), reverse=True)


BringOver = Callable[[sqlite3.Connection, Path], str]
"""Brings what can be read of a file that was set aside into the new record; returns what came of it, in words."""


@contextmanager
def alone(path: Path) -> Iterator[None]:
    """One process at a time begins a record, updates it or sets it aside; the others wait and then look again.

    Where the lock cannot be made (a write-protected folder) nobody can do any of it, and there is no lock.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    with contextlib.ExitStack() as stack:
        try:
            lock = sqlite3.connect(path.with_name(LOCK), timeout=WAIT_SECONDS, isolation_level=None)
            stack.callback(lock.close)
            lock.execute("PRAGMA journal_mode = MEMORY")  # nothing is written, not even on a full disk
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            if code_of(error) not in NOT_WRITABLE:
                raise
        yield


def identity(path: Path) -> tuple[int, int] | None:
    """Which file it is (device and number), whatever its name; None if there is none, or it was emptied."""
    try:
        found = path.stat()
    except OSError:
        return None
    return (found.st_dev, found.st_ino) if found.st_size else None


def let_go(connection: sqlite3.Connection) -> None:
    """Never close a connection whose file was set aside: SQLite would remove the log of the new file by its name.

    The system closes it when the process ends, without that. See "How to corrupt" of SQLite's documentation on files
    renamed while in use.
    """
    import ctypes

    ctypes.pythonapi.Py_IncRef(ctypes.py_object(connection))


def is_gone(path: Path, backups: Path) -> bool:
    """Whether a record that was there is missing or empty: there are good backups of it, or a log of its changes."""
    if _size(path):
        return False
    return _size(_beside(path, "-wal")) > 0 or newest_good_backup(backups) is not None


def gone_message(path: Path, backups: Path) -> str:
    """What to tell the person of a record that is missing or empty although there was one."""
    state = "empty" if path.exists() else "missing"
    return f"the record is {state} although there was one; {_offer(backups)}"


def _offer(backups: Path) -> str:
    good = newest_good_backup(backups)
    if good is None:
        return "there is no good backup"
    return f"bring back the newest good backup with `lapwise record backup --restore {good}`"


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0


def _beside(path: Path, suffix: str) -> Path:
    return path.with_name(path.name + suffix)


def open_database(path: Path, backups: Path, *, readonly: bool, bring_over: BringOver) -> Opened:
    """Open the record's file, which may not exist yet when ``readonly`` is false.

    Raises :class:`LapwiseError` if it can be neither written nor read, :class:`Damaged` if it is damaged and
    ``readonly``. A damaged file is set aside, a new record begun and what can be read brought over; the message says
    so and names the newest good backup. A record that is missing or empty although there are backups of it counts as
    damaged. A record of a newer version is opened for reading only.
    """
    if readonly:
        if is_gone(path, backups):
            raise Damaged(Issue(gone_message(path, backups), str(path)))
        try:
            return _open_for_reading(path, "")
        except sqlite3.Error as error:
            if not is_damage(error):
                raise explain(error, path) from error
        mend = "`lapwise record check --repair` brings all that can be read into a new file"
        raise Damaged(Issue(f"the record is damaged; nothing in it was changed; {mend}; {_offer(backups)}", str(path)))
    try:
        if _size(path):
            with contextlib.suppress(_NotReady):
                return _open(path, backups, at_once=True)
    except sqlite3.Error as error:
        if not is_damage(error):
            raise explain(error, path) from error
    with in_words(path), alone(path):
        return _begin(path, backups, bring_over)


def _begin(path: Path, backups: Path, bring_over: BringOver) -> Opened:
    """Open a record that must be begun, updated or set aside first. Nobody else does the same now."""
    if _size(path):
        try:
            return _open(path, backups)  # another process may have put it right while we waited
        except sqlite3.Error as error:
            if not is_damage(error):
                raise
        state = "damaged"
    elif is_gone(path, backups):
        state = "empty" if path.exists() else "missing"
    else:
        return _open(path, backups)
    return _renewed(path, backups, bring_over, f"the record was {state}")


def begin_anew(path: Path, backups: Path, bring_over: BringOver, still_so: Callable[[], bool]) -> Opened | None:
    """Put a new record with all that can be read in the place of one that opens but is damaged within.

    ``still_so``: asked once nobody else can do the same; if it is false another process has done it: None.
    """
    with in_words(path), alone(path):
        if not still_so():
            return None
        return _renewed(path, backups, bring_over, "the record was damaged")


def _renewed(path: Path, backups: Path, bring_over: BringOver, why: str) -> Opened:
    """A new record takes the place of a damaged one, which is set aside; broken off before, nothing is changed."""
    part = part_of(path)
    writer = _last_writer(path) if _size(path) else None
    try:
        new = _connect(_uri(part, "rwc"))
        try:
            migrate(new, backups)
            brought = f"; {bring_over(new, path)}" if _size(path) or _size(_beside(path, "-wal")) else ""
        finally:
            new.close()
        aside = set_aside(path)
        settle(part, path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    finally:
        if writer is not None:
            writer.execute("ROLLBACK")
            let_go(writer)
    opened = _open(path, backups)
    kept = f" and is set aside as {aside.name}" if aside else ""
    return Opened(
        opened.connection, opened.writable, f"{why}{kept}; a new one was begun{brought}; {_offer(backups)}", aside
    )


def _last_writer(path: Path) -> sqlite3.Connection | None:
    """Holds the right to write to a damaged file, where SQLite can still give it: nobody is in the midst of logging."""
    connection = _connect(_uri(path, "rw"))
    try:
        connection.execute("BEGIN IMMEDIATE")
    except sqlite3.Error:
        let_go(connection)
        return None
    return connection


class _NotReady(Exception):
    """The file must be begun or brought up to date first, by one process alone."""


def _open(path: Path, backups: Path, *, at_once: bool = False) -> Opened:
    """Open to write; ``at_once``: raises :class:`_NotReady` where that takes more than opening."""
    size = _size(path)
    message = ""
    try:
        connection = _connect(_uri(path, "rwc"))
        try:
            if size:
                _refuse_strangers(connection, path)
            version = schema_version(connection)
            if version <= schema.CURRENT:
                mode = connection.execute("PRAGMA journal_mode").fetchone()[0]
                if at_once and (mode != "wal" or version < schema.CURRENT):
                    raise _NotReady
                if mode != "wal":
                    connection.execute("PRAGMA journal_mode = WAL")
                connection.execute("PRAGMA synchronous = FULL")
                if size:
                    _look_over(connection)
                migrate(connection, backups)
                connection.execute("BEGIN IMMEDIATE")
                connection.execute("ROLLBACK")
                return Opened(connection, True)
        except BaseException:
            connection.close()
            raise
        connection.close()
    except sqlite3.OperationalError as error:
        if not size or code_of(error) not in NOT_WRITABLE:
            raise
        message = "the record is write-protected: it can be read, but nothing can be logged"
    return _open_for_reading(path, message)


def _open_for_reading(path: Path, message: str) -> Opened:
    connection = _connect(_uri(path, "ro"))
    try:
        _refuse_strangers(connection, path)
        _look_over(connection)
    except sqlite3.OperationalError as error:
        connection.close()
        if code_of(error) not in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN):
            raise
        # a write-protected folder: SQLite cannot make its side file; nobody can be writing either
        connection = _connect(_uri(path, "ro") + "&immutable=1")
        _refuse_strangers(connection, path)
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
    source = _connect(_uri(path, "ro"))
    copy = _connect(":memory:")
    source.backup(copy)
    source.close()
    for version in range(schema_version(copy), schema.CURRENT):
        _update(copy, version)
    return copy


def _look_over(connection: sqlite3.Connection) -> None:
    """Cheap checks that find a truncated or foreign file at once; `lapwise record check` does the thorough one."""
    version = schema_version(connection)
    names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if version and not set(COLUMNS) <= names:
        raise damage("tables are missing")
    pages = connection.execute("PRAGMA page_count").fetchone()[0]
    for table in COLUMNS:
        if table in names:
            connection.execute(f"SELECT * FROM {table} ORDER BY seq DESC LIMIT 1").fetchone()
    if version and not pages:
        raise damage("the file is empty")
