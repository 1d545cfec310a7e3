"""The files knowledge is read from: the shipped ones and the person's own, with a stamp that tells when one changed."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from lapwise.engine.errors import BadInput, Issue

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

    from lapwise.engine.folders import Folders

SHIPPED = ("lapwise.knowledge", "lapwise.rules")
MAX_FILES = 1000
MOST_DEPTH = 20
MOST_OWN_BYTES = 4_000_000
"""Of all own files together: several times what is shipped; a second or two is read for each million."""
_ENDINGS = (".yaml", ".yml")


@dataclass(frozen=True, slots=True)
class File:
    """One file. ``name`` is what messages call it; ``stamp`` changes with it, "" if it has none.

    ``problem``: why nothing can be read here.
    """

    name: str
    path: Path | Traversable
    own: bool
    stamp: str
    problem: Issue | None = None

    @property
    def theme(self) -> str:
        """The file's name without its ending: the theme of the rules in it."""
        return self.path.name.rsplit(".", 1)[0]


def shipped_files() -> tuple[File, ...]:
    """Every YAML file of the installed knowledge and rules, in a fixed order."""
    out: list[File] = []
    for package in SHIPPED:
        short = package.rpartition(".")[2]
        for base in import_module(package).__path__:
            if os.path.isdir(base):
                out.extend(_walk(Path(base), short, own=False))
            else:
                # Not plain files (a zip, say): the slower way that works everywhere.
                from importlib.resources import files

                out.extend(_resources(files(package), short))
    return tuple(sorted(out, key=lambda f: f.name))


def own_files(folders: Folders) -> tuple[File, ...]:
    """Every YAML file among the person's own knowledge and rules; none if the folders are not there."""
    out: list[File] = []
    for base in (folders.own_knowledge, folders.own_rules):
        out.extend(_walk(base, str(base), own=True))
    return tuple(sorted(out, key=lambda f: f.name))


def files_in(path: Path) -> tuple[File, ...]:
    """The files of one folder of own knowledge (with ``knowledge`` and ``rules`` in it, or YAML files), or one file."""
    if not path.is_dir():
        return (_file(path, str(path), own=True),)
    inner = [path / name for name in ("knowledge", "rules") if (path / name).is_dir()] or [path]
    return tuple(sorted((f for base in inner for f in _walk(base, str(base), own=True)), key=lambda f: f.name))


def _walk(base: Path, name: str, *, own: bool) -> Iterator[File]:
    """All YAML files below a folder, also through links; hidden ones are left out. A folder that is not there is empty.

    What cannot be read comes as a file with a problem.
    """
    waiting = [(base, name, 0)]
    seen: set[tuple[int, int]] = set()
    while waiting:
        folder, inner, depth = waiting.pop()
        try:
            found = os.stat(folder)
            if (found.st_dev, found.st_ino) in seen:
                yield _unread(folder, inner, own, "a link to a folder that has already been read")
                continue
            seen.add((found.st_dev, found.st_ino))
            if depth > MOST_DEPTH:
                yield _unread(folder, inner, own, f"folders are nested too deep: at most {MOST_DEPTH} levels are read")
                continue
            with os.scandir(folder) as entries:
                sorted_entries = sorted(entries, key=lambda e: e.name)
        except FileNotFoundError:
            if os.path.islink(folder):
                yield _unread(folder, inner, own, "a link to a folder that is not there")
            continue
        except OSError as error:
            yield _unread(folder, inner, own, f"this folder cannot be read: {error.strerror or error}")
            continue
        for entry in sorted_entries:
            if entry.name.startswith(("__pycache__", ".")):
                continue
            if os.path.isdir(entry.path) or (entry.is_symlink() and not os.path.exists(entry.path)):
                waiting.append((Path(entry.path), f"{inner}/{entry.name}", depth + 1))
            elif entry.name.lower().endswith(_ENDINGS):
                yield _file(Path(entry.path), f"{inner}/{entry.name}", own=own)


def _unread(path: Path, name: str, own: bool, what: str) -> File:
    if own:
        what += "; nothing in it is used"
    return File(name, path, own, what, Issue(what, name))


def _file(path: Path, name: str, *, own: bool) -> File:
    """A file with its stamp. The content of an own one is looked at: an editor may well keep size and time."""
    try:
        found = os.stat(path)
        stamp = f"{found.st_size}.{found.st_mtime_ns}.{found.st_ctime_ns}.{stat.S_IFMT(found.st_mode)}"
        if own and stat.S_ISREG(found.st_mode):
            with path.open("rb") as stream:
                stamp += "." + hashlib.blake2b(stream.read(MOST_OWN_BYTES), digest_size=16).hexdigest()
    except OSError as error:
        return File(name, path, own, f"unreadable {error.strerror}")
    return File(name, path, own, stamp)


def _resources(folder: Traversable, name: str) -> Iterator[File]:
    for entry in sorted(folder.iterdir(), key=lambda e: e.name):
        inner = f"{name}/{entry.name}"
        if entry.is_dir():
            yield from _resources(entry, inner)
        elif entry.name.lower().endswith(_ENDINGS):
            yield File(inner, entry, False, "")


def content(file: File) -> tuple[bytes, Issue | None]:
    """The bytes of a file (one more than the reader takes at most), or a problem that says why there are none."""
    from lapwise.engine.knowledge.reader import MAX_BYTES  # start-up time

    if file.problem is not None:
        return b"", file.problem
    try:
        if isinstance(file.path, Path) and not stat.S_ISREG(os.stat(file.path).st_mode):
            return b"", Issue("this is not a plain file", file.name)
        with file.path.open("rb") as stream:
            return stream.read(MAX_BYTES + 1), None
    except OSError as error:
        return b"", Issue(f"the file cannot be read: {error.strerror or error}", file.name)


def replace_text(path: Path, text: str) -> None:
    """Write a file anew, whole or not at all. Raises :class:`BadInput` if the folder cannot be written."""
    from lapwise.engine.newfile import write_anew  # start-up time

    try:
        write_anew(path, text)
    except OSError as error:
        raise BadInput(Issue(f"the file cannot be written: {error.strerror or error}", str(path))) from None


def digest(contents: Iterable[tuple[str, bytes]]) -> str:
    """A hash over names and contents: the same files give the same digest wherever they lie."""
    total = hashlib.blake2b(digest_size=16)
    for name, data in contents:
        total.update(hashlib.blake2b(name.encode("utf-8", "surrogatepass"), digest_size=16).digest())
        total.update(hashlib.blake2b(data, digest_size=16).digest())
    return total.hexdigest()


def stamp(files: Sequence[File], code: Path | None = None) -> str | None:
    """A hash over the names and stamps of ``files`` and of the code that reads them; None if a file has no stamp.

    ``code``: the folder of that code, the loader's own if it is not said.
    """
    if not all(file.stamp for file in files):
        return None
    total = hashlib.blake2b(digest_size=16)
    for file in (*files, *_code(code or Path(__file__).parent)):
        total.update(f"{file.name}\0{file.own}\0{file.stamp}\0".encode("utf-8", "surrogatepass"))
    return total.hexdigest()


def _code(here: Path) -> Iterator[File]:
    """The modules that decide what is made of the files: a cache made by other code is not used."""
    with os.scandir(here) as found:
        names = sorted(entry.name for entry in found if entry.name.endswith(".py"))
    for path in (*(here / name for name in names), here.parent / "slots.py"):
        yield _file(path, path.name, own=False)
