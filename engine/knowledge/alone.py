"""Shipped files of one list that one part reads for itself: grain sizes, cues of words, ids that are relied on."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from lapwise.engine.errors import Damaged, Issue
from lapwise.engine.knowledge.fields import Findings, Value
from lapwise.engine.knowledge.reader import read

T = TypeVar("T")


def shipped(list_: str) -> tuple[bytes, str]:
    """The shipped file of a list, and what messages call it. Raises :class:`Damaged` if it cannot be read."""
    from importlib.resources import files

    name = f"knowledge/{list_}.yaml"
    try:
        return files("lapwise.knowledge").joinpath(f"{list_}.yaml").read_bytes(), name
    except OSError as error:
        raise Damaged(Issue("this file cannot be read", name, str(error.strerror or error))) from error


def read_alone(data: bytes, name: str, list_: str, make: Callable[[Value], T]) -> T:
    """What ``make`` makes of the one list in a file. Raises :class:`Damaged` with every problem."""
    document = read(data, name)
    out = Findings(problems=list(document.problems))
    made: list[T] = []
    for key, value in Value(document.root, name, "", out).fields().each() if document.root else ():
        if key == list_:
            made.append(make(value))
        else:
            value.refuse(f"only the list '{list_}' belongs in this file", key)
    if out.problems or not made or not made[0]:
        raise Damaged(out.problems or Issue(f"there is nothing in the list '{list_}' of this file", name))
    return made[0]
