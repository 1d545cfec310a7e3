"""Takes in the files that benches gave: each is read by itself and checked before it counts; a broken one is named.

What is good goes into one Parquet file, a row for each cell of each bench. A whole export of a record is first made
into a share by the code that makes one at a bench.
"""

from __future__ import annotations

import glob
import json
import os
import re
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from lapwise.engine.errors import BadInput, Issue, LapwiseError
from lapwise.engine.folders import folders
from lapwise.engine.guild import share as shares
from lapwise.engine.guild.model import COLUMNS, FORMAT, KINDS, LEVELS, MOST_CASES, MOST_COUNT, MOST_ROWS, WHAT
from lapwise.engine.guild.needs import needed
from lapwise.engine.guild.sharefile import ENDINGS, PARQUET_KEY
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.record.exchange import import_lines
from lapwise.engine.record.rows import HEADER
from lapwise.engine.record.store import Record
from lapwise.engine.record.work import Progress

MOST_BYTES = 64_000_000
"""Of a share; of an export of a record no more than :data:`MOST_EXPORT_BYTES`."""
MOST_EXPORT_BYTES = 2_000_000_000
LONGEST_HEADER = 4096
_AT_ONCE = 1_000_000
"""Rows held in memory before they are written."""
_TOKEN = re.compile(r"[0-9a-f]{16}")
_QUARTER = re.compile(r"[0-9]{4}-Q[1-4]")
_ID = re.compile(r"[a-z0-9]+(?:[-_.][a-z0-9]+)*")
_LONGEST_ID = 60


class Broken(ValueError):
    """A file that does not count; the text is the reason."""


@dataclass(frozen=True, slots=True)
class Bench:
    """One that gave. ``name``: its folder, or its file where it lies in none. ``scale``: of its noise, in trials."""

    number: int
    name: str
    cases: int
    scale: float
    quarter: str


@dataclass(slots=True)
class Taken:
    """What was taken in. ``twice``: file and the one it repeats; ``broken``: file and why."""

    benches: list[Bench] = field(default_factory=list)
    shares: int = 0
    exports: int = 0
    rows: int = 0
    cases: int = 0
    twice: list[tuple[str, str]] = field(default_factory=list)
    broken: list[tuple[str, str]] = field(default_factory=list)
    other_knowledge: int = 0
    """Shares made with another version of the shipped knowledge: they are read by their ids."""
    exports_left_out: int = 0
    """Cases of exports that were in another export too."""


def found_files(what: str) -> tuple[list[Path], Path]:
    """The files of a folder (with those below it), of a pattern, or the one file; and the folder they are named from.

    Raises :class:`BadInput` if there is none.
    """
    path = Path(what)
    if path.is_dir():
        base = path
        found = sorted(p for p in path.rglob("*") if p.name.endswith(ENDINGS) and not p.name.startswith("."))
    else:
        found = sorted(Path(p) for p in glob.glob(what, recursive=True) if Path(p).name.endswith(ENDINGS))
        parents = {p.parent for p in found}
        base = Path(os.path.commonpath(parents)) if parents else path
    if not found:
        raise BadInput(Issue("there are no shares here (.jsonl or .parquet)", "lapwise guild pool", what))
    return found, base


def bench_name(path: Path, base: Path) -> str:
    """Shares in one sub-folder are one bench's; a file that lies in none is a bench by itself."""
    inner = path.relative_to(base)
    return inner.parts[0] if len(inner.parts) > 1 else inner.name


