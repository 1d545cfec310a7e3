"""The one reader of the program's own small files: bounded, and every fault is one of two kinds."""

from __future__ import annotations

from pathlib import Path

import pytest

from lapwise.engine.newfile import read_json, write_anew


def test_what_is_written_is_read(tmp_path: Path) -> None:
    file = tmp_path / "kept" / "own.json"
    with pytest.raises(FileNotFoundError):
        read_json(file, 100)
    write_anew(file, '{"größe": 5}\n')
    assert read_json(file, 15) == {"größe": 5}, "bytes are counted, not letters"
    with pytest.raises(ValueError, match="too large"):
        read_json(file, 14)


@pytest.mark.parametrize("held", [b"", b"{", b"\x00", b'"\xff"', b"[" * 50_000, b"1 2"])
def test_what_is_no_json_is_a_value_error(held: bytes, tmp_path: Path) -> None:
    file = tmp_path / "own.json"
    file.write_bytes(held)
    with pytest.raises(ValueError):  # noqa: PT011 - its words are told apart by nobody
        read_json(file, 100_000)


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(OSError):  # noqa: PT011
        read_json(tmp_path, 100)
