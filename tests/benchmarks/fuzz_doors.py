"""Spoilt files at every door: own knowledge, keys and choices, tables and the record's import, on a fixed seed.

Run: PYTHONPATH=.dev:. python tests/benchmarks/fuzz_doors.py [--seconds 3600] [--seed 20260801]

Each round spoils good files and reads them. It fails if anything but an error meant for a person is raised, if
something shipped is lost, or if the record is not as before but for the rows taken in. The slowest round is printed
with the door it came in by; what was spoilt depends on the seed and the round alone.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from io import StringIO
from pathlib import Path

from tests.unit.knowledge_samples import BASE, NOISE, RULES, base_files, folders_at, mutated
from tests.unit.record_kit import case

from lapwise.engine.errors import LapwiseError
from lapwise.engine.knowledge.files import files_in
from lapwise.engine.knowledge.loader import build
from lapwise.engine.machine.store import load_profile, save_profile
from lapwise.engine.record.care import check
from lapwise.engine.record.exchange import export_lines, import_lines
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.store import Record
from lapwise.engine.transfer import parse_table
from lapwise.engine.transfer.rows import decode
from lapwise.tui.keymap import read_choices, read_keymap
from lapwise.tui.running import RUNNING_FILE, read_running
from lapwise.tui.sample import PROFILE

KEYS = "case.fixed: z\narea.laps: f10\ncase.try: 'enter,t'\n"
TABLE = "index,angle,index_change,angle_change\n12,42,0.02,0.12\n36;42;-0,04;0.02\n60 1/4,42,,\n"
CHOICES = '{"theme": "bright-bench", "large": true, "touch": false, "welcomed": true}\n'
TRYING = '{"case": "x", "remedy": "let-cool", "began": 1700000000.5}\n'
Round = Callable[[random.Random], str]


class Failed(Exception):
    """What must not happen, happened."""


def spoilt(text: str, chance: random.Random) -> bytes:
    """A text with small faults, and now and then a coarse one: cut off, repeated, nested, or bytes that are no text."""
    data = mutated(text, chance).encode("utf-8", "surrogatepass")
    kind = chance.randrange(12)
    at = chance.randrange(len(data) + 1)
    if kind == 0:
        return data[:at]
    if kind == 1:
        return data[:at] + data[: chance.randrange(len(data) + 1)] * chance.randrange(1, 40) + data[at:]
    if kind == 2:
        return data[:at] + chance.choice((b"[", b"{", b"- ", b"{a: ", b'["')) * chance.randrange(1, 3000) + data[at:]
    if kind == 3:
        return data[:at] + chance.randbytes(chance.randrange(1, 60)) + data[at:]
    if kind == 4:
        return data[:at] + str(10 ** chance.randrange(1, 400)).encode() + data[at:]
    if kind == 5:
        return data[:at] + chance.choice(NOISE).encode("utf-8", "surrogatepass") * chance.randrange(1, 5000) + data[at:]
    return data


def doors(folder: Path) -> dict[str, Round]:
    """Name to what reads one spoilt file; each answers with how it was taken."""
    shipped = base_files(folder)
    sound = build(shipped, ()).knowledge
    own = folder / "own"
    for name in ("knowledge", "rules"):
        (own / name).mkdir(parents=True)

    def knowledge(chance: random.Random) -> str:
        # ids of their own, or those of the shipped: both happen to people
        rename = chance.random() < 0.5
        for name, good in (("knowledge", BASE), ("rules", RULES)):
            text = good.replace("dullite", "mine").replace("soft-stone", "my-stone") if rename else good
            data = spoilt(text, chance) if chance.random() < 0.7 else text.encode()
            (own / name / "mine.yaml").write_bytes(data)
        loaded = build(shipped, files_in(own))
        for kind in ("materials", "laps", "compounds", "symptoms", "causes", "remedies", "looks", "cautions", "rules"):
            if lost := set(getattr(sound, kind)) - set(getattr(loaded.knowledge, kind)):
                raise Failed(f"{kind} lost: {sorted(lost)}")
        return f"{min(len(loaded.problems), 3)} problems or more" if loaded.problems else "taken"

    def small(text: str, name: str, read: Callable[[], object]) -> Round:
        def run(chance: random.Random) -> str:
            (folder / name).write_bytes(spoilt(text, chance))
            try:
                found = read()
            except LapwiseError:
                return "refused"
            return "said" if getattr(found, "problems", ()) or getattr(found, "problem", None) else "taken"

        return run

    def table(chance: random.Random) -> str:
        try:
            return "said" if parse_table(decode(spoilt(TABLE, chance)), 96).problems else "taken"
        except LapwiseError:
            return "refused"

    profile = save_profile(folders_at(folder), PROFILE)
    small_files = {
        "keys": small(KEYS, "keys.yaml", lambda: read_keymap(folder)),
        "choices": small(CHOICES, "screens.json", lambda: read_choices(folder)),
        "clock": small(TRYING, RUNNING_FILE, lambda: read_running(folder, "x")),
        "profile": small(profile.read_text(encoding="utf-8"), profile.name, lambda: load_profile(folders_at(folder))),
    }
    return {"own files": knowledge, "import": importing(folder), "table": table, **small_files}


def importing(folder: Path) -> Round:
    """Import of spoilt exports into a record that holds rows of its own."""
    with Record.open(folders_at(folder / "giver")) as giver:
        giver.add_lap(OwnLap("The old one", "tin-lap"))
        for at in range(6):
            giver.log_outcome(case(), "clean-lap", "fixed", minutes=at + 1.0, knowledge_digest="d")
        lines = list(export_lines(giver))
    taker = Record.open(folders_at(folder / "taker"))
    taker.log_outcome(case(), "clean-lap", "worse", minutes=2.0, knowledge_digest="d")
    rounds = Counter[str]()

    def run(chance: random.Random) -> str:
        rounds["all"] += 1
        text = spoilt("\n".join(chance.sample(lines[1:], 4)), chance).decode("utf-8", "surrogateescape")
        before = set(export_lines(taker))
        try:
            import_lines(taker, StringIO(lines[0] + "\n" + text + "\n"))
            how = "taken or refused by row"
        except LapwiseError:
            how = "refused"
        after = set(export_lines(taker))
        if not before <= after:
            raise Failed(f"rows lost: {sorted(before - after)[:2]}")
        if rounds["all"] % 50 == 0 and (faults := check(taker).faults):
            raise Failed(f"the record: {faults}")
        return how

    return run


def main() -> int:
    """Run the rounds; 0 if all were clean."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    options.add_argument("--seconds", type=float, default=3600.0)
    options.add_argument("--seed", type=int, default=20260801)
    given = options.parse_args()
    taken: Counter[str] = Counter()
    failed = 0
    slowest = (0.0, "")
    with tempfile.TemporaryDirectory(prefix="lapwise-fuzz-") as folder:
        reading = doors(Path(folder))
        ends = time.monotonic() + given.seconds
        number = 0
        while time.monotonic() < ends:
            number += 1
            for name, run in reading.items():
                chance = random.Random(f"{given.seed} {number} {name}")
                began = time.process_time()
                try:
                    taken[f"{name}: {run(chance)}"] += 1
                except Exception as error:
                    failed += 1
                    print(f"round {number}, {name}: {type(error).__name__}: {str(error)[:300]}", file=sys.stderr)
                slowest = max(slowest, (time.process_time() - began, f"{name}, round {number}"))
    print(f"{number} rounds of {len(reading)} doors, seed {given.seed}: {failed} failed")
    print(f"slowest: {slowest[0]:.2f} s of processor ({slowest[1]})")
    for name, count in sorted(taken.items()):
        print(f"  {name:<45}{count:>8}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
