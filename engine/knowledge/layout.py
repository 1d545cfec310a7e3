"""The one form of the knowledge and rule files: what stands on one line, what is opened into a block.

Comments, order and meaning stay; only the form changes. Needs ruamel.yaml (the extra "test"), which keeps comments;
what the files mean is read by the strict reader (:mod:`.reader`), never by this.
"""

from __future__ import annotations

import re
from io import StringIO
from typing import Any

from lapwise.engine.errors import BadInput, Damaged, Issue
from lapwise.engine.knowledge.reader import Document, Node, Scalar, Sequence, read

WIDTH = 120
"""Columns of a line. A group or a list of texts that does not fit is opened; a list of words and a text are wrapped."""
OPEN = frozenset(
    (
        *("when", "then", "any", "for", "against", "favours", "disfavours"),
        *("fixes", "shows", "says", "results", "steps", "care", "notes", "polishes_with", "avoid"),
    )
)
"""Keys whose list or group is always opened, one condition, cause or sentence a line."""

_WORD, _KEY = "[a-z][a-z_-]{0,59}", "(?:[a-z][a-z_-]{0,59}|'[^'\\n]{1,90}')"
_NUMBER = r"(?:0|-?0\.\d{0,5}[1-9]|-?[1-9]\d{0,5}(?:\.\d{0,5}[1-9])?)"
_CLOSED = f"(?!'?(?:{'|'.join(sorted(OPEN))})'?:)"
_WEIGHTS = re.compile(
    rf"(?:# .*\S\n)*{_WORD}:\n"
    rf"(?:  {_KEY}:\n(?:    {_WORD}: {_NUMBER}\n){{2,}}|  {_CLOSED}{_KEY}: \{{{_WORD}: {_NUMBER}\}}\n)+"
)
"""One list of nothing but groups of numbers, in the one form already: what a fit writes, thousands of lines long, need
not be taken apart and put together again."""


def laid_out(text: str, name: str) -> str:
    """The text of one file in the one form.

    Raises :class:`BadInput` if ruamel.yaml is missing, :class:`Damaged` if the strict reader finds a fault in it.
    """
    try:
        from ruamel.yaml import YAML
    except ModuleNotFoundError:
        raise BadInput(Issue("laying out files needs ruamel.yaml: pip install ruamel.yaml", name)) from None
    before = read(text, name)
    if before.problems:
        raise Damaged(before.problems)
    return text if _WEIGHTS.fullmatch(text) else _by_ruamel(text, name, before, YAML())


def _by_ruamel(text: str, name: str, before: Document, yaml: Any) -> str:
    yaml.preserve_quotes = True
    yaml.width = WIDTH
    yaml.indent(mapping=2, sequence=4, offset=2)
    tree = yaml.load(text)
    if not isinstance(tree, dict):
        return text
    _open(tree)
    for entries in tree.values():
        if isinstance(entries, dict):
            _open(entries)
            for id_, entry in entries.items():
                _entry(entries, id_, entry)
    out = StringIO()
    yaml.dump(tree, out)
    laid = "\n".join(line.rstrip() for line in out.getvalue().split("\n"))
    after = read(laid, name)
    if after.problems or _meaning(before.root) != _meaning(after.root):
        raise Damaged([Issue("laying this file out would change what it says: please report it", name)])
    return laid


def _meaning(node: Node | None) -> Any:
    """What a node says, whatever its form: wrapped text is one line; plain and quoted differ only where it matters."""
    if isinstance(node, Scalar):
        return " ".join(node.text.split()), node.empty, node.truth
    if isinstance(node, Sequence):
        return [_meaning(item) for item in node.items]
    return [(key.text, _meaning(inner)) for key, inner in node.entries] if node else None


def _entry(holder: Any, id_: str, entry: Any) -> None:
    """One entry: a group of several keys is always opened."""
    if isinstance(entry, dict) and len(entry) > 1:
        _open(entry)
        for key, value in entry.items():
            _lay(entry, key, value, 4)
    else:
        _lay(holder, id_, entry, 2)


def _lay(holder: Any, key: Any, value: Any, indent: int) -> None:
    """Set the form of one value that stands under ``key`` of ``holder``, ``indent`` columns in."""
    from ruamel.yaml.scalarstring import DoubleQuotedScalarString, SingleQuotedScalarString

    if isinstance(value, SingleQuotedScalarString | DoubleQuotedScalarString) and " " in value:
        holder[key] = None  # else the quotes of what stood there are kept
        holder[key] = str(value)
    if not _is_group(value):
        return
    name = str(key) if isinstance(holder, dict) else ""
    inside = list(value.items() if isinstance(value, dict) else enumerate(value))
    is_condition = not name and len(inside) == 1 and isinstance(value, dict)
    words = isinstance(value, list) and not any(_is_group(i) or " " in str(i) for i in value)
    too_long = not words and indent + len(name) + 2 + _length(value) > WIDTH
    opened = name in OPEN or is_condition or too_long
    for inner, item in inside:
        _lay(value, inner, item, indent + (2 if isinstance(holder, dict) else 4))
    if inside and (opened or any(_is_group(i) and not i.fa.flow_style() for _, i in inside)):
        _open(value)
        for comment in (holder.ca.items.get(key) or ())[2:3]:
            if comment is not None:
                comment.start_mark.column = 0  # it stood behind the closing bracket, far right
    else:
        _close(value)


def _is_group(value: Any) -> bool:
    """Whether it is a group of keys or a list."""
    return isinstance(value, dict | list)


def _open(value: Any) -> None:
    value.fa.set_block_style()


def _close(value: Any) -> None:
    """Put a list or group, and all within it, on one line."""
    value.fa.set_flow_style()
    for item in value.values() if isinstance(value, dict) else value:
        if _is_group(item):
            _close(item)


def _length(value: Any) -> int:
    """Columns that a value takes on one line, roughly: brackets, commas, quotes where a comma asks for them."""
    if isinstance(value, dict):
        return sum(len(str(k)) + 4 + _length(v) for k, v in value.items())
    if isinstance(value, list):
        return sum(2 + _length(v) for v in value)
    return len(str(value)) + 2 * any(c in str(value) for c in ",[]{}")
