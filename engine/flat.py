"""Dataclasses as JSON: an object of their fields, in order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any


def flat(thing: Any, *without: str, **named: str) -> dict[str, Any]:
    """A dataclass as a JSON object, ``without`` some of its fields. ``named``: field to its key, if that is another."""
    keys = [f.name for f in fields(thing) if f.name not in without]
    return {named.get(key, key): form(getattr(thing, key)) for key in keys}


def stated(found: Mapping[str, Any]) -> dict[str, Any]:
    """The object without what is None, false or an empty text."""
    return {key: value for key, value in found.items() if not (value is None or value is False or value == "")}


def rounded(found: Mapping[str, Any], /, **digits: int) -> dict[str, Any]:
    """The object with these of its numbers rounded, never to minus zero; what is None stays so."""
    return {
        key: value if value is None or key not in digits else round(value, digits[key]) + 0.0
        for key, value in found.items()
    }


def form(value: Any) -> Any:
    """A value of a field as JSON: what has an ``as_json`` by that, other dataclasses field by field."""
    if hasattr(value, "as_json"):
        return value.as_json()
    if is_dataclass(value):
        return flat(value)
    if isinstance(value, Mapping):
        return {key: form(inner) for key, inner in value.items()}
    if isinstance(value, tuple | list):
        return [form(inner) for inner in value]
    return value
