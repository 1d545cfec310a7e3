"""A file that is there whole under its name, or not at all: a new one, or one of our own written anew; and read."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO


def part_of(path: Path) -> Path:
    """A name beside ``path`` that nobody else uses, for what is not finished yet."""
    return path.with_name(f".{path.name[:100]}-{secrets.token_hex(4)}.part")


def settle(part: Path, path: Path) -> None:
    """Give a finished, synced file its name. Raises ``FileExistsError`` if something has that name already."""
    try:
        os.link(part, path)
    except FileExistsError:
        raise _taken(path) from None
    except OSError:  # a file system without hard links
        if os.path.lexists(path):
            raise _taken(path) from None
        os.rename(part, path)
    else:
        part.unlink()
    _sync_folder(path.parent)


def write_anew(path: Path, text: str) -> None:
    """Put ``text`` in the place of what one of our own files holds. It is on disk when this returns; broken off it
    leaves the file as it was. Raises ``OSError``."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = part_of(path)
    try:
        with part.open("x", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    _sync_folder(path.parent)


def read_json(path: Path, most: int) -> Any:
    """What one of our own small files holds. Raises ``FileNotFoundError`` where there is none, ``OSError``, and
    ``ValueError`` for what is no JSON or over ``most`` bytes."""
    with path.open("rb") as file:
        raw = file.read(most + 1)
    if len(raw) > most:
        raise ValueError("it is far too large")
    try:
        return json.loads(raw)
    except RecursionError:
        raise ValueError("it is nested far too deep") from None


def _sync_folder(path: Path) -> None:
    """Make a new name itself durable, where the system lets a folder be synced."""
    with contextlib.suppress(OSError):
        folder = os.open(path, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


@contextmanager
def new_file(path: Path) -> Iterator[BinaryIO]:
    """To write the bytes of a new file: it has its name only when the block ended and all of it is on disk.

    Broken off (a full disk, ctrl+c, an error) it leaves nothing; killed, a hidden file that ends in ``.part``. Raises
    ``FileExistsError`` if something has that name already, and ``OSError``.
    """
    if os.path.lexists(path):
        raise _taken(path)
    part = part_of(path)
    try:
        with part.open("xb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        settle(part, path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def _taken(path: Path) -> FileExistsError:
    return FileExistsError(errno.EEXIST, "there is such a file already; it was left as it is", str(path))
