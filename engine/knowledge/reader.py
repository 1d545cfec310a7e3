"""The strict YAML reader: text in, a tree of nodes with line numbers and every problem found out.

A scalar keeps its spelling; what it means is decided by what is required there (:mod:`.fields`), so nothing is ever
turned into another type behind the person's back. What YAML 1.1 would silently change, or what makes a file hard to
follow (anchors, merge keys, tags), is refused here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from lapwise.engine.errors import Issue

MAX_BYTES = 1_000_000
MAX_DEPTH = 12
MAX_PROBLEMS = 100
"""A file with more problems than this is not read further."""

_BOOLEAN = re.compile(r"(?:yes|no|on|off)$", re.IGNORECASE)
_SEXAGESIMAL = re.compile(r"[-+]?[0-9][0-9_]*(?::[0-5]?[0-9])+(?:\.[0-9_]*)?$")
_OCTAL = re.compile(r"[-+]?0[0-9_]+$")
_OTHER_BASE = re.compile(r"[-+]?0[xob][0-9a-fA-F_]+$")
_DATE = re.compile(r"[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}(?:[Tt ].*)?$")
_SPECIAL = re.compile(r"[-+]?\.(?:inf|nan)$", re.IGNORECASE)
_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")
_NULLS = frozenset({"", "~", "null", "Null", "NULL"})
_TRUTHS = {"true": True, "false": False}


@dataclass(frozen=True, slots=True)
class Scalar:
    """One value as spelt. ``plain``: it stood without quotes."""

    text: str
    plain: bool
    line: int

    @property
    def empty(self) -> bool:
        """Nothing was written, or a plain null."""
        return self.plain and self.text in _NULLS

    @property
    def truth(self) -> bool | None:
        """The truth value of a plain ``true`` or ``false``, else None."""
        return _TRUTHS.get(self.text.lower()) if self.plain else None


@dataclass(frozen=True, slots=True)
class Sequence:
    """A list."""

    items: tuple[Node, ...]
    line: int


@dataclass(frozen=True, slots=True)
class Mapping:
    """Keys with their values, in the order written; keys are unique."""

    entries: tuple[tuple[Scalar, Node], ...]
    line: int


Node = Scalar | Sequence | Mapping


@dataclass(frozen=True, slots=True)
class Document:
    """What a file holds: ``root`` is None for an empty file or one that could not be read to the end."""

    root: Mapping | None
    problems: tuple[Issue, ...]


def read(data: bytes | str, file: str, begins: str = "the name of a list, such as 'laps:'") -> Document:
    """The tree of a file. Never raises: what is wrong stands in ``problems``, each with ``file:line``.

    ``begins``: what the file must begin with, in words.
    """
    problems: list[Issue] = []
    text = _decode(data, file, problems)
    if text is None:
        return Document(None, tuple(problems))
    builder = _Builder(file, problems)
    root = builder.build(text)
    if isinstance(root, Mapping):
        return Document(root, tuple(problems))
    if root is not None and not (isinstance(root, Scalar) and root.empty):
        problems.append(Issue(f"the file must begin with {begins}", f"{file}:{root.line}"))
    return Document(None, tuple(problems))


def _decode(data: bytes | str, file: str, problems: list[Issue]) -> str | None:
    if len(data) > MAX_BYTES:
        what = f"the file is too large: {len(data)} bytes, at most {MAX_BYTES} are read"
        problems.append(Issue(what, file))
        return None
    if isinstance(data, str):
        return data.removeprefix("\ufeff")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        problems.append(Issue("the file is saved as UTF-16; save it as UTF-8", file))
        return None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = data[error.start : error.start + 1].hex()
        problems.append(Issue("the file is not UTF-8 text; save it as UTF-8", f"{file}:{line}", f"byte {found}"))
        return None


class _TooMuch(Exception):
    """The file is not worth reading further; the reason is already among the problems."""


@dataclass(slots=True)
class _Frame:
    mapping: bool
    line: int
    items: list[Node] = field(default_factory=list)
    entries: list[tuple[Scalar, Node]] = field(default_factory=list)
    seen: dict[str, int] = field(default_factory=dict)
    key: Scalar | None = None
    skip: bool = False
    """The next value belongs to a key that was refused."""


class _Builder:
    """Builds the tree from parser events; iterative, so that no depth of nesting can exhaust the stack."""

    def __init__(self, file: str, problems: list[Issue]) -> None:
        self.file = file
        self.problems = problems
        self.stack: list[_Frame] = []
        self.root: Node | None = None
        self.documents = 0

    def build(self, text: str) -> Node | None:
        import yaml

        loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
        try:
            for event in yaml.parse(text, Loader=loader):
                self._take(event, yaml)
        except _TooMuch:
            return None
        except yaml.YAMLError as error:
            self.problems.append(_syntax_problem(error, self.file, text))
            return None
        except (ValueError, UnicodeError) as error:
            self.problems.append(Issue(f"the file cannot be read as text: {error}", self.file))
            return None
        return self.root

    def refuse(self, what: str, line: int, found: str = "", allowed: tuple[str, ...] = ()) -> None:
        """Note a problem at a line; gives up on a file that has too many."""
        path = ".".join(frame.key.text for frame in self.stack if frame.key is not None)
        where = f"{self.file}:{line}: {path}" if path else f"{self.file}:{line}"
        self.problems.append(Issue(what, where, _short(found), allowed))
        if len(self.problems) >= MAX_PROBLEMS:
            raise _TooMuch

    def _take(self, event: Any, yaml: Any) -> None:
        line = event.start_mark.line + 1
        if isinstance(event, yaml.ScalarEvent):
            self._properties(event, line)
            scalar = Scalar(event.value, bool(event.implicit[0]) and event.style in (None, ""), line)
            self._check_scalar(scalar)
            self._place(scalar)
        elif isinstance(event, (yaml.MappingStartEvent, yaml.SequenceStartEvent)):
            self._properties(event, line)
            if len(self.stack) >= MAX_DEPTH:
                self.refuse(f"nested too deep: at most {MAX_DEPTH} levels are read", line)
                raise _TooMuch
            self.stack.append(_Frame(isinstance(event, yaml.MappingStartEvent), line))
        elif isinstance(event, (yaml.MappingEndEvent, yaml.SequenceEndEvent)):
            frame = self.stack.pop()
            if frame.mapping:
                self._place(Mapping(tuple(frame.entries), frame.line))
            else:
                self._place(Sequence(tuple(frame.items), frame.line))
        elif isinstance(event, yaml.AliasEvent):
            self.refuse("aliases are not read here: write the value out", line, f"*{event.anchor}")
            self._place(Scalar("", True, line))
        elif isinstance(event, yaml.DocumentStartEvent):
            self._document(event, line)

    def _document(self, event: Any, line: int) -> None:
        self.documents += 1
        if event.version or event.tags:
            self.refuse("lines that begin with % are not read here: leave them out", line)
        if self.documents > 1:
            self.refuse("a file holds one document: leave out the second '---'", line)
            raise _TooMuch

    def _properties(self, event: Any, line: int) -> None:
        if event.anchor is not None:
            self.refuse("anchors are not read here: write the value out where it is needed", line, f"&{event.anchor}")
        if event.tag is not None:
            self.refuse("type tags are not read here: leave it out", line, str(event.tag))

    def _check_scalar(self, scalar: Scalar) -> None:
        if found := _CONTROL.search(scalar.text):
            what = "control characters, and marks that change the writing direction, are not allowed in a text"
            self.refuse(what, scalar.line, f"U+{ord(found[0]):04X}")
        if not scalar.plain or len(scalar.text) > 40:
            return
        for problem in plain_problems(scalar.text):
            self.refuse(problem, scalar.line, scalar.text)

    def _place(self, node: Node) -> None:
        if not self.stack:
            self.root = node
            return
        frame = self.stack[-1]
        if not frame.mapping:
            frame.items.append(node)
        elif frame.skip:
            frame.skip = False
        elif frame.key is None:
            self._key(frame, node)
        else:
            frame.entries.append((frame.key, node))
            frame.key = None

    def _key(self, frame: _Frame, node: Node) -> None:
        frame.skip = True
        if not isinstance(node, Scalar):
            self.refuse("a key must be one word, not a list or a group", node.line)
        elif node.plain and node.text == "<<":
            self.refuse("merge keys are not read here: write the values out", node.line, "<<")
        elif node.empty or not node.text.strip():
            self.refuse("a key is missing before the colon", node.line)
        elif node.text in frame.seen:
            first = frame.seen[node.text]
            self.refuse(f"this key is already there on line {first}: keep one of them", node.line, node.text)
        else:
            frame.seen[node.text] = node.line
            frame.key, frame.skip = node, False


def plain_problems(text: str) -> Iterator[str]:
    """Why an unquoted value is refused: YAML readers turn such a spelling into something else."""
    if _BOOLEAN.match(text):
        yield f"without quotes this can be read as true or false: write '{text}' in quotes"
    elif _SEXAGESIMAL.match(text):
        yield "without quotes this is read as a number in base 60: write it in quotes, or as a plain number"
    elif _OCTAL.match(text):
        yield "a number with a leading zero can be read as octal: leave the zero out, or use quotes"
    elif _OTHER_BASE.match(text):
        yield "only plain decimal numbers are read here: write it out, or use quotes"
    elif _DATE.match(text):
        yield "without quotes this is read as a date: write it in quotes"
    elif _SPECIAL.match(text):
        yield "infinity and not-a-number are not allowed here"


def _short(text: str) -> str:
    return text if len(text) <= 80 else text[:77] + "..."


def _syntax_problem(error: Any, file: str, text: str) -> Issue:
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    lines = text.splitlines()
    if mark is None:
        reason = getattr(error, "reason", None) or str(error)
        found = getattr(error, "character", None)
        position = getattr(error, "position", None)
        line = text.count("\n", 0, position) + 1 if isinstance(position, int) else 1
        shown = f"U+{found:04X}" if isinstance(found, int) else ""
        return Issue(f"a character that is not allowed in the file: {reason}", f"{file}:{line}", shown)
    number = mark.line + 1
    found = lines[mark.line].strip() if mark.line < len(lines) else ""
    what = str(getattr(error, "problem", "") or "cannot be read")
    context = str(getattr(error, "context", "") or "")
    line_text = lines[mark.line] if mark.line < len(lines) else ""
    if "\t" in line_text[: len(line_text) - len(line_text.lstrip())]:
        what = "a tab at the beginning of a line: use spaces"
    elif "mapping values are not allowed" in what:
        what = "a colon where none is expected: put the text in quotes, or check the indentation"
    elif "could not find expected ':'" in what or "did not find expected key" in what:
        what = "a key with a colon is expected here: check the indentation and the quotes"
    elif "cannot start any token" in what:
        what = "a character that cannot begin a value: put the text in quotes"
    elif "quoted scalar" in context:
        what = "a quote that is never closed, or something wrong inside the quotes"
    elif "flow" in context:
        what = "a bracket or brace that is not closed, or a comma missing"
    else:
        what = f"not valid YAML: {what}"
    return Issue(what, f"{file}:{number}", _short(found))
