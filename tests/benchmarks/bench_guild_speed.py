"""How long do ten thousand shares take? Made-up steps, added up to shares by DuckDB, then pooled as shipped.

Run: python tests/benchmarks/bench_guild_speed.py [--shares 100 1000 10000] [--steps 5000] [--naive 100] [--folder DIR]

Each bench has ``--steps`` steps (tries), each with its credit shared by two causes, on eight of its own stones and five
laps, all drawn by hashing the step's number: 10,000 shares hold 50 million steps. Making them is told apart from
pooling them: reading and checking every file, the sums, the experience file. Peak memory is that of the pooling
process. The naive loop beside it reads the first ``--naive`` shares as JSON Lines and adds up in a dictionary: no
checks, no weights, no outliers. Needs about 100 kB of disk a share, given back at the end.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from lapwise.engine.guild.make import make
from lapwise.engine.guild.model import COLUMNS, Share
from lapwise.engine.guild.sharefile import PARQUET_KEY, header
from lapwise.engine.knowledge import files
from lapwise.engine.knowledge.loader import build

AT_ONCE = 250
"""Benches whose steps are in memory together."""

STEPS = """
CREATE OR REPLACE TEMP TABLE steps AS
SELECT bench, remedy, cause,
       list_extract($stones, 1 + ((bench * 7 + stone) % len($stones))::INT) AS stone,
       list_extract($laps, 1 + ((bench * 3 + lap) % len($laps))::INT) AS lap,
       credit, CASE WHEN luck < chance THEN credit ELSE 0 END AS hit
