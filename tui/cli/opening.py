"""Opens what a command needs: knowledge, record, machine profile. Problems of own files are said on stderr."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

from lapwise.engine.errors import BadInput, Damaged, Issue, LapwiseError
from lapwise.engine.folders import Folders, folders
from lapwise.engine.knowledge.model import Knowledge
from lapwise.tui.cli.output import note

if TYPE_CHECKING:
    from lapwise.engine.case import Case
    from lapwise.engine.diagnosis.model import Diagnosis
    from lapwise.engine.diagnosis.session import Session
    from lapwise.engine.machine import MachineProfile
    from lapwise.engine.record.model import OwnLap
    from lapwise.engine.record.store import Record


def chosen(data: str | None) -> Folders:
    """The folders of --data, else those of the group's --data, LAPWISE_DATA or the user's own.

    Raises :class:`BadInput` where that is no folder.
    """
    import click

    context = click.get_current_context(silent=True)
    outer = context.obj.get("data") if context is not None and isinstance(context.obj, dict) else None
    try:
        found = folders(data or outer)
    except RuntimeError:
        raise BadInput(Issue("there is no such home folder", "--data", str(data or outer or "~"))) from None
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


def opened(data: str | None) -> tuple[Folders, Knowledge]:
    """The folders of :func:`chosen` with what is known there."""
    where = chosen(data)
    return where, open_knowledge(where)


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
