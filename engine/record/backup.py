"""Copies of the record: made while it is in use, checked before they count, never written over."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime
from pathlib import Path

KEEP_DAILY = 14
"""Backups made by themselves beyond the newest so many are removed; those before an update or on request stay."""


def is_good(path: Path) -> bool:
    """Whether the file is a whole record database (SQLite's full check; reads all of it)."""
    try:
        connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro&immutable=1", uri=True)
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


def back_up(connection: sqlite3.Connection, folder: Path, why: str, to: Path | None = None) -> Path:
    """Copy the whole record, as of now, into a new file and check it. ``why``: a word for the file name.

    Written under another name first, so that a half-written copy never looks like a backup. Raises ``OSError`` or
    ``sqlite3.Error``; ``FileExistsError`` if ``to`` is there already.
    """
    if to is None:
        folder.mkdir(parents=True, exist_ok=True)
        stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S")
        to, number = folder / f"record-{stamp}-{why}.sqlite3", 1
        while to.exists():
            number += 1
            to = folder / f"record-{stamp}-{number:02d}-{why}.sqlite3"
    elif to.exists():
        raise FileExistsError(17, "there is such a file already; it was left as it is", str(to))
    half = to.with_name(to.name + ".part")
    half.unlink(missing_ok=True)
    target = sqlite3.connect(half, isolation_level=None)
    try:
        connection.backup(target)
        target.execute("PRAGMA journal_mode = DELETE")
    finally:
        target.close()
    if not is_good(half):
        raise sqlite3.DatabaseError("the copy did not pass its check")
    half.rename(to)
    return to


def prune(folder: Path) -> None:
    """Remove the oldest daily backups beyond :data:`KEEP_DAILY`."""
    for path in [p for p in backups_in(folder) if p.stem.endswith("-daily")][KEEP_DAILY:]:
        path.unlink(missing_ok=True)