FROM (
    SELECT n // {steps} AS bench, hash(n, 1) % 8 AS stone, hash(n, 2) % 5 AS lap, part,
           ((hash(n, 3 + part) % 1000000) / 1e6) AS u,
           CASE WHEN part = 0 THEN 700000 ELSE 300000 END AS credit,
           (hash(n, 9) % 1000000) / 1e6 AS luck
    FROM range({low}, {high}) t(n), (VALUES (0), (1)) p(part)
) s
JOIN pairs ON pairs.pair = (u * u * {pairs})::INT % {pairs}
"""
ROWS = """
SELECT bench, kind, level, name, remedy, cause, sum(trials)::BIGINT AS trials, sum(hits)::BIGINT AS hits FROM (
    SELECT bench, 'fix' AS kind, 'all' AS level, '' AS name, remedy, cause, credit AS trials, hit AS hits FROM steps
    UNION ALL SELECT bench, 'fix', 'material', stone, remedy, cause, credit, hit FROM steps
    UNION ALL SELECT bench, 'fix', 'lap', lap, remedy, cause, credit, hit FROM steps
    UNION ALL SELECT bench, 'cause', 'all', '', '', cause, credit, credit FROM steps
    UNION ALL SELECT bench, 'cause', 'material', stone, '', cause, credit, credit FROM steps
) GROUP BY ALL ORDER BY bench
"""


def generate(folder: Path, shares: int, steps: int) -> int:
    """Write the shares; returns their bytes."""
    import duckdb
    import pyarrow as pa
    import pyarrow.compute as pc
    import pyarrow.parquet as pq

    shipped = build(files.shipped_files(), ()).knowledge
    known = [(r.id, c, shipped.scales.chance[w]) for r in shipped.remedies.values() for c, w in r.fixes.items()]
    connection = duckdb.connect(config={"memory_limit": "2GB"})
    connection.execute("CREATE TABLE pairs(pair INT, remedy VARCHAR, cause VARCHAR, chance DOUBLE)")
    connection.executemany("INSERT INTO pairs VALUES (?, ?, ?, ?)", [(i, *row) for i, row in enumerate(known)])
    lists = {"stones": sorted(shipped.materials), "laps": sorted(shipped.laps)}
    total = 0
    for first in range(0, shares, AT_ONCE):
        last = min(first + AT_ONCE, shares)
        connection.execute(STEPS.format(steps=steps, low=first * steps, high=last * steps, pairs=len(known)), lists)
        table = connection.sql(ROWS).to_arrow_table()
        sizes = pc.value_counts(table["bench"])
        at = 0
        for item in sizes:
            bench, size = item["values"].as_py(), item["counts"].as_py()
            rows = table.slice(at, size).select(list(COLUMNS))
            at += size
            share = Share(
                f"{bench:016x}", "2026-Q1", shipped.digest, "1", steps // 2, dict.fromkeys(range(size), (0, 0))
            )
            schema = pa.schema([(c, pa.string()) for c in COLUMNS[:5]] + [(c, pa.int64()) for c in COLUMNS[5:]])
            rows = rows.cast(schema).replace_schema_metadata({PARQUET_KEY: json.dumps(header(share)).encode()})
            path = folder / f"bench-{bench:05d}.parquet"
            pq.write_table(rows, path)
            total += path.stat().st_size
    return total


def pool_one(folder: str) -> None:
    """In a process of its own: pool, and print what it took as JSON."""
    began = time.monotonic()
    shipped = build(files.shipped_files(), ()).knowledge
    loaded = time.monotonic()
    at = {"read": loaded}

    def told(done: int, share: float | None) -> None:
        at["read"] = time.monotonic()

    made = make(folder, shipped, progress=told)
    done = time.monotonic()
    print(
        json.dumps(
            {
                "rows": made.taken.rows,
                "benches": len(made.taken.benches),
                "numbers": len(made.outcome.numbers),
                "outliers": len(made.outcome.far),
                "reading": at["read"] - loaded,
                "sums": done - at["read"],
                "all": done - began,
                "cpu": time.process_time(),
                "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
                "bytes": len(made.text),
            }
        )
    )


def naive(folder: Path, most: int) -> tuple[float, int]:
    """Seconds of processor of a plain loop over JSON Lines (written first, not counted), and rows."""
    import pyarrow.parquet as pq

    paths = sorted(folder.glob("*.parquet"))[:most]
    texts = ["\n".join(json.dumps(row) for row in pq.read_table(p).to_pylist()) for p in paths]
    began, rows = time.process_time(), 0
    sums: dict[tuple[str, ...], list[int]] = {}
    for text in texts:
        for line in text.splitlines():
            row = json.loads(line)
            key = tuple(row[c] for c in COLUMNS[:5])
            kept = sums.setdefault(key, [0, 0])
            kept[0] += row["trials"]
            kept[1] += row["hits"]
            rows += 1
    return time.process_time() - began, rows


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shares", type=int, nargs="*", default=[100, 1000])
    parser.add_argument("--steps", type=int, default=5000)
    parser.add_argument("--naive", type=int, default=100)
    parser.add_argument("--folder", help="where to put the shares (a temporary folder)")
    parser.add_argument("--pool", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.pool:
        pool_one(options.pool)
        return
    print(" shares       steps        rows     MB  made s  read s  sums s   all s   cpu s  peak MB")
    for shares in options.shares:
        with tempfile.TemporaryDirectory(dir=options.folder) as name:
            folder = Path(name)
            began = time.monotonic()
            size = generate(folder, shares, options.steps)
            made = time.monotonic() - began
            run = [sys.executable, __file__, "--pool", name]
            said = json.loads(subprocess.run(run, check=True, capture_output=True, text=True).stdout)
            print(
                f"{shares:7d}{shares * options.steps:12,d}{said['rows']:12,d}{size / 1e6:7.0f}{made:8.1f}"
                f"{said['reading']:8.1f}{said['sums']:8.1f}{said['all']:8.1f}{said['cpu']:8.1f}{said['peak_mb']:9.0f}"
                f"   {said['numbers']} numbers, {said['outliers']} left out, file of {said['bytes'] / 1e6:.2f} MB",
                flush=True,
            )
            if shares >= options.naive and options.naive:
                seconds, rows = naive(folder, options.naive)
                told = f"{seconds:.1f} s of processor, {rows / seconds:,.0f} rows a second"
                print(f"   naive loop over {options.naive} of them: {told}")
                options.naive = 0


if __name__ == "__main__":
    main()
