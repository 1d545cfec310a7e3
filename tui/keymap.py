"""A person's own keys: ``keys.yaml`` in the config folder, action to key; and the other choices kept there."""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from lapwise.engine.errors import Issue, nearest
from lapwise.engine.newfile import read_json
from lapwise.tui.actions import ACTIONS, AREAS, Action

KEYS_FILE = "keys.yaml"
CHOICES_FILE = "screens.json"
MOST_BYTES = 100_000
LONGEST_KEY = 80
_NAMES = {
    "question_mark": "?",
    "space": "space",
    "plus": "+",
    "minus": "-",
    "slash": "/",
    "enter": "enter",
    "colon": ":",
    "left_square_bracket": "[",
    "right_square_bracket": "]",
    "backspace": "bksp",
    "escape": "esc",
}


AREA_KEYS = {area.id: area.key for area in AREAS}


@dataclass(frozen=True, slots=True)
class Keymap:
    """``keys``: action id to comma-separated keys, only where they differ from the shipped ones."""

    keys: Mapping[str, str] = field(default_factory=dict)
    problems: tuple[Issue, ...] = ()

    def of(self, action: Action) -> str:
        """The keys of this action."""
        return self.keys.get(action.id, action.keys)

    def shown(self, action: Action) -> str:
        """The first key of this action as it is written on the screen."""
        return shown(self.of(action).split(",")[0].strip())

    def to_area(self, area: str) -> str:
        """The key that leads to an area, as it is written on the screen."""
        return shown(self.keys.get(f"area.{area}", AREA_KEYS[area]))


def shown(key: str) -> str:
    """A key as it is written on the screen."""
    if key.startswith("ctrl+"):
        return "^" + key[5:]
    return _NAMES.get(key, key.upper() if key[:1] == "f" and key[1:].isdigit() else key)


def read_keymap(folder: Path) -> Keymap:
    """The person's keys. A fault in the file is a problem to show, never an exception; good lines count.

    Two actions of one area on one key: the first keeps it, the second keeps its shipped key.
    """
    file = folder / KEYS_FILE
    if not file.is_file():
        return Keymap()
    from lapwise.engine.knowledge.reader import Scalar, plain_problems, read  # start-up time

    try:
        with file.open("rb") as stream:
            document = read(stream.read(MOST_BYTES), str(file), "an action and its key, such as 'case.try: t'")
    except OSError as error:
        return Keymap(problems=(Issue(f"cannot be read: {error.strerror or error}", str(file)),))
    problems = list(document.problems)
    data = document.root.entries if document.root is not None else ()
    keys: dict[str, str] = {}
    shipped = {a.id: a.keys for a in ACTIONS} | {f"area.{area}": key for area, key in AREA_KEYS.items()}
    allowed = tuple(shipped)
    for scalar, node in data:
        name, where = scalar.text, f"{file}:{scalar.line}"
        key = node.text.strip() if isinstance(node, Scalar) and not node.empty else ""
        if isinstance(node, Scalar) and node.plain and any(plain_problems(key)):
            continue  # the reader has said what is wrong with it
        if name not in allowed:
            problems.append(Issue("no such action", where, name, allowed, nearest(name, allowed)))
        elif not key or len(key) > LONGEST_KEY:
            problems.append(Issue(f"a key is required for {name}", where, key))
        elif key.startswith("alt+"):
            problems.append(
                Issue("a key with alt cannot be told from escape and the key, one after the other", where, key)
            )
        elif other := _clash(name, key, {**shipped, **keys}):
            problems.append(Issue(f"the key of {name} already belongs to {other}", where, key))
        else:
            keys[name] = key
    return Keymap(keys, tuple(problems))


def _clash(name: str, key: str, keys: Mapping[str, str]) -> str | None:
    wanted = {k.strip() for k in key.split(",")}
    area = name.partition(".")[0]
    for other, other_keys in keys.items():
        other_area = other.partition(".")[0]
        near = other_area == area or "app" in (area, other_area) or "area" in (area, other_area)
        if other != name and near and wanted & {k.strip() for k in other_keys.split(",")}:
            return other
    return None


@dataclass(frozen=True, slots=True)
class Choices:
    """How the person likes the screens."""

    theme: str | None = None
    large: bool = False
    touch: bool = False
    welcomed: bool = False
    goes_on: bool = False
    """In the facet map the cursor goes to the next cell after a mark."""
    problem: Issue | None = field(default=None, compare=False)
    """Why the choices kept could not be read, if so."""


def read_choices(folder: Path) -> Choices:
    """The choices kept; the shipped ones where there are none, or they cannot be read (then with a problem)."""
    file = folder / CHOICES_FILE
    try:
        data = read_json(file, MOST_BYTES)
        theme, switches = data.get("theme"), ("large", "touch", "welcomed", "goes_on")
        on: dict[str, Any] = {name: data.get(name) is True for name in switches}
        return Choices(theme if isinstance(theme, str) else None, **on)
    except FileNotFoundError:
        return Choices()
    except (OSError, ValueError, AttributeError):
        return Choices(problem=Issue("cannot be read: the shipped colours and sizes are used", str(file)))


def write_choices(folder: Path, choices: Choices) -> None:
    """Keep the choices. A folder that cannot be written is no reason to stop: the choice then lasts until the end."""
    kept = {f.name: getattr(choices, f.name) for f in fields(choices) if f.name != "problem"}
    with contextlib.suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        new = folder / (CHOICES_FILE + ".new")
        new.write_text(json.dumps(kept) + "\n", encoding="utf-8")
        os.replace(new, folder / CHOICES_FILE)
