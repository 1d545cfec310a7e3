"""Takes a file of knowledge into the person's own, and sets one aside again. Nothing is lost by either."""

from __future__ import annotations

import os
import tempfile
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

from lapwise.engine.errors import BadInput, Damaged, Issue, NothingFound
from lapwise.engine.folders import Folders
from lapwise.engine.knowledge import files
from lapwise.engine.knowledge.entries import entries_of
from lapwise.engine.knowledge.loader import build
from lapwise.engine.knowledge.model import Experience, Knowledge
from lapwise.engine.newfile import new_file

ASIDE = "set-aside"
EXPERIENCE, SENT = "experience.yaml", "sent.yaml"
"""What a file that was sent without a name is called: one with a guild's experience alone, and any other."""


@dataclass(frozen=True, slots=True)
class Offered:
    """A file that may be taken. ``holds``: list to how many entries. ``says``: where it would touch what protects."""

    name: str
    content: bytes
    holds: dict[str, int]
    says: tuple[str, ...]
    experience: Experience | None
    """What it says of everything, if it holds a guild's experience."""
    knowledge: Knowledge
    """All that would be known with it."""

    @property
    def only_numbers(self) -> bool:
        """Whether it holds experience and nothing else: no rule, no stone, nothing that could take protection away."""
        return set(self.holds) == {"experience"}


def look_at(path: Path, where: Folders) -> Offered:
    """Read a file as it would count here. Raises :class:`BadInput`; :class:`Damaged` with all that is wrong in it."""
    if path.suffix.lower() not in (".yaml", ".yml") or path.name.startswith("."):
        raise BadInput(Issue("a knowledge file ends in .yaml", "lapwise knowledge add", path.name))
    if not path.exists():
        raise BadInput(Issue("no such file", "lapwise knowledge add", str(path)))
    return _offered(files.files_in(path)[0], where, path.name)


def look_at_sent(content: bytes, called: str, where: Folders) -> Offered:
    """As :func:`look_at`, for what came without a file; ``called``: what complaints name in its place."""
    with tempfile.TemporaryDirectory(prefix="lapwise-") as folder:
        path = Path(folder) / SENT
        path.write_bytes(content)
        return _offered(replace(files.files_in(path)[0], name=called), where)


def _offered(offered: files.File, where: Folders, name: str = "") -> Offered:
    content, problem = files.content(offered)
    if problem:
        raise BadInput(problem)
    entries, wrong = entries_of(offered, content)
    wrong += tuple(p for entry in entries for p in entry.problems)
    if wrong:
        raise Damaged(wrong)
    if not entries:
        raise BadInput(Issue("there is nothing in this file", offered.name))
    holds = dict(Counter(entry.list for entry in entries))
    name = name or (EXPERIENCE if set(holds) == {"experience"} else SENT)
    own = tuple(f for f in files.own_files(where) if Path(str(f.path)).name != name)
    loaded = build(files.shipped_files(), (*own, offered))
    if problems := [p for p in loaded.problems if p.where.startswith(offered.name)]:
        raise Damaged(problems)
    said = tuple(r.what for r in loaded.knowledge.replaced if r.where.startswith(offered.name))
    whole = next((e.value for e in entries if e.list == "experience" and e.id == "all"), None)
    return Offered(name, content, holds, said, whole, loaded.knowledge)


def take(offered: Offered, where: Folders) -> tuple[Path, Path | None]:
    """Copy it to the person's own knowledge; one of the same name is set aside. Returns both places."""
    target = where.own_knowledge / offered.name
    where.own_knowledge.mkdir(parents=True, exist_ok=True)
    aside = _set_aside(target, where) if os.path.lexists(target) else None
    with new_file(target) as file:
        file.write(offered.content)
    return target, aside


def put_away(name: str, where: Folders) -> Path:
    """Set an own file aside, by its name; returns where it is now. Raises :class:`NothingFound`."""
    own = {Path(str(f.path)).name: Path(str(f.path)) for f in files.own_files(where)}
    if name not in own:
        if not own:
            raise NothingFound(Issue("there are no files of your own", "lapwise knowledge remove", name))
        raise BadInput.unknown("no such file of your own", name, own, "lapwise knowledge remove")
    return _set_aside(own[name], where)


def _set_aside(path: Path, where: Folders) -> Path:
    folder = where.data / ASIDE
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(1, 10_000):
        target = folder / (path.name if number == 1 else f"{path.stem}-{number}{path.suffix}")
        if not os.path.lexists(target):
            os.rename(path, target)
            return target
    raise BadInput(Issue("too many files of this name are set aside", str(folder), path.name))
