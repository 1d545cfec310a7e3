"""What tests of the engine and of the screens share."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

import pytest

from lapwise.engine.knowledge import files, overlay

Read = tuple[dict[overlay.Key, overlay.Entry], list[overlay.Issue], list[tuple[str, bytes]]]
_read = overlay._read


@cache
def _shipped(found: tuple[files.File, ...]) -> Read:
    return _read(found)


@pytest.fixture
def shipped_read_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The shipped files are read once for all tests that lay own ones over them; own files are read as ever."""

    def read(found: Iterable[files.File]) -> Read:
        all_of_them = tuple(found)
        if all_of_them != files.shipped_files():
            return _read(all_of_them)
        entries, problems, seen = _shipped(all_of_them)
        return dict(entries), [*problems], [*seen]

    monkeypatch.setattr(overlay, "_read", read)