class Intake:
    """Reads files one by one and writes what counts. Use :meth:`all`."""

    def __init__(self, out: Path, shipped: Knowledge) -> None:
        self._arrow = needed("pyarrow", "adding up")
        self._compute = needed("pyarrow.compute", "adding up")
        self._json = needed("pyarrow.json", "adding up")
        self._parquet = needed("pyarrow.parquet", "adding up")
        a = self._arrow
        self._schema = a.schema([(c, a.string()) for c in COLUMNS[:5]] + [(c, a.int64()) for c in COLUMNS[5:]])
        self._staged = self._schema.insert(0, a.field("bench", a.int32()))
        self._shipped = shipped
        self._names = shares.Names(shipped, shipped)
        self._writer = self._parquet.ParquetWriter(out, self._staged, compression="zstd")
        self._waiting: list[Any] = []
        self._size = 0
        self._seen: dict[str, tuple[str, Any]] = {}
        self._cases: set[str] = set()
        self._by_name: dict[str, Bench] = {}
        self.taken = Taken()

    def all(self, files: list[Path], base: Path, progress: Progress | None = None) -> Taken:
        """Take in every file; what is broken is named in the result."""
        with self._writer:
            for number, path in enumerate(files, 1):
                name = str(path.relative_to(base))
                try:
                    self._take(path, name, bench_name(path, base))
                except (Broken, LapwiseError) as error:
                    self.taken.broken.append((name, str(error)))
                except OSError as error:
                    self.taken.broken.append((name, f"cannot be read: {error.strerror or error}"))
                if progress:
                    progress(number, number / len(files))
            self._flush()
        self.taken.benches = sorted(self._by_name.values(), key=lambda b: b.number)
        return self.taken

    def _take(self, path: Path, name: str, bench: str) -> None:
        if not path.is_file():
            raise Broken("this is not a plain file")
        size = path.stat().st_size
        if path.name.endswith(".parquet"):
            head, table = self._from_parquet(path, size)
        else:
            with path.open("rb") as file:
                first = file.readline(LONGEST_HEADER)
            head = _json_object(first)
            if head.get("what") == HEADER["what"]:
                self._export(path, bench, size)
                return
            _within(size, MOST_BYTES)
            head, table = _header(head), None
            table = self._from_lines(path)
        self._check(table, head)
        holds = (head["cases"], table.num_rows, _sums(table, self._compute))
        first_name, before = self._seen.setdefault(head["token"], (name, holds))
        if first_name != name:
            if before != holds:
                raise Broken(f"it bears the number of {first_name} and holds something else")
            self.taken.twice.append((name, first_name))
            return
        self.taken.shares += 1
        self.taken.other_knowledge += head["knowledge"] != self._shipped.digest
        scale = head["noise"]["scale"] if head["noise"] else 0.0
        self._add(table, bench, head["cases"], scale, head["quarter"])

    def _from_parquet(self, path: Path, size: int) -> tuple[dict[str, Any], Any]:
        _within(size, MOST_BYTES)
        try:
            with self._parquet.ParquetFile(path) as file:
                meta = file.metadata
                unpacked = sum(meta.row_group(i).total_byte_size for i in range(meta.num_row_groups))
                if meta.num_rows > MOST_ROWS or unpacked > 4 * MOST_BYTES:
                    raise Broken(f"it holds more than {MOST_ROWS} rows")
                head = _header(_json_object((file.schema_arrow.metadata or {}).get(PARQUET_KEY, b"")))
                if set(file.schema_arrow.names) != set(COLUMNS):
                    raise Broken("its columns are not those of a share")
                return head, file.read(columns=list(COLUMNS)).select(list(COLUMNS)).cast(self._schema)
        except (self._arrow.ArrowException, OSError, ValueError) as error:
            raise error if isinstance(error, Broken) else Broken("it is no Parquet file that can be read") from None

    def _from_lines(self, path: Path) -> Any:
        options = self._json.ParseOptions(explicit_schema=self._schema, unexpected_field_behavior="error")
        with path.open("rb") as file:
            file.readline(LONGEST_HEADER)
            rest = file.read(MOST_BYTES)
        if not rest.strip():
            return self._schema.empty_table()
        try:
            read = self._json.ReadOptions(block_size=max(len(rest), 1))
            table = self._json.read_json(self._arrow.BufferReader(rest), read_options=read, parse_options=options)
            return table.select(list(COLUMNS)).cast(self._schema)
        except (self._arrow.ArrowException, KeyError, ValueError):
            raise Broken("a line is not a row of a share") from None

    def _check(self, table: Any, head: dict[str, Any]) -> None:
        c = self._compute
        if table.num_rows != head["rows"]:
            raise Broken(f"it says {head['rows']} rows and holds {table.num_rows}")
        if table.num_rows > MOST_ROWS:
            raise Broken(f"it holds more than {MOST_ROWS} rows")
        if any(table[name].null_count for name in COLUMNS):
            raise Broken("a row lacks a value")

        def every(mask: Any) -> bool:
            return bool(c.all(mask, min_count=0).as_py())

        ids = {name: table[name].combine_chunks().dictionary_encode() for name in COLUMNS[:5]}
        for name, coded in ids.items():
            for word in coded.dictionary.to_pylist():
                if not _allowed(name, word):
                    raise Broken(f"a row's {name} cannot be {word[:40]!r}")
        blank_name, whole = c.equal(table["name"], ""), c.equal(table["level"], "all")
        blank_remedy, fix = c.equal(table["remedy"], ""), c.equal(table["kind"], "fix")
        if not every(c.equal(blank_name, whole)) or not every(c.not_equal(blank_remedy, fix)):
            raise Broken("a row's name or remedy does not fit its kind")
        trials, hits = table["trials"], table["hits"]
        for column in (trials, hits):
            if not every(c.and_(c.less_equal(column, MOST_COUNT), c.greater_equal(column, -MOST_COUNT))):
                raise Broken("a count is larger than there can be")
        if not head["noise"]:
            room = c.multiply(trials, 2)
            within = c.and_(c.less_equal(hits, room), c.greater_equal(hits, c.negate(trials)))
            if not every(c.greater_equal(trials, 0)) or not every(c.or_(c.invert(fix), within)):
                raise Broken("a remedy cured more often than it was tried")
            if not every(c.or_(fix, c.greater_equal(hits, 0))):
                raise Broken("a cause was met less than never")
        cells = self._arrow.array([0] * table.num_rows, self._arrow.int64())
        for coded in ids.values():
            # may wrap around where every column has very many words: a row that stands twice is found all the same
            cells = c.add(c.multiply(cells, len(coded.dictionary)), coded.indices.cast(self._arrow.int64()))
        if c.count_distinct(cells).as_py() != table.num_rows:
            raise Broken("the same row is in it twice")

    def _export(self, path: Path, bench: str, size: int) -> None:
        _within(size, MOST_EXPORT_BYTES)
        with tempfile.TemporaryDirectory(prefix="lapwise-") as work, Record.open(folders(work)) as record:
            with path.open(encoding="utf-8", errors="surrogateescape", newline="\n") as source:
                counts = import_lines(record, source)
            if counts.refused and not counts.added:
                raise Broken("none of its rows can be read")
            gathered = shares.gather(record, self._names, self._cases, all_benches=True)
        self._cases.update(gathered.cases)
        self.taken.exports += 1
        self.taken.exports_left_out += gathered.before
        rows = sorted(gathered.rows.items())
        columns = {c: [key[i] for key, _ in rows] for i, c in enumerate(COLUMNS[:5])}
        counted = {c: [value[i] for _, value in rows] for i, c in enumerate(COLUMNS[5:])}
        table = self._arrow.table({**columns, **counted}, schema=self._schema)
        self._add(table, bench, len(gathered.cases), 0.0, shares.quarter())

    def _add(self, table: Any, bench: str, cases: int, scale: float, quarter: str) -> None:
        if not table.num_rows:
            return
        before = self._by_name.get(bench) or Bench(len(self._by_name), bench, 0, 0.0, quarter)
        spread = (before.scale**2 + scale**2) ** 0.5
        now = Bench(before.number, bench, before.cases + cases, spread, max(before.quarter, quarter))
        self._by_name[bench] = now
        numbers = self._arrow.array([now.number] * table.num_rows, self._arrow.int32())
        self._waiting.append(table.add_column(0, "bench", numbers).cast(self._staged))
        self._size += table.num_rows
        self.taken.rows += table.num_rows
        self.taken.cases += cases
        if self._size >= _AT_ONCE:
            self._flush()

    def _flush(self) -> None:
        if self._waiting:
            self._writer.write_table(self._arrow.concat_tables(self._waiting))
        self._waiting, self._size = [], 0


