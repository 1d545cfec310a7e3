"""A new file that is there whole under its name, or not at all; nothing is ever written over."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO


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
    with contextlib.suppress(OSError):  # not every system lets a folder be synced
        folder = os.open(path.parent, os.O_RDONLY)
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
