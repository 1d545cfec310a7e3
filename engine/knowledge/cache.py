"""Keeps what was read from the files as plain JSON, so that the next start need not read the YAML again.

:func:`put` and :func:`got` do it for any JSON: the words (:mod:`lapwise.engine.words.kept`) are kept beside it.

JSON and not pickle: a cache that somebody else wrote can then hold wrong words at worst, never code.
"""

from __future__ import annotations

import contextlib
import gc
import hashlib
import json
import os
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from lapwise.engine.errors import Issue
from lapwise.engine.knowledge import model, place, rule_model

NAME = "knowledge.json"
MAX_BYTES = 64_000_000
_CLASSES: tuple[type, ...] = (
    Issue,
    *(
        cls
        for module in (place, rule_model, model)
        for cls in vars(module).values()
        if isinstance(cls, type) and cls.__module__ == module.__name__
    ),
)
_NUMBERS = {cls: number for number, cls in enumerate(_CLASSES)}
_SLOTS = {cls: tuple(cls.__dataclass_fields__) for cls in _CLASSES}  # type: ignore[attr-defined]
_TUPLE, _SET = -1, -2
_AS_IT_IS = (str, float, int, bool, type(None))


T = TypeVar("T")
Kept = tuple[model.Knowledge, tuple[Issue, ...]]


def store(folder: Path, stamp: str, value: Kept) -> None:
    """Write ``value`` under ``stamp``; a folder that cannot be written is no error, the next start is just slower."""
    put(folder, NAME, stamp, _plain(value))


def fetch(folder: Path, stamp: str) -> Kept | None:
    """What was stored under ``stamp``, or None if there is nothing, or something older or damaged."""
    return got(folder, NAME, stamp, _kept)


def _kept(value: Any) -> Kept | None:
    knowledge, problems = _built(value)
    return (knowledge, problems) if isinstance(knowledge, model.Knowledge) else None


def put(folder: Path, name: str, stamp: str, value: Any) -> None:
    """Write JSON under ``stamp``, as :func:`store`."""
    body = json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "surrogatepass")
    head = f"{stamp} {_sum(body)}\n".encode()
    part = folder / f"{name}.{os.getpid()}.part"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        part.write_bytes(head + body)
        os.replace(part, folder / name)
    except OSError:
        with contextlib.suppress(OSError):
            part.unlink()


def got(folder: Path, name: str, stamp: str, build: Callable[[Any], T | None]) -> T | None:
    """What ``build`` makes of the JSON under ``stamp``, as :func:`fetch`; None too where it is of another shape."""
    try:
        with (folder / name).open("rb") as stream:
            head = stream.readline(200)
            if head != head[:-1] + b"\n" or not head.startswith(stamp.encode() + b" "):
                return None
            body = stream.read(MAX_BYTES)
    except OSError:
        return None
    if head.split()[-1].decode("ascii", "replace") != _sum(body):
        return None
    collecting = gc.isenabled()
    gc.disable()  # thousands of small objects that all stay: looking for rubbish among them doubles the time
    try:
        return _made(body, build)
    except (ValueError, TypeError, IndexError, KeyError, AttributeError, RecursionError):
        return None
    finally:
        if collecting:
            gc.enable()


def _made(body: bytes, build: Callable[[Any], T | None]) -> T | None:
    return build(json.loads(body))


def _sum(body: bytes) -> str:
    return hashlib.blake2b(body, digest_size=16).hexdigest()


def _plain(value: Any) -> Any:
    kind = type(value)
    number = _NUMBERS.get(kind)
    if number is not None:
        inner = (getattr(value, name) for name in _SLOTS[kind])
        return [number, *[v if type(v) in _AS_IT_IS else _plain(v) for v in inner]]
    if kind is tuple:
        return [_TUPLE, *[v if type(v) in _AS_IT_IS else _plain(v) for v in value]]
    if kind is frozenset:
        return [_SET, *sorted(value)]
    if isinstance(value, Mapping):
        return {key: v if type(v) in _AS_IT_IS else _plain(v) for key, v in value.items()}
    return value


def _built(value: Any) -> Any:
    if type(value) is list:
        number = value[0]
        inner = [_built(v) if type(v) is list or type(v) is dict else v for v in value[1:]]
        if number >= 0:
            return _CLASSES[number](*inner)
        return tuple(inner) if number == _TUPLE else frozenset(inner)
    if type(value) is dict:
        return MappingProxyType({k: _built(v) if type(v) is list or type(v) is dict else v for k, v in value.items()})
    return value
