"""What commands that keep something share: the record opened, a whole new file, long work that can be stopped."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import click

from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.folders import Folders
from lapwise.engine.newfile import new_file
from lapwise.tui.cli.output import note
from lapwise.tui.present.words import left

if TYPE_CHECKING:
    from lapwise.engine.record.store import Record

CELLS = 20
"""Cells of the bar of long work."""


def reading(where: Folders) -> Record:
    """The record for reading; an empty one if nothing was logged yet."""
    from lapwise.engine.record.store import Record  # start-up time

    record = Record.open(where, readonly=True)
    if record.message:
        note(f"lapwise: {record.message}")
    return record


@contextmanager
def writing(where: Folders) -> Iterator[Record]:
    """The record, opened for writing; what the person should know is said on stderr."""
    from lapwise.engine.record.store import Record  # start-up time

    with Record.open(where) as record:
        said = record.message
        if said:
            note(f"lapwise: {said}")
        yield record
        if record.message != said:  # it was found damaged, or was begun, while it was written
            note(f"lapwise: {record.message}")
    if record.trouble:
        note(f"lapwise: {record.trouble}")


@contextmanager
def whole_file(path: Path) -> Iterator[BinaryIO]:
    """A new file of the person's, whole or not there; one that is there already is a :class:`BadInput`."""
    try:
        with new_file(path) as file:
            yield file
    except FileExistsError:
        raise BadInput(Issue("there is such a file already; it was left as it is", str(path))) from None


class Progress:
    """A bar on stderr with the time left, or a count where that is not known; silent where stderr is no terminal."""

    def __init__(self, word: str) -> None:
        self._word = word
        self._on = sys.stderr.isatty()
        self._began = time.monotonic()

    def tell(self, done: int, share: float | None) -> None:
        """Show how far it is: ``done`` rows, and the share from 0 to 1 if it is known."""
        if not self._on:
            return
        if share is None:
            words = f"{self._word}: {done} rows" if done else f"{self._word} …"
        else:
            share = min(share, 1.0)
            cells = round(share * CELLS)
            words = f"{self._word} [{'#' * cells}{'.' * (CELLS - cells)}] {100 * share:3.0f} %"
            if rest := left(time.monotonic() - self._began, share):
                words += f", {rest} (ctrl+c stops it)"
        sys.stderr.write(f"\r{words:<78}")
        sys.stderr.flush()

    def end(self) -> None:
        """Clear the line."""
        if self._on:
            sys.stderr.write("\r" + " " * 78 + "\r")


@contextmanager
def long_work(word: str) -> Iterator[Callable[[int, float | None], None]]:
    """Shows how far it is; ctrl+c ends it, and says that all is as it was."""
    progress = Progress(word)
    try:
        yield progress.tell
    except KeyboardInterrupt:
        progress.end()
        note("lapwise: stopped; everything is as it was")
        raise click.Abort from None
    finally:
        progress.end()
