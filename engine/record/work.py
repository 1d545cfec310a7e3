"""Long work on the record: it tells how far it is and can be stopped; stopped, it leaves all as it was."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from lapwise.engine.errors import Issue, LapwiseError

Progress = Callable[[int, float | None], None]
"""Called now and then with the rows done and the share of all that is done, 0 to 1 (None if all is not known).

Whatever it raises ends the work, and everything is as it was before: :class:`Stopped` is for a person who wants so.
"""
EVERY = 1000
"""Rows between two calls."""
READING = 0.7
"""Share of the time of an import that its rows take; the rest works out what they change. Measured, about."""
_STEPS_OF_SQLITE = 100_000


class Stopped(LapwiseError):
    """A person stopped long work (exit 1)."""

    def __init__(self) -> None:
        super().__init__(Issue("stopped: everything is as it was"))


@contextmanager
def beating(connection: sqlite3.Connection, beat: Callable[[], None]) -> Iterator[None]:
    """Calls ``beat`` now and then while SQLite works on one long statement; what it raises ends the statement."""
    raised: list[BaseException] = []

    def told() -> int:
        try:
            beat()
        except BaseException as error:
            raised.append(error)
            return 1
        return 0

    connection.set_progress_handler(told, _STEPS_OF_SQLITE)
    try:
        yield
    except sqlite3.OperationalError:
        if raised:
            raise raised[0] from None
        raise
    finally:
        connection.set_progress_handler(None, 0)
