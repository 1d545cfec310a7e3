"""What commands share: knowledge, record and machine opened, a whole new file, long work that can be stopped.

Problems of own files are said on stderr.
"""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import click

from lapwise.engine.errors import BadInput, Damaged, Issue, LapwiseError
from lapwise.engine.folders import Folders, folders
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.newfile import new_file
from lapwise.tui.cli.output import data_given, note
from lapwise.tui.present.words import left

if TYPE_CHECKING:
    from lapwise.engine.case import Case
    from lapwise.engine.diagnosis.model import Diagnosis
    from lapwise.engine.diagnosis.session import Session
    from lapwise.engine.machine import MachineProfile
    from lapwise.engine.record.model import OwnLap
    from lapwise.engine.record.store import Record

CELLS = 20
"""Cells of the bar of long work."""


def chosen() -> Folders:
    """The folders of --data, LAPWISE_DATA or the user's own. Raises :class:`BadInput` where that is no folder."""
    data = data_given()
    try:
        found = folders(data)
    except RuntimeError:
        raise BadInput(Issue("there is no such home folder", "--data", data or "~")) from None
    with contextlib.suppress(OSError):  # a folder that is closed to us: what is read in it says so, advice goes on
        if found.data.exists() and not found.data.is_dir():
            raise BadInput(Issue("this is not a folder", "--data", str(found.data)))
    return found


def open_knowledge(where: Folders) -> Knowledge:
    """Shipped and own knowledge; what is wrong with own files is said and left out."""
    from lapwise.engine.knowledge.loader import load  # start-up time

    loaded = load(where)
    for problem in loaded.problems:
        note(f"lapwise: your own files: {problem}")
    return loaded.knowledge


def opened() -> tuple[Folders, Knowledge]:
    """The folders of :func:`chosen` with what is known there."""
    where = chosen()
    return where, open_knowledge(where)


def known(value: str, among: Iterable[str], what: str, option: str) -> str:
    """``value``, if it is ``among`` what is known. Raises :class:`BadInput` with what comes near."""
    among = tuple(among)
    if value not in among:
        raise BadInput.unknown(f"no such {what}", value, among, option)
    return value


def open_record(where: Folders) -> Record | None:
    """The person's record if there is one; never creates it. A damaged one is said, and advice goes on without it."""
    from lapwise.engine.record.store import Record  # start-up time

    try:
        if not where.data.exists():
            return None
        record = Record.open(where, readonly=True)
        if not where.record.exists():
            return None
    except LapwiseError as error:
        _without(error, "your record")
        return None
    except OSError as error:
        _without(Damaged(Issue(f"cannot be reached: {error.strerror}", str(where.record))), "your record")
        return None
    if record.message:
        note(f"lapwise: {record.message}")
    return record


def open_profile(where: Folders) -> MachineProfile | None:
    """The machine profile if one was set. A damaged one is said, and advice goes on in words that need none."""
    from lapwise.engine.machine import load_profile  # start-up time

    try:
        return load_profile(where)
    except LapwiseError as error:
        _without(error, "your machine profile")
        return None


def answered(session: Session, case: Case) -> Diagnosis:
    """The session's answer; a record that turns out to be damaged is said and left out, and advice goes on."""
    try:
        return session.answer(case)
    except Damaged as error:
        if session.record is None:
            raise
        _without(error, "your record")
        session.record = None
        return session.answer(case)


def own_laps(where: Folders) -> tuple[OwnLap, ...]:
    """The person's own laps; none, and said so, where the record cannot be read."""
    record = open_record(where)
    if record is None:
        return ()
    try:
        return tuple(record.laps())
    except LapwiseError as error:
        _without(error, "your own laps")
        return ()
    finally:
        record.close()


def _without(error: LapwiseError, what: str) -> None:
    for problem in error.problems:
        note(f"lapwise: {problem}")
    note(f"lapwise: this answer is given without {what}")


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


@contextmanager
def long_work(word: str) -> Iterator[Callable[[int, float | None], None]]:
    """Shows how far it is; ctrl+c ends it, and says that all is as it was. Silent where stderr is no terminal.

    Gives what takes the rows done, and the share from 0 to 1 if it is known: a bar with the time left, else a count.
    """
    began, on = time.monotonic(), sys.stderr.isatty()

    def write(words: str, end: str = "") -> None:
        if on:
            sys.stderr.write(f"\r{words:<78}{end}")
            sys.stderr.flush()

    def tell(done: int, share: float | None) -> None:
        if share is None:
            write(f"{word}: {done} rows" if done else f"{word} …")
            return
        share = min(share, 1.0)
        cells = round(share * CELLS)
        rest = left(time.monotonic() - began, share)
        bar = f"{word} [{'#' * cells}{'.' * (CELLS - cells)}] {100 * share:3.0f} %"
        write(bar + (f", {rest} (ctrl+c stops it)" if rest else ""))

    try:
        yield tell
    except KeyboardInterrupt:
        write("", "\r")
        note("lapwise: stopped; everything is as it was")
        raise click.Abort from None
    finally:
        write("", "\r")


def help_text(name: str) -> str:
    """A page of the help by its name without ending."""
    from importlib.resources import files  # start-up time

    return (files("lapwise.tui") / "help" / f"{name}.md").read_text(encoding="utf-8")


def sure(question: str, what: str, where: str, *, seen: bool = True) -> None:
    """Ask before it is done. Where nobody can be asked, or what it is was not ``seen``, raises :class:`BadInput`."""
    if not sys.stdin.isatty() or not seen:
        raise BadInput(Issue(what, where))
    click.confirm(question, abort=True, err=True)
