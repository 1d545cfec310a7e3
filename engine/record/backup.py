"""Copies of the record: made while it is in use, checked before they count, never written over."""

from __future__ import annotations

import errno
import sqlite3
import time
from datetime import UTC, datetime
from pathlib import Path

from lapwise.engine.newfile import part_of, settle
from lapwise.engine.record.model import COLUMNS
from lapwise.engine.record.work import Progress

PAGES_AT_ONCE = 256
KEEP_DAILY = 14
"""Backups made by themselves beyond the newest so many are removed; those before an update or on request stay."""


def unchanging(path: Path) -> str:
    """The name by which SQLite opens a file that nobody writes to; for ``uri``."""
    return f"{path.resolve().as_uri()}?mode=ro&immutable=1"


def is_good(path: Path) -> bool:
    """Whether the file is a whole record database (SQLite's full check; reads all of it)."""
    try:
        connection = sqlite3.connect(unchanging(path), uri=True)
    except (sqlite3.Error, OSError):
        return False
    try:
        if connection.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok":
            return False
        return bool(connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'steps'").fetchone()[0])
    except sqlite3.Error:
        return False
    finally:
        connection.close()


def backups_in(folder: Path) -> list[Path]:
    """All backups, newest first: by the time in the name, then by when they were written."""
    stamp = len("record-20260131-120000")
    return sorted(folder.glob("record-*.sqlite3"), key=lambda p: (p.name[:stamp], p.stat().st_mtime_ns), reverse=True)


def newest_good_backup(folder: Path) -> Path | None:
    """The newest backup that passes the check, or None."""
    return next((path for path in backups_in(folder) if is_good(path)), None)


def back_up(
    connection: sqlite3.Connection,
    folder: Path,
    why: str,
    to: Path | None = None,
    progress: Progress | None = None,
) -> Path:
    """Copy the whole record, as of now, into a new file and check it. ``why``: a word for the file name.

    Written under a name of its own first, so that a half-written copy never looks like a backup and nothing of the
    person's is touched; broken off it leaves nothing. Raises ``OSError`` or ``sqlite3.Error``; ``FileExistsError`` if
    ``to`` is there already. ``progress``: told of pages.
    """
    if to is None:
        folder.mkdir(parents=True, exist_ok=True)
        stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S")
        to, number = folder / f"record-{stamp}-{why}.sqlite3", 1
        while to.exists():
            number += 1
            to = folder / f"record-{stamp}-{number:02d}-{why}.sqlite3"
    elif to.exists():
        raise FileExistsError(errno.EEXIST, "there is such a file already; it was left as it is", str(to))

    def told(_: int, left: int, pages: int) -> None:
        if progress:
            progress(pages - left, 1 - left / max(pages, 1))

    half = part_of(to)
    try:
        target = sqlite3.connect(half, isolation_level=None)
        try:
            connection.backup(target, pages=PAGES_AT_ONCE if progress else -1, progress=told)
            target.execute("PRAGMA journal_mode = DELETE")
        finally:
            target.close()
        if not is_good(half):
            raise sqlite3.DatabaseError("the copy did not pass its check")
        settle(half, to)
    except BaseException:
        half.unlink(missing_ok=True)
        raise
    return to


def missing_rows(connection: sqlite3.Connection, backup: Path) -> int | None:
    """How many rows the backup holds that the record does not; None if that cannot be read. Outside a transaction."""
    try:
        connection.execute("ATTACH ? AS other", (unchanging(backup),))
    except sqlite3.Error:
        return None
    try:
        return sum(
            int(
                connection.execute(
                    f"SELECT count(*) FROM other.{table} WHERE id NOT IN (SELECT id FROM main.{table})"
                ).fetchone()[0]
            )
            for table in COLUMNS
        )
    except sqlite3.Error:
        return None
    finally:
        connection.execute("DETACH other")


def prune(folder: Path, connection: sqlite3.Connection) -> None:
    """Remove the oldest daily backups beyond :data:`KEEP_DAILY`, save any that holds a row which the record lacks or
    that cannot be read; and what killed processes left half-written a day ago and more."""
    for path in [p for p in backups_in(folder) if p.stem.endswith("-daily")][KEEP_DAILY:]:
        if missing_rows(connection, path) == 0:
            path.unlink(missing_ok=True)
    for path in folder.glob(".record-*.part*"):
        if time.time() - path.stat().st_mtime > 86_400:
            path.unlink(missing_ok=True)
