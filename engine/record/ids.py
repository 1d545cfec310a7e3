"""What each row bears: its id (UUID version 7, RFC 9562, rising even when the clock goes backwards), its time, and the
version that wrote it."""

from __future__ import annotations

import os
import re
import time
import uuid
from datetime import UTC, datetime
from functools import lru_cache

_FORM = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}")
_RANDOM_BITS = 74
AHEAD_MS = 24 * 3_600_000
"""How far in the future a row may lie: clocks and time zones differ, a day at most."""
FIRST_MS = 1_767_225_600_000
"""2026-01-01 (UTC): there was no Lapwise before. A clock that says less is not set."""


def now_ms() -> int:
    """The time now, milliseconds since 1970 (UTC)."""
    return time.time_ns() // 1_000_000


def time_text(ms: int) -> str:
    """Milliseconds since 1970 as UTC, ISO 8601 with milliseconds."""
    moment = datetime.fromtimestamp(ms // 1000, UTC)
    return f"{moment:%Y-%m-%dT%H:%M:%S}.{ms % 1000:03d}Z"


def now_text() -> str:
    """The time now, UTC, ISO 8601 with milliseconds."""
    return time_text(now_ms())


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


def far_ahead(now_ms: int) -> str | None:
    """The first id that lies too far in the future for the time ``now_ms``; None if the clock is not set at all."""
    return None if now_ms < FIRST_MS else _pack(now_ms + AHEAD_MS, 0)


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


@lru_cache(maxsize=1)
def version() -> str:
    """The installed version, or "unknown" in a checkout that is not installed."""
    from importlib import metadata  # start-up time

    try:
        return metadata.version("lapwise")
    except metadata.PackageNotFoundError:
        return "unknown"
