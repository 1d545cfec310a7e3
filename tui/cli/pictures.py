"""`lapwise knowledge show ID --picture`: drawings in the shell."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

from lapwise.engine.errors import BadInput, Issue, NothingFound
from lapwise.engine.knowledge.show import find
from lapwise.tui.cli.output import say, say_json, wrap
from lapwise.tui.pictures import catalog
from lapwise.tui.present.case import mistaken, name_of

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge

GAP = 3
"""Columns between two drawings."""
MOST = 60
"""Columns of the widest drawing."""


def draw(names: str, knowledge: Knowledge, *, svg: bool, as_json: bool) -> None:
    """Draw one id, or two joined by a comma side by side with what tells them apart.

    Raises :class:`BadInput` for an unknown id or more than two, :class:`NothingFound` for one without a drawing.
    """
    ids = [_drawn(name, knowledge) for name in names.split(",")]
    if len(ids) > (1 if svg else 2):
        raise BadInput(Issue("one id is drawn as SVG, one or two in dots", "lapwise knowledge show", names))
    labels = [_label(name, knowledge) for name in ids]
    room = shutil.get_terminal_size().columns - 1
    columns = min(MOST, (room - GAP * (len(ids) - 1)) // len(ids))
    wide, high = catalog.fitted(max(10, columns), 1000)
    if as_json:
        drawn = [
            {"id": i, "label": n, "picture": list(catalog.text(i, *catalog.CELLS)), "svg": catalog.svg(i, n)}
            for i, n in zip(ids, labels, strict=True)
        ]
        say_json({"pictures": drawn, "apart": _apart(ids, knowledge)})
        return
    if svg:
        say(catalog.svg(ids[0], labels[0]).rstrip())
        return
    say((" " * GAP).join(f"{label[:wide]:<{wide}}" for label in labels).rstrip())
    for row in zip(*(catalog.text(i, wide, high) for i in ids), strict=True):
        say((" " * GAP).join(row))
    for text in dict.fromkeys([*(catalog.words(i) for i in ids), _apart(ids, knowledge)]):
        if text:
            say(wrap(text))


def _drawn(name: str, knowledge: Knowledge) -> str:
    wanted = name.strip()
    if wanted not in catalog.DRAWINGS and "=" in wanted:
        known = [n for n in catalog.DRAWINGS if "=" in n]
        raise BadInput.unknown("there is no drawing of this", wanted, known, "lapwise knowledge show --picture")
    found = wanted if wanted in catalog.DRAWINGS else find(knowledge, wanted)[1]
    if found not in catalog.DRAWINGS:
        raise NothingFound(Issue("there is no drawing of this", "lapwise knowledge show --picture", found))
    return found


def _label(name: str, knowledge: Knowledge) -> str:
    look, _, result = name.partition("=")
    if not result:
        return name_of(knowledge, name)
    known = knowledge.looks.get(look)
    what = known.result_labels.get(result, result) if known else result.replace("-", " ")
    return f"{name_of(knowledge, look) if known else look.replace('_', ' ')}: {what}"


def _apart(ids: list[str], knowledge: Knowledge) -> str:
    """The sentence that tells two symptoms apart, "" where there is none."""
    if len(ids) != 2:
        return ""
    apart = mistaken(knowledge.symptoms).get(ids[0], {}).get(ids[1])
    return "" if apart is None else f"{name_of(knowledge, apart.of)}: {apart.how}"
