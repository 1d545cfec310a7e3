"""What SQLite complains of, told apart and put into words for a person."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from lapwise.engine.errors import Damaged, Issue, LapwiseError

_DAMAGED = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
NOT_WRITABLE = frozenset({sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM})

_WORDS = {
    sqlite3.SQLITE_FULL: "the disk is full: nothing was logged. Make room and log it again",
    sqlite3.SQLITE_IOERR: "the disk refused to write (full or faulty): nothing was logged",
    **dict.fromkeys(
        (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED),
        "another Lapwise has been writing to the record for a long time: nothing was logged, try again",
    ),
    **dict.fromkeys(
        NOT_WRITABLE,
        "the record cannot be written there: nothing was logged. See `lapwise where`, "
        "or give another folder with --data",
    ),
}
"""What to tell a person of an error, by SQLite's code."""


def code_of(error: sqlite3.Error) -> int:
    """SQLite's primary code; 0 where the error bears none."""
    return (getattr(error, "sqlite_errorcode", 0) or 0) & 0xFF


def is_damage(error: sqlite3.Error) -> bool:
    """Whether SQLite says that the file's content is damaged (and not that it is busy, full or protected)."""
    return code_of(error) in _DAMAGED


def explain(error: sqlite3.Error, path: Path) -> LapwiseError:
    """The error in words for a person. Nothing was written when a write fails: SQLite takes it back whole."""
    if is_damage(error):
        what = "the record is damaged: `lapwise record check --repair` brings what can be read into a new file"
        return Damaged(Issue(what, str(path)))
    return LapwiseError(Issue(_WORDS.get(code_of(error), f"the record could not be used: {error}"), str(path)))


@contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Turns SQLite's errors into errors for a person."""
    try:
        yield
    except sqlite3.Error as error:
        raise explain(error, path) from error


def damage(words: str) -> sqlite3.DatabaseError:
    """An error as SQLite itself raises it for a damaged file."""
    error = sqlite3.DatabaseError(words)
    error.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
    return error
