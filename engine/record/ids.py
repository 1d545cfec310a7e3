"""Times and ids of rows: UUID version 7 (RFC 9562), rising even when the clock goes backwards."""

from __future__ import annotations

import os
import re
import uuid
from datetime import UTC, datetime

_FORM = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}")
_RANDOM_BITS = 74


def now_text() -> str:
    """The time now, UTC, ISO 8601 with milliseconds."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.%f")[:23] + "Z"


def is_id(text: object) -> bool:
    """Whether ``text`` is a UUIDv7 in its canonical lower-case form."""
    return isinstance(text, str) and _FORM.fullmatch(text) is not None


def milliseconds(row_id: str) -> int:
    """The time inside an id, milliseconds since 1970 (UTC)."""
    return int(row_id[:8] + row_id[9:13], 16)


def _pack(ms: int, rest: int) -> str:
    high, low = rest >> 62, rest & ((1 << 62) - 1)
    return str(uuid.UUID(int=(ms << 80) | (7 << 76) | (high << 64) | (2 << 62) | low))


def _unpack(row_id: str) -> tuple[int, int]:
    value = uuid.UUID(row_id).int
    return value >> 80, ((value >> 64) & 0xFFF) << 62 | (value & ((1 << 62) - 1))


def next_id(now_ms: int, last: str | None) -> str:
    """A new id for the time ``now_ms``, always greater than ``last`` (RFC 9562, section 6.2, method 2).

    If the clock stands still or went backwards the id follows ``last`` by a random step within its millisecond.
    """
    rest = int.from_bytes(os.urandom(10), "big") >> 6
    if last is not None:
        last_ms, last_rest = _unpack(last)
        if now_ms <= last_ms:
            now_ms, rest = last_ms, last_rest + 1 + (int.from_bytes(os.urandom(4), "big"))
            if rest >> _RANDOM_BITS:
                now_ms, rest = last_ms + 1, int.from_bytes(os.urandom(10), "big") >> 6
    return _pack(now_ms, rest)
