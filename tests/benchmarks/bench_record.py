"""The record at size: import beside plain `sqlite3 .import`, a ranking and a start with a million logged steps, kills.

Run: python tests/benchmarks/bench_record.py [--rows 100000] [--steps 1000000] [--kills 1000]
     [--only import|ranking|kills] [--keep FOLDER]

Everything is measured in one run on one machine and printed; nothing is asserted by the clock.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from lapwise.engine.case import Case
from lapwise.engine.folders import folders
from lapwise.engine.knowledge.loader import load
from lapwise.engine.record import derived, ids
from lapwise.engine.record.care import check, rebuild
from lapwise.engine.record.exchange import import_lines
from lapwise.engine.record.rows import HEADER, dump, read_row
from lapwise.engine.record.store import Record

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
OUTCOMES = ("no-change", "no-change", "better", "fixed")
AT = "2026-01-31T12:00:00.000Z"


def rows(steps: int, seed: int, own_laps: int = 12):
    """Rows of cases of two steps each, on any material, lap and compound, with what was shown."""
    knowledge = load(folders(tempfile.mkdtemp())).knowledge
    dice = random.Random(seed)
    materials, laps, compounds = (sorted(x) for x in (knowledge.materials, knowledge.laps, knowledge.compounds))
    causes, remedies = sorted(knowledge.causes), sorted(knowledge.remedies)
    symptoms = sorted(knowledge.symptoms)
    last = None
    ms = 1_700_000_000_000
    own = []
    for _ in range(own_laps):
        last = ids.next_id(ms, last)
        own.append(last)
        yield {
            "row": "lap",
            "id": last,
            "lap_id": last,
            "at": AT,
            "kind": "add",
            "body": {"name": f"lap {len(own)}", "type": dice.choice(laps), "carries": []},
        }
    for _ in range(steps // 2):
        ms += 1000
        case_id = last = ids.next_id(ms, last)
        yield {
            "row": "case",
            "id": case_id,
            "at": AT,
            "knowledge": "k",
            "version": "0",
            "case": {
                "material": dice.choice(materials),
                "lap": dice.choice(laps),
                "compound": dice.choice(compounds),
                "stage": "polish",
                "symptoms": [dice.choice(symptoms)],
                "own_lap": dice.choice(own),
            },
        }
        believed = dice.sample(causes, 5)
        for n in range(2):
            last = ids.next_id(ms, last)
            remedy = dice.choice(remedies)
            known = knowledge.remedies[remedy].fixes
            yield {
                "row": "step",
                "id": last,
                "case_id": case_id,
                "at": AT,
                "kind": "try",
                "remedy": remedy,
                "outcome": dice.choice(OUTCOMES) if n == 0 else "fixed",
                "minutes": 5.0,
                "note": "",
                "knowledge": "k",
                "version": "0",
                "shown": {
                    "posterior": dict(zip(believed, (0.5, 0.2, 0.15, 0.1, 0.05), strict=True)),
                    "fix": {c: 0.5 for c in believed if c in known},
                },
            }


def bench_import(count: int) -> None:
    """Import of ``count`` rows through the format, and of the same content by the sqlite3 shell into bare tables."""
    folder = Path(tempfile.mkdtemp())
    source = folder / "rows.jsonl"
    wanted = count * 2 // 3
    with source.open("w") as file:
        file.write(dump(HEADER) + "\n")
        for row in rows(wanted, seed=1):
            file.write(dump(row) + "\n")
    number = sum(1 for _ in source.open()) - 1
    with Record.open(folders(folder / "data")) as record, source.open() as file:
        began = time.perf_counter()
        found = import_lines(record, file)
        ours = time.perf_counter() - began
    assert sum(found.added.values()) == number
    print(
        f"import: {number} rows in {ours:.1f} s, {number / ours:,.0f} rows a second (checked, learned from, in one "
        "transaction)"
    )
    table = folder / "rows.txt"
    with source.open() as file, table.open("w") as out:
        next(file)
        for line in file:
            data = json.loads(line)
            out.write("\t".join((data["id"], data["row"], data["at"], line.strip())) + "\n")
    shell = shutil.which("sqlite3")
    if shell is None:
        print("the sqlite3 shell is not here: no figure to put beside it")
        return
    script = (
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;\n"
        "CREATE TABLE r(id TEXT PRIMARY KEY, kind TEXT, at TEXT, body TEXT);\n"
        f'.mode ascii\n.separator "\\t" "\\n"\n.import {table} r\n'
    )
    began = time.perf_counter()
    subprocess.run([shell, str(folder / "plain.sqlite3")], input=script, text=True, check=True, capture_output=True)
    plain = time.perf_counter() - began
    print(
        f"sqlite3 .import of the same lines into one bare table: {plain:.1f} s, {number / plain:,.0f} rows a second; "
        f"ours takes {ours / plain:.1f} times as long"
    )
    shutil.rmtree(folder)


def big_record(steps: int, folder: Path) -> None:
    """A record of so many steps, written in bulk through the same row checks, then the counts worked out."""
    with Record.open(folders(folder)) as record, record.writing() as connection:
        began = time.perf_counter()
        for row in rows(steps, seed=2):
            checked = read_row(row, 1 << 62)
            columns = checked.columns
            if checked.table == "cases":
                connection.execute("INSERT INTO case_keys VALUES (?)", (columns["id"],))
            connection.execute(
                f"INSERT INTO {checked.table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})",
                tuple(columns.values()),
            )
        for _ in derived.rebuild(connection):
            pass
        print(f"made a record of {steps} steps in {time.perf_counter() - began:.0f} s", flush=True)


def bench_ranking(steps: int, keep: Path | None, again: bool) -> None:
    """One changed answer to a new quick ranking, warm; and a start to the first ranking, as a process; with and
    without the steps, alternating."""
    from lapwise.engine.diagnosis.session import Session

    folder = keep or Path(tempfile.mkdtemp())
    if not (folder / "full" / "record.sqlite3").exists():
        big_record(steps, folder / "full")
    elif again:
        began = time.perf_counter()
        with Record.open(folders(folder / "full")) as record:
            rebuild(record)
        print(f"worked out the counts of {steps} steps again in {time.perf_counter() - began:.0f} s", flush=True)
    (folder / "empty").mkdir(exist_ok=True)
    size = (folder / "full" / "record.sqlite3").stat().st_size
    knowledge = load(folders(folder / "empty")).knowledge
    load(folders(folder / "full"))  # both have their cache of the knowledge
    cases = [
        Case(material=m, lap=lap, compound=c, symptoms=(s,), facts={"wetness": w})
        for m, lap, c in (("topaz", "tin-lap", "aluminium-oxide"), ("quartz", "phenolic-lap", "cerium-oxide"))
        for s in ("fine-scratches", "haze", "stays-dull")
        for w in ("dry", "damp", "wet")
    ]
    times: dict[str, list[float]] = {"empty": [], "full": []}
    first: dict[str, float] = {}
    with Record.open(folders(folder / "empty")) as none, Record.open(folders(folder / "full")) as full:
        sessions = {"empty": Session(knowledge, record=none), "full": Session(knowledge, record=full)}
        for name, session in sessions.items():
            began = time.perf_counter()
            session.quick(cases[-1])
            first[name] = time.perf_counter() - began
        for _ in range(5):
            for case in cases:
                for name, session in sessions.items():
                    session._prepared.clear()
                    began = time.perf_counter()
                    session.quick(case)
                    times[name].append(time.perf_counter() - began)
        after_log: dict[str, list[float]] = {"empty": [], "full": []}
        for case in cases:
            for name, session in sessions.items():
                record = none if name == "empty" else full
                with record.writing():
                    pass  # as after an outcome was logged: nothing kept from before is used
                began = time.perf_counter()
                session.quick(case)
                after_log[name].append(time.perf_counter() - began)
    medians = {name: statistics.median(t) * 1000 for name, t in times.items()}
    ratio = medians["full"] / medians["empty"]
    print(
        f"ranking, warm, median of {len(times['full'])}: {medians['empty']:.1f} ms with nothing logged, "
        f"{medians['full']:.1f} ms with {steps} steps ({size / 1e6:.0f} MB): {ratio:.2f} times; "
        f"the first ones {first['empty'] * 1000:.0f} and {first['full'] * 1000:.0f} ms"
    )
    a, b = (statistics.median(after_log[name]) * 1000 for name in ("empty", "full"))
    print(
        f"the same right after something was logged, median of {len(after_log['full'])}: {a:.1f} ms and {b:.1f} ms: "
        f"{b / a:.2f} times"
    )
    starts: dict[str, list[float]] = {"empty": [], "full": []}
    code = "from lapwise.tui.cli.main import main; main()"
    command = [
        sys.executable,
        "-c",
        code,
        "diagnose",
        "--material",
        "topaz",
        "--lap",
        "tin-lap",
        "--compound",
        "aluminium-oxide",
        "--symptom",
        "haze",
        "--json",
    ]
    for _ in range(9):
        for name, taken in starts.items():
            began = time.perf_counter()
            subprocess.run(
                [*command, "--data", str(folder / name)],
                check=True,
                capture_output=True,
                env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
            )
            taken.append(time.perf_counter() - began)
    a, b = (statistics.median(starts[name]) for name in ("empty", "full"))
    print(
        f"start to a ranking as a process, median of 9: {a:.2f} s with nothing logged, {b:.2f} s with {steps} steps: "
        f"{b / a:.2f} times"
    )
    logged = []
    with Record.open(folders(folder / "full")) as record:
        for _ in range(20):
            began = time.perf_counter()
            record.log_outcome(cases[0], "clean-lap", "fixed", minutes=1, knowledge_digest="k")
            logged.append(time.perf_counter() - began)
    print(f"logging one outcome into it, on disk: median {statistics.median(logged) * 1000:.1f} ms")
    if keep is None:
        shutil.rmtree(folder)


def bench_kills(kills: int) -> None:
    """A process that logs, killed at random moments."""
    from tests.unit.record_crash import kill_at_random

    folder = Path(tempfile.mkdtemp())
    report = kill_at_random(folder / "data", kills, seed=20260131)
    print(
        f"{report.kills} kills at random moments: {report.acknowledged} outcomes acknowledged, {report.lost} lost, "
        f"{report.unsound} unsound checks"
    )
    with Record.open(folders(folder / "data")) as record:
        print(f"afterwards: {check(record).steps} steps, sound: {not check(record).faults}")
    shutil.rmtree(folder)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--steps", type=int, default=1_000_000)
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--only", choices=["import", "ranking", "kills"])
    parser.add_argument("--keep", type=Path, help="Keep the big record here, and use it if it is there.")
    parser.add_argument("--again", action="store_true", help="Work out the counts of a kept record again first.")
    options = parser.parse_args()
    if options.only in (None, "import"):
        bench_import(options.rows)
    if options.only in (None, "ranking"):
        bench_ranking(options.steps, options.keep, options.again)
    if options.only in (None, "kills"):
        bench_kills(options.kills)


if __name__ == "__main__":
    main()