def _allowed(column: str, word: str) -> bool:
    if column in ("kind", "level"):
        return word in (KINDS if column == "kind" else LEVELS)
    return (word == "" and column != "cause") or (len(word) <= _LONGEST_ID and _ID.fullmatch(word) is not None)


def _sums(table: Any, compute: Any) -> tuple[int, int]:
    return compute.sum(table["trials"]).as_py() or 0, compute.sum(table["hits"]).as_py() or 0


def _within(size: int, most: int) -> None:
    if size > most:
        raise Broken(f"it is larger than {most // 1_000_000} MB")


def _json_object(data: bytes) -> dict[str, Any]:
    try:
        found = json.loads(data)
    except (ValueError, RecursionError):
        raise Broken("its first line is not the header of a share") from None
    if not isinstance(found, dict):
        raise Broken("its first line is not the header of a share")
    return found


def _whole(value: object, most: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= most


def _header(head: dict[str, Any]) -> dict[str, Any]:
    """The header, every field checked."""
    if head.get("row") != "header" or head.get("what") != WHAT:
        raise Broken("its first line is not the header of a share")
    if head.get("format") != FORMAT:
        raise Broken(f"its format is not {FORMAT}: a newer Lapwise may read it")
    noise = head.get("noise")
    good = (
        isinstance(token := head.get("token"), str)
        and _TOKEN.fullmatch(token)
        and isinstance(when := head.get("quarter"), str)
        and _QUARTER.fullmatch(when)
        and isinstance(head.get("knowledge"), str)
        and _whole(head.get("cases"), MOST_CASES)
        and _whole(head.get("rows"), MOST_ROWS)
        and (noise is None or _good_noise(noise))
    )
    if not good:
        raise Broken("its header has another form")
    if head["quarter"] > shares.quarter():
        raise Broken(f"it says it was made in {head['quarter']}, which lies ahead")
    return head


def _good_noise(noise: object) -> bool:
    if not isinstance(noise, dict) or set(noise) != {"epsilon", "scale"}:
        return False
    return all(isinstance(x, (int, float)) and not isinstance(x, bool) and 0 < x <= 1000 for x in noise.values())


def names(files: list[tuple[str, str]], most: int = 10) -> Iterator[str]:
    """``file: reason``, the first few."""
    for name, why in files[:most]:
        yield f"{name}: {why}"
    if len(files) > most:
        yield f"and {len(files) - most} more"
