"""Loads everything known: the shipped files, and over them the person's own; from the cache if nothing has changed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from lapwise.engine.errors import Issue
from lapwise.engine.knowledge import cache, files
from lapwise.engine.knowledge.model import Knowledge

if TYPE_CHECKING:
    from lapwise.engine.folders import Folders


@dataclass(frozen=True, slots=True)
class Loaded:
    """``problems``: what is wrong in the person's own files; entries that have one are left out of ``knowledge``."""

    knowledge: Knowledge
    problems: tuple[Issue, ...] = ()


def load(folders: Folders | None = None) -> Loaded:
    """The shipped knowledge, with the person's own files over it if ``folders`` are given.

    An own entry replaces the shipped one of the same id; new ids are added. Raises :class:`Damaged` with every
    problem if the shipped files cannot be used. What was read is kept in ``folders.cache`` for the next start.
    """
    shipped = files.shipped_files()
    if folders is None:
        return build(shipped, ())
    own = files.own_files(folders)
    stamp = files.stamp((*shipped, *own))
    if stamp and (found := cache.fetch(folders.cache, stamp)) is not None:
        return Loaded(*found)
    loaded = build(shipped, own)
    if stamp and stamp == files.stamp((*files.shipped_files(), *files.own_files(folders))):
        cache.store(folders.cache, stamp, (loaded.knowledge, loaded.problems))
    return loaded


def load_shipped(folders: Folders) -> Knowledge:
    """The shipped knowledge without the person's own files. Raises :class:`Damaged` as :func:`load`."""
    if not files.own_files(folders):
        return load(folders).knowledge
    return build(files.shipped_files(), ()).knowledge


def build(shipped: Iterable[files.File], own: Iterable[files.File]) -> Loaded:
    """Reads the files without any cache; as :func:`load` else."""
    # A warm start does without the reader and all that hangs on it.
    from lapwise.engine.knowledge.overlay import assembled

    return Loaded(*assembled(shipped, own))
