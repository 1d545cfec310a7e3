"""Reads the rows in the pages of a database file that SQLite cannot, or can no longer, read as a whole.

The form of the file: https://www.sqlite.org/fileformat2.html (read from memory). Pages that a write-ahead log holds,
up to its last commit, take the place of those in the file. Nothing is written.
"""

from __future__ import annotations

import ctypes
import mmap
import os
import struct
from collections.abc import Iterator
from pathlib import Path

Values = tuple[object, ...]
LONGEST_RECORD = 4 * 1024 * 1024
USUAL_PAGE = 4096
"""SQLite's page size unless it was told another; for a file whose header is damaged."""
_TABLE_LEAF, _INDEX_LEAF, _INDEX_INNER = 0x0D, 0x0A, 0x02
_INTEGER_BYTES = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}


def _varint(data: bytes, at: int) -> tuple[int, int]:
    """(value, where it ends); up to nine bytes, high bits first."""
    value = 0
    for n in range(8):
        byte = data[at + n]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at + n + 1
    return value << 8 | data[at + 8], at + 9


def record_values(payload: bytes) -> Values:
    """The columns of a record: None, int, float, str or bytes. Raises ``ValueError`` or ``IndexError``."""
    size, at = _varint(payload, 0)
    kinds = []
    while at < size:
        kind, at = _varint(payload, at)
        kinds.append(kind)
    if at != size:
        raise ValueError("a record's header has another length")
    found: list[object] = []
    for kind in kinds:
        if kind == 0:
            found.append(None)
        elif kind in (8, 9):
            found.append(kind - 8)
        elif kind in _INTEGER_BYTES or kind == 7 or kind >= 12:
            length = 8 if kind == 7 else _INTEGER_BYTES.get(kind, (kind - 12) // 2)
            piece = payload[at : at + length]
            if len(piece) != length:
                raise ValueError("a record is cut short")
            at += length
            found.append(_value(kind, piece))
        else:
            raise ValueError("no such kind of column")
    return tuple(found)


def _value(kind: int, piece: bytes) -> object:
    if kind == 7:
        return struct.unpack(">d", piece)[0]
    if kind < 12:
        return int.from_bytes(piece, "big", signed=True)
    return piece if kind % 2 == 0 else piece.decode("utf-8")  # a damaged text is a ValueError


def _mapped(path: Path) -> mmap.mmap | bytes:
    """A file's bytes. It is never closed: on POSIX that would undo the locks SQLite holds on it in this process."""
    try:
        if not path.stat().st_size:
            return b""
    except FileNotFoundError:
        return b""
    file = os.open(path, os.O_RDONLY)
    found = mmap.mmap(file, 0, access=mmap.ACCESS_READ)
    ctypes.pythonapi.Py_IncRef(ctypes.py_object(found))
    return found


def _checksum(data: bytes, sums: tuple[int, int], order: str) -> tuple[int, int]:
    """The running checksum of a write-ahead log over ``data``, of eight bytes and a multiple of them."""
    first, second = sums
    words = struct.unpack(f"{'>' if order == 'big' else '<'}{len(data) // 8 * 2}I", data[: len(data) // 8 * 8])
    for one, two in zip(words[::2], words[1::2], strict=True):
        first = (first + one + second) & 0xFFFFFFFF
        second = (second + two + first) & 0xFFFFFFFF
    return first, second


class Pages:
    """The pages of a database file, with those of its write-ahead log. Raises ``OSError``."""

    def __init__(self, path: Path) -> None:
        self._data = _mapped(path)
        self._log = _mapped(path.with_name(path.name + "-wal"))
        self.size = self._page_size()
        self.length = len(self._data)
        """Bytes of the file without its log; 0 if it is gone."""
        self._newer: dict[int, int] = {}
        """Where in the log the newest committed copy of each page begins."""
        self._doubtful: dict[int, int] = {}
        """The same for what follows a frame whose checksum is wrong: either the log is damaged there, or SQLite has
        written over what a killed process left behind, and these pages are older ones. Rows are only ever added, so
        that reading both copies of a page gives all there is."""
        self._read_log()

    def _page_size(self) -> int:
        for told in (int.from_bytes(self._data[16:18], "big"), int.from_bytes(self._log[8:12], "big")):
            size = 65536 if told == 1 else told
            if 512 <= size <= 65536 and size & (size - 1) == 0:
                return size
        return USUAL_PAGE

    def _read_log(self) -> None:
        log, salts = self._log, self._log[16:24]
        order = "big" if self._log[3:4] == b"\x83" else "little"
        sums = _checksum(log[:24], (0, 0), order)
        found, waiting = self._newer, dict[int, int]()
        if sums != struct.unpack(">II", log[24:32].ljust(8, b"\0")):
            found = self._doubtful
        at = 32
        while at + 24 + self.size <= len(log):
            head = log[at : at + 24]
            if head[8:16] != salts:
                break
            sums = _checksum(log[at + 24 : at + 24 + self.size], _checksum(head[:8], sums, order), order)
            if found is self._newer and sums != struct.unpack(">II", head[16:]):
                found, waiting = self._doubtful, {}
            waiting[int.from_bytes(head[:4], "big")] = at + 24
            if int.from_bytes(head[4:8], "big"):
                found.update(waiting)
                waiting = {}
            at += 24 + self.size

    def numbers(self) -> Iterator[int]:
        """The numbers of all pages, from 1."""
        last = len(self._data) // self.size
        yield from range(1, last + 1)
        yield from sorted(n for n in self._newer.keys() | self._doubtful.keys() if n > last)

    def page(self, number: int) -> bytes:
        """A page's bytes; fewer where the file ends within it."""
        return next(self._copies(number))

    def _copies(self, number: int) -> Iterator[bytes]:
        """All there is of a page, the surest first; fewer bytes where the file ends within it."""
        in_file = bytes(self._data[(number - 1) * self.size : number * self.size])
        if (at := self._newer.get(number)) is not None:
            yield bytes(self._log[at : at + self.size])
        elif in_file or number not in self._doubtful:
            yield in_file
        if (at := self._doubtful.get(number)) is not None:
            yield bytes(self._log[at : at + self.size])

    def records(self) -> Iterator[tuple[int, bool, Values]]:
        """(page, whether it is a row of a table and not of an index, its columns), for all that can be read."""
        for number in self.numbers():
            head = 100 if number == 1 else 0
            for page in self._copies(number):
                if len(page) == self.size and page[head] in (_TABLE_LEAF, _INDEX_LEAF, _INDEX_INNER):
                    for in_table, values in self._cells(page, head):
                        yield number, in_table, values

    def _cells(self, page: bytes, head: int) -> Iterator[tuple[bool, Values]]:
        kind = page[head]
        first = head + (12 if kind == _INDEX_INNER else 8)
        count = min(int.from_bytes(page[head + 3 : head + 5], "big"), (self.size - first) // 2)
        for n in range(count):
            at = int.from_bytes(page[first + 2 * n : first + 2 * n + 2], "big")
            try:
                yield kind == _TABLE_LEAF, record_values(self._payload(page, at, kind))
            except (ValueError, IndexError, OverflowError):
                continue

    def _payload(self, page: bytes, at: int, kind: int) -> bytes:
        if kind == _INDEX_INNER:
            at += 4
        length, at = _varint(page, at)
        if kind == _TABLE_LEAF:
            _, at = _varint(page, at)
        if length > LONGEST_RECORD:
            raise ValueError("longer than any row can be")
        most = self.size - 35 if kind == _TABLE_LEAF else (self.size - 12) * 64 // 255 - 23
        if length <= most:
            local = length
        else:
            least = (self.size - 12) * 32 // 255 - 23
            local = least + (length - least) % (self.size - 4)
            local = local if local <= most else least
        payload = page[at : at + local]
        following = int.from_bytes(page[at + local : at + local + 4], "big")
        while len(payload) < length:
            more = self.page(following) if following else b""
            if len(more) < self.size:
                raise ValueError("the end of a row lies on a page that is not there")
            payload += more[4 : 4 + min(self.size - 4, length - len(payload))]
            following = int.from_bytes(more[:4], "big")
        return payload
