"""The shipped knowledge and one advice session on it, read once for all tests of a process that only ask."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from functools import cache
from pathlib import Path

from lapwise.engine.diagnosis import Session
from lapwise.engine.knowledge import cache as kept
from lapwise.engine.knowledge.files import shipped_files, stamp
from lapwise.engine.knowledge.loader import load
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words.kept import kept_lexicon


@cache
def knowledge() -> Knowledge:
    """The shipped knowledge."""
    return load().knowledge


@cache
def session() -> Session:
    """A session on it, without a record or a machine."""
    return Session(knowledge())


@cache
def read_cache() -> Path:
    """A cache of the shipped files and their words, of what this process has read already."""
    folder = Path(tempfile.mkdtemp(prefix="lapwise-read-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    kept.store(folder, stamp(shipped_files()) or "", (knowledge(), ()))
    kept_lexicon(knowledge(), folder)
    return folder


def warm(data: Path) -> Path:
    """A data folder for which the shipped files are read already, as after any other command."""
    shutil.copytree(read_cache(), data / "cache")
    return data
