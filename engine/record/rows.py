"""One line of the JSON Lines format to one row of the record and back. Every row from outside is checked here.

The format is described for people in tui/help/record-format.md. A row is refused with a reason, or cleaned (control
characters and terminal escapes taken out of what a person wrote, too long a note cut) and kept.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any

from lapwise.engine.case import FACET_PARTS, OUTCOMES, STAGES, Case
from lapwise.engine.record.ids import AHEAD_MS, is_id, milliseconds
from lapwise.engine.record.model import LAP_KINDS, RESULTS, STEP_KINDS
from lapwise.engine.record.text import clean_note, is_slug

FORMAT = 1
HEADER: dict[str, Any] = {"row": "header", "format": FORMAT, "what": "lapwise record"}
LONGEST_LINE = 256 * 1024
"""Characters of a line. A case with two hundred facet maps stays far below."""
ANY_TIME = 1 << 62
"""In place of the time now: the clock is not doubted (own rows, and those of a backup)."""
MOST_ITEMS = 200
_AT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z")
_MAP = re.compile(r"[BDRNbdrn?./]{1,2000}")
Values = dict[str, Any]


class Refused(ValueError):
    """A row that is not taken in; the text is the reason."""


@dataclass(frozen=True, slots=True)
class Row:
    """A checked row: the table it goes to, its columns in order of the table, and whether it had to be cleaned."""

    table: str
    columns: Values
    cleaned: bool


def dump(data: Any) -> str:
    """JSON in the one form the record stores and exports: the same content is always the same text."""
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"), sort_keys=True, allow_nan=False)


def _no_number(text: str) -> None:
    raise Refused(f"{text} is not a JSON number")


def parse_line(line: str) -> Any:
    """The JSON value of a line. Raises :class:`Refused`; bytes that are not UTF-8 stand in it as surrogates."""
    try:
        line.encode()
    except UnicodeEncodeError:
        raise Refused("not UTF-8") from None
    try:
        return json.loads(line, parse_constant=_no_number)
    except Refused:
        raise
    except RecursionError:
        raise Refused("nested too deep") from None
    except ValueError:
        raise Refused("not JSON") from None


class _Reader:
    """Takes fields out of a row, noting whether anything had to be cleaned."""

    def __init__(self, data: Any, now_ms: int, what: str) -> None:
        """``what``: how messages call it. Raises :class:`Refused` for what is no object."""
        if not isinstance(data, dict):
            raise Refused(f"{what} is not an object")
        self.data, self.now_ms, self.cleaned = data, now_ms, False

    def only(self, *allowed: str) -> None:
        unknown = sorted(set(self.data) - {"row", *allowed})
        if unknown:
            raise Refused(f"unknown key {clean_note(str(unknown[0]), 40)!r}")

    def id(self, key: str, *, optional: bool = False) -> str | None:
        value = self.data.get(key)
        if value is None and optional:
            return None
        if not is_id(value):
            raise Refused(f"{key} is not a UUIDv7")
        text = str(value)
        if milliseconds(text) > self.now_ms + AHEAD_MS:
            raise Refused(f"{key} lies in the future")
        return text

    def at(self) -> str:
        value = self.data.get("at")
        if not isinstance(value, str) or not _AT.fullmatch(value):
            raise Refused("at is not a time in UTC (2026-01-31T12:00:00.000Z)")
        try:
            moment = datetime.fromisoformat(value[:-1] + "+00:00")
        except ValueError:
            raise Refused("at is not a possible time") from None
        if moment.timestamp() * 1000 > self.now_ms + AHEAD_MS:
            raise Refused("at lies in the future")
        return value

    def slug(self, key: str, *, optional: bool = True) -> str | None:
        value = self.data.get(key)
        if value is None and optional:
            return None
        if not is_slug(value):
            raise Refused(f"{key} is not an id")
        return str(value)

    def word(self, key: str, allowed: tuple[str, ...], default: str | None = None) -> str:
        value = self.data.get(key, default)
        if not isinstance(value, str) or value not in allowed:
            raise Refused(f"{key} is none of {', '.join(allowed)}")
        return value

    def number(self, key: str, low: float, high: float) -> float | None:
        value = self.data.get(key)
        if value is None:
            return None
        return _number(value, key, low, high)

    def text(self, key: str, longest: int = 10_000) -> str:
        value = self.data.get(key, "")
        if not isinstance(value, str):
            raise Refused(f"{key} is not text")
        found = clean_note(value, longest)
        self.cleaned = self.cleaned or found != value
        return found

    def short(self, key: str, longest: int = 80) -> str:
        value = self.data.get(key, "")
        if not isinstance(value, str) or len(value) > longest or clean_note(value) != value:
            raise Refused(f"{key} is not a short plain text")
        return value


def _number(value: object, key: str, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise Refused(f"{key} is not a number")
    if not low <= value <= high or not math.isfinite(value):
        raise Refused(f"{key} is not between {low:g} and {high:g}")
    return float(value)


def read_row(data: Any, now_ms: int) -> Row:
    """A checked row from the JSON value of a line. Raises :class:`Refused`."""
    if not isinstance(data, dict):
        raise Refused("not an object")
    read = {"case": _case, "step": _step, "lap": _lap}.get(str(data.get("row")))
    if read is None:
        raise Refused("row is none of case, step, lap")
    return read(_Reader(data, now_ms, "a row"))


def _case(r: _Reader) -> Row:
    r.only("id", "at", "case", "knowledge", "version")
    facts = checked_case(r, r.data.get("case"))
    columns = {
        "id": r.id("id"),
        "at": r.at(),
        "facts": dump(facts),
        "knowledge": r.short("knowledge", 128),
        "version": r.short("version", 40),
    }
    return Row("cases", columns, r.cleaned)


def _step(r: _Reader) -> Row:
    kind = r.word("kind", STEP_KINDS)
    own = {
        "try": ("remedy", "outcome", "minutes", "shown"),
        "look": ("look", "result", "minutes", "shown"),
        "facts": ("case",),
        "close": ("result",),
        "undo": ("withdraws",),
    }[kind]
    r.only("id", "case_id", "at", "kind", "note", "knowledge", "version", *own)
    columns: Values = dict.fromkeys(("remedy", "outcome", "look", "result", "minutes", "shown", "facts", "withdraws"))
    columns |= {
        "id": r.id("id"),
        "case_id": r.id("case_id"),
        "at": r.at(),
        "kind": kind,
        "note": r.text("note"),
        "knowledge": r.short("knowledge", 128),
        "version": r.short("version", 40),
    }
    if kind == "try":
        columns |= {"remedy": r.slug("remedy", optional=False), "outcome": r.word("outcome", OUTCOMES)}
    if kind == "look":
        columns |= {"look": r.slug("look", optional=False), "result": r.slug("result", optional=False)}
    if kind in ("try", "look"):
        columns |= {"minutes": r.number("minutes", 0, 100_000), "shown": _shown(r.data.get("shown"))}
    if kind == "facts":
        columns["facts"] = dump(checked_case(r, r.data.get("case")))
    if kind == "close":
        columns["result"] = r.word("result", RESULTS)
    if kind == "undo":
        columns["withdraws"] = r.id("withdraws")
    return Row("steps", columns, r.cleaned)


def _lap(r: _Reader) -> Row:
    kind = r.word("kind", LAP_KINDS)
    r.only("id", "lap_id", "at", "kind", "body")
    body = r.data.get("body", {})
    inner = _Reader(body, r.now_ms, "body")
    inner.only("name", "type", "diameter_mm", "thickness_mm", "grade", "carries", "wear", "note", "last_cleaned")
    out: Values = {}
    if kind in ("add", "change"):
        out = {
            "name": inner.text("name", 60),
            "type": inner.slug("type", optional=False),
            "diameter_mm": inner.number("diameter_mm", 0.1, 1000),
            "thickness_mm": inner.number("thickness_mm", 0.01, 200),
            "grade": inner.text("grade", 200),
            "wear": inner.slug("wear"),
            "note": inner.text("note"),
            "carries": _slugs(body, "carries"),
        }
        if not out["name"] or "\n" in out["name"]:
            raise Refused("name is not a short plain text")
        cleaned_at = body.get("last_cleaned")
        if cleaned_at is not None:
            if not isinstance(cleaned_at, str) or not _AT.fullmatch(cleaned_at):
                raise Refused("last_cleaned is not a time in UTC")
            out["last_cleaned"] = cleaned_at
        out = {k: v for k, v in out.items() if v not in (None, "")}
    elif body:
        raise Refused("body is not empty")
    columns = {"id": r.id("id"), "lap_id": r.id("lap_id"), "at": r.at(), "kind": kind, "body": dump(out)}
    if kind == "add" and columns["id"] != columns["lap_id"]:
        raise Refused("the row that adds a lap has another id than the lap")
    return Row("lap_rows", columns, r.cleaned or inner.cleaned)


def _items(value: Any, what: str) -> list[Any]:
    """A list of no more than :data:`MOST_ITEMS`; ``what``: the reason to refuse anything else."""
    if not isinstance(value, list) or len(value) > MOST_ITEMS:
        raise Refused(what)
    return value


def _slugs(data: Mapping[str, Any], key: str) -> list[str]:
    value = _items(data.get(key, []), f"{key} is not a list of ids")
    if not all(is_slug(v) for v in value):
        raise Refused(f"{key} is not a list of ids")
    return value


def _pairs(data: Mapping[str, Any], key: str, words: tuple[str, ...] | None) -> list[list[str]]:
    value = _items(data.get(key, []), f"{key} is not a list of pairs")
    for pair in value:
        if not isinstance(pair, list) or len(pair) != 2 or not all(is_slug(p) for p in pair):
            raise Refused(f"{key} is not a list of pairs")
        if words is not None and pair[1] not in words:
            raise Refused(f"{key}: no such outcome")
    return value


def checked_case(r: _Reader, data: Any) -> dict[str, Any]:
    """The JSON form of a case, every field checked. Raises :class:`Refused`."""
    inner = _Reader(data, r.now_ms, "case")
    inner.only(*(field.name for field in fields(Case)))
    facts = data.get("facts", {})
    if not isinstance(facts, dict) or len(facts) > MOST_ITEMS:
        raise Refused("facts is not an object")
    kept = {}
    for key, value in facts.items():
        if not is_slug(key) or not isinstance(value, str) or len(value) > 200:
            raise Refused("facts are not short texts by id")
        kept[key] = clean_note(value, 200)
        inner.cleaned = inner.cleaned or kept[key] != value
    settled = data.get("settled", 0)
    if isinstance(settled, bool) or not isinstance(settled, int) or not 0 <= settled <= MOST_ITEMS:
        raise Refused("settled is not a small whole number")
    form = {
        "material": inner.slug("material"),
        "lap": inner.slug("lap"),
        "compound": inner.slug("compound"),
        "stage": inner.word("stage", STAGES, "polish"),
        "symptoms": _slugs(data, "symptoms"),
        "facts": kept,
        "prior": inner.slug("prior"),
        "facet": _facet(data.get("facet", {}), r.now_ms),
        "tried": _pairs(data, "tried", OUTCOMES),
        "saw": _pairs(data, "saw", None),
        "own_lap": inner.id("own_lap", optional=True),
        "settled": settled,
        "corrections": _corrections(data.get("corrections", [])),
    }
    r.cleaned = r.cleaned or inner.cleaned
    try:
        return Case.from_json({k: v for k, v in form.items() if v is not None}).as_json()
    except (KeyError, TypeError, ValueError):
        raise Refused("case has another shape") from None


def _facet(data: Any, now_ms: int) -> dict[str, Any]:
    r = _Reader(data, now_ms, "facet")
    r.only("part", "angle", "index", "gear", "size_mm", "adapter", "trials")
    out: Values = {"angle": r.number("angle", -90, 180), "index": r.number("index", -1000, 1000)}
    if data.get("part") is not None:
        out["part"] = r.word("part", FACET_PARTS)
    if data.get("adapter") is not None:
        out["adapter"] = r.word("adapter", ("45", "none"))
    gear = data.get("gear")
    if gear is not None:
        if isinstance(gear, bool) or not isinstance(gear, int) or not 1 <= gear <= 1000:
            raise Refused("gear is not a whole number from 1 to 1000")
        out["gear"] = gear
    size = data.get("size_mm")
    if size is not None:
        if not isinstance(size, list) or len(size) != 2:
            raise Refused("size_mm is not two numbers")
        out["size_mm"] = [_number(v, "size_mm", 0, 1000) for v in size]
    out["trials"] = [_trial(t, now_ms) for t in _items(data.get("trials", []), "trials is not a list")]
    return {k: v for k, v in out.items() if v is not None}


def _corrections(data: Any) -> list[list[float | None]]:
    """Rows of (index in teeth, angle in degrees, index change in teeth, angle change in degrees), null if not found."""
    out: list[list[float | None]] = []
    for row in _items(data, "corrections is not a list"):
        if not isinstance(row, list) or len(row) != 4:
            raise Refused("a correction is not four numbers")
        index, angle = _number(row[0], "index", 0, 1000), _number(row[1], "angle", 0, 90)
        changes = [None if v is None else _number(v, "a change", -1000, 1000) for v in row[2:]]
        out.append([index, angle, *changes])
    return out


def _trial(data: Any, now_ms: int) -> dict[str, Any]:
    r = _Reader(data, now_ms, "a trial")
    r.only("turn", "angle", "map", "ink", "fresh")
    facet_map = data.get("map")
    if not isinstance(facet_map, str) or not _MAP.fullmatch(facet_map):
        raise Refused("a trial has no facet map")
    flags = {key: data.get(key, False) for key in ("ink", "fresh")}
    if not all(isinstance(v, bool) for v in flags.values()):
        raise Refused("ink and fresh are not true or false")
    turn, angle = r.number("turn", -360, 360), r.number("angle", -360, 360)
    if turn is None or angle is None:
        raise Refused("a trial has no turn or angle")
    return {"turn": turn, "angle": angle, "map": facet_map, **flags}


def _shown(data: Any) -> str | None:
    """What was shown: the tables that learning reads are checked, the rest is bounded and plain."""
    if data is None:
        return None
    if not isinstance(data, dict):
        raise Refused("shown is not an object")
    out: Values = {}
    for key, value in data.items():
        if key in ("posterior", "after", "fix", "base"):
            out[key] = _table(key, value, 1.0)
            if key in ("posterior", "after") and sum(out[key].values()) > 1.01:
                raise Refused(f"shown.{key} sums to more than 1")
        elif key == "factors":
            out[key] = _table(key, value, 50.0)
        elif key == "to":
            if not isinstance(value, dict) or not set(value) <= {"lap", "compound"}:
                raise Refused("shown.to is not a pair")
            out[key] = {k: v for k, v in value.items() if v is not None}
            if not all(is_slug(v) for v in out[key].values()):
                raise Refused("shown.to is not a pair")
        elif key == "plan":
            out[key] = _plan(value)
        elif key == "expected_minutes":
            out[key] = None if value is None else _number(value, "shown.expected_minutes", 0, 1e6)
        else:
            raise Refused(f"unknown key {clean_note(str(key), 40)!r} in shown")
    return dump(out)


def _table(key: str, value: Any, high: float) -> dict[str, float]:
    if not isinstance(value, dict) or len(value) > MOST_ITEMS or not all(is_slug(k) for k in value):
        raise Refused(f"shown.{key} is not a table of numbers by id")
    return {k: _number(v, f"shown.{key}", 0, high) for k, v in value.items()}


def _plan(value: Any) -> list[dict[str, Any]]:
    out = []
    for step in _items(value, "shown.plan is not a list"):
        if not isinstance(step, dict) or not set(step) <= {"remedy", "chance", "minutes"}:
            raise Refused("shown.plan has a step of another shape")
        if not is_slug(step.get("remedy")):
            raise Refused("shown.plan has a step without a remedy")
        kept = {k: _number(step[k], f"shown.plan.{k}", 0, 1e6) for k in ("chance", "minutes") if k in step}
        out.append({"remedy": step["remedy"], **kept})
    return out
