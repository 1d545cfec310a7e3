"""Typed reading of one entry's keys: asks for what is required and notes every problem instead of raising."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator
from collections.abc import Mapping as MappingType
from contextlib import contextmanager
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from lapwise.engine.errors import Issue, nearest
from lapwise.engine.knowledge.model import Level, Span
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.reader import Mapping, Node, Scalar, Sequence

ID = re.compile(r"[a-z0-9]+(?:[-_.][a-z0-9]+)*$")
MOST_ITEMS = 500
"""A longer list is refused: nobody reads it, and ids in it are compared with each other."""
MOST_SPELLINGS = 20
"""The nearest spelling is looked for this often in one entry; it takes long, and nobody mistypes everything."""
_NUMBER = re.compile(r"[-+]?[0-9]+(?:\.[0-9]+)?$")
_EXPONENT = re.compile(r"[-+]?[0-9.]+[eE][-+]?[0-9]+$")


@dataclass(frozen=True, slots=True)
class Reference:
    """An id that must exist in one of ``lists`` once everything is read. ``also``: words allowed besides."""

    lists: tuple[str, ...]
    id: str
    where: str
    also: tuple[str, ...] = ()


@dataclass(slots=True)
class Findings:
    """What reading an entry brought up beside its values."""

    problems: list[Issue] = field(default_factory=list)
    references: list[Reference] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Value:
    """A node with where it stands; asks it for text, a number, a list and so on."""

    node: Node
    file: str
    path: str
    out: Findings

    @property
    def where(self) -> str:
        """``file:line: key``."""
        return f"{self.file}:{self.node.line}: {self.path}"

    def refuse(self, what: str, found: str = "", allowed: Collection[str] = (), near: Iterable[str] = ()) -> None:
        """Note a problem here; ``near``: words to look for the nearest spelling in (else ``allowed``)."""
        worth = bool(found) and len(self.out.problems) < MOST_SPELLINGS
        close = nearest(found, near or allowed) if worth and (near or allowed) else ()
        self.out.problems.append(Issue(what, self.where, found, tuple(allowed), close))

    def at(self, node: Node, path: str) -> Value:
        """A value further in."""
        return Value(node, self.file, path, self.out)

    def kind(self) -> str:
        """What stands here, in words."""
        if isinstance(self.node, Mapping):
            return "a group of keys"
        if isinstance(self.node, Sequence):
            return "a list"
        return self.node.text

    def text(self, default: str = "") -> str:
        """The text; wrapped lines become one."""
        if not isinstance(self.node, Scalar):
            self.refuse("text is required", self.kind())
            return default
        if self.node.empty:
            return default
        if self.node.truth is not None:
            self.refuse("a word is required, not a truth value: put it in quotes", self.node.text)
            return default
        return " ".join(self.node.text.split())

    def word(self, allowed: Collection[str], default: str = "") -> str:
        """One of ``allowed``."""
        before = len(self.out.problems)
        word = self.text()
        if len(self.out.problems) > before:
            return default
        if word not in allowed:
            self.refuse("not one of the words allowed here", word or "nothing", tuple(allowed))
            return default
        return word

    def number(self, low: float | None = None, high: float | None = None, default: float = 0.0) -> float:
        """A plain decimal number within bounds."""
        if not isinstance(self.node, Scalar) or self.node.empty:
            self.refuse("a number is required", "" if isinstance(self.node, Scalar) else self.kind())
            return default
        text = self.node.text
        if not self.node.plain:
            self.refuse("a number is required, without quotes", text)
            return default
        if _EXPONENT.match(text):
            self.refuse("a number is required, written out in full without an exponent (0.001, not 1e-3)", text)
            return default
        if not _NUMBER.match(text) or len(text) > 20:
            self.refuse("a number is required, with a point for decimals and no unit", text)
            return default
        value = float(text)
        if (low is not None and value < low) or (high is not None and value > high):
            bounds = f"from {low:g} " if low is not None else ""
            bounds += f"up to {high:g}" if high is not None else "upwards"
            self.refuse(f"the number is out of range: {bounds.strip()} is allowed", text)
            return default
        return value

    def truth(self) -> bool:
        """``true`` or ``false``."""
        value = self.node.truth if isinstance(self.node, Scalar) else None
        if value is None:
            self.refuse("true or false is required", self.kind(), ("true", "false"))
        return bool(value)

    def items(self) -> tuple[Value, ...]:
        """The items of a list; a single word stands for a list of one; nothing written is an empty list."""
        if isinstance(self.node, Sequence) and len(self.node.items) > MOST_ITEMS:
            self.refuse(f"a list holds {MOST_ITEMS} items at most", str(len(self.node.items)))
            return ()
        if isinstance(self.node, Sequence):
            return tuple(self.at(item, f"{self.path}[{i}]") for i, item in enumerate(self.node.items, 1))
        if isinstance(self.node, Mapping):
            self.refuse("a list is required", self.kind())
            return ()
        return () if self.node.empty else (self,)

    def texts(self) -> tuple[str, ...]:
        """A list of texts, none empty."""
        out = []
        for item in self.items():
            text = item.text()
            if text:
                out.append(text)
            elif isinstance(item.node, Scalar) and item.node.truth is None:
                item.refuse("an item of the list is empty")
        return tuple(out)

    def id(self, *lists: str, also: tuple[str, ...] = ()) -> str:
        """An id that must exist in one of ``lists`` (checked once everything is read)."""
        text = self.text()
        if text:
            self.out.references.append(Reference(lists, text, self.where, also))
        elif isinstance(self.node, Scalar) and self.node.truth is None:
            self.refuse("an id is required")
        return text

    def ids(self, *lists: str, also: tuple[str, ...] = ()) -> tuple[str, ...]:
        """A list of such ids, each at most once."""
        out: list[str] = []
        for item in self.items():
            name = item.id(*lists, also=also)
            if name in out:
                item.refuse("this id is in the list twice", name)
            elif name:
                out.append(name)
        return tuple(out)

    def source(self) -> str:
        """A key of the sources, ``practice`` or ``memory``."""
        return self.id("sources", also=("practice", "memory"))

    def fields(self) -> Fields:
        """The keys of a group."""
        if isinstance(self.node, Mapping):
            return Fields(self, {key.text: (key, node) for key, node in self.node.entries})
        if not (isinstance(self.node, Scalar) and self.node.empty):
            self.refuse("a group of keys is required", self.kind())
        return Fields(self, {})

    @contextmanager
    def group(self) -> Iterator[Fields]:
        """The keys of a group; at the end of the block those that nobody asked for are reported."""
        keys = self.fields()
        yield keys
        keys.done()

    def mapping(self, read: Callable[[Value], Any], *lists: str) -> MappingType[str, Any]:
        """A group whose keys are ids of ``lists`` (any, if none is named), each value read by ``read``."""
        return MappingProxyType({name: read(value) for name, value in self.fields().each(*lists)})


@dataclass(slots=True)
class Fields:
    """The keys of one group. Each is asked for once; :meth:`done` reports those nobody asked for."""

    here: Value
    entries: dict[str, tuple[Scalar, Node]]
    asked: set[str] = field(default_factory=set)

    def has(self, key: str) -> bool:
        """Whether the key is there with something in it."""
        entry = self.entries.get(key)
        return entry is not None and not (isinstance(entry[1], Scalar) and entry[1].empty)

    def get(self, key: str) -> Value | None:
        """The value of a key that may be left out."""
        self.asked.add(key)
        if not self.has(key):
            return None
        node = self.entries[key][1]
        return self.here.at(node, f"{self.here.path}.{key}")

    def need(self, key: str) -> Value | None:
        """The value of a key that must be there."""
        value = self.get(key)
        if value is None:
            if key in self.entries:
                line_of = self.here.at(self.entries[key][0], f"{self.here.path}.{key}")
                line_of.refuse("this key has no value")
            else:
                problem = Issue(f"the key '{key}' is missing", self.here.where)
                near = nearest(key, [k for k in self.entries if k not in self.asked], 1)
                if near:
                    problem = Issue(f"the key '{key}' is missing", self.here.where, near[0], (key,), (key,))
                    self.asked.add(near[0])
                self.here.out.problems.append(problem)
        return value

    def text(self, key: str, *, must: bool = True, default: str = "") -> str:
        """Text of a key."""
        value = self.need(key) if must else self.get(key)
        return value.text(default) if value else default

    def word(self, key: str, allowed: Collection[str], *, must: bool = True, default: str = "") -> str:
        """One of ``allowed``."""
        value = self.need(key) if must else self.get(key)
        return value.word(allowed, default) if value else default

    def number(
        self, key: str, low: float | None = None, high: float | None = None, *, must: bool = True, default: float = 0.0
    ) -> float:
        """A number of a key."""
        value = self.need(key) if must else self.get(key)
        return value.number(low, high, default) if value else default

    def truth(self, key: str) -> bool:
        """A truth value; false if left out."""
        value = self.get(key)
        return value.truth() if value else False

    def texts(self, key: str, *, must: bool = False) -> tuple[str, ...]:
        """A list of texts."""
        value = self.need(key) if must else self.get(key)
        return value.texts() if value else ()

    def ids(self, key: str, *lists: str, also: tuple[str, ...] = ()) -> tuple[str, ...]:
        """A list of ids of ``lists``."""
        value = self.get(key)
        return value.ids(*lists, also=also) if value else ()

    def words(self, key: str, allowed: Collection[str]) -> tuple[str, ...]:
        """A list of words of ``allowed``."""
        value = self.get(key)
        return tuple(w for item in (value.items() if value else ()) if (w := item.word(allowed)))

    def source(self, key: str = "source") -> str:
        """The source, which must be there."""
        value = self.need(key)
        return value.source() if value else ""

    def named(self, id_: str, place: Place) -> dict[str, Any]:
        """What every entry has that a person may name: id, label, other names, and where it is written."""
        return {"id": id_, "label": self.text("label"), "also": self.texts("also"), "place": place}

    def each(self, *lists: str) -> Iterable[tuple[str, Value]]:
        """All keys with their values; the keys are ids of ``lists``, if any is named."""
        for name, (key, node) in self.entries.items():
            self.asked.add(name)
            value = self.here.at(node, f"{self.here.path}.{name}")
            if lists:
                self.here.out.references.append(
                    Reference(lists, name, f"{self.here.file}:{key.line}: {self.here.path}")
                )
            yield name, value

    def done(self) -> None:
        """Report every key that nothing asked for."""
        allowed = tuple(sorted(self.asked))
        for name, (key, node) in self.entries.items():
            if name not in self.asked:
                what = "no such key here"
                if " " in name and isinstance(node, Scalar) and node.empty:
                    what = "a comma inside braces ends a text: put the whole text in quotes"
                self.here.at(key, self.here.path).refuse(what, name, allowed)


def span(value: Value, unit: str, low: float = 0.0, high: float = 1e6) -> Span:
    """``{low, high, unit, source, memory}``; ``unit`` is the one wanted here, both ends lie within the bounds."""
    with value.group() as keys:
        bottom, top = keys.number("low", low, high), keys.number("high", low, high)
        if top < bottom:
            value.refuse("low is greater than high", f"{bottom:g} to {top:g}")
        named = keys.word("unit", (unit,), default=unit)
        return Span(bottom, top, named, keys.source(), keys.truth("memory"))


def level(value: Value, words: Collection[str]) -> Level:
    """``{level, because, source}`` with a level among ``words``."""
    with value.group() as keys:
        return Level(keys.word("level", words), keys.text("because"), keys.source())
