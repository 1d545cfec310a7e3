"""The state machine over commands, long: log, undo, amend, close, export, import, backup, restore, kill, disk, clock.

Run: PYTHONPATH=.dev:. python tests/benchmarks/bench_record_commands.py [--steps 10000] [--each 50] [--seed 20260131]
With --windows two windows stand on the same record, driven by keys (tests/tui/record_windows.py).

Ends with a traceback and the way to it if the record ever differs from a plain list of what was shown.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis.stateful import invariant, run_state_machine_as_test

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.tui.record_windows import WindowMachine
from tests.unit.record_commands import CommandMachine

done: Counter[str] = Counter()


class Counting:
    """Counts the steps of a machine and what was shown as logged."""

    @invariant()
    def agrees(self) -> None:
        super().agrees()
        done["steps"] += 1

    def run(self, *argv: object, bench: str = "") -> tuple[int, str, str]:
        done["commands"] += 1
        return super().run(*argv, bench=bench)

    def child(self, room: int):  # type: ignore[no-untyped-def]
        done["full disks" if room else "kills"] += 1
        return super().child(room)

    def watched(self, name: str) -> None:
        done[f"window: {name}"] += 1

    def teardown(self) -> None:
        done["outcomes shown"] += len(self.shown) if hasattr(self, "shown") else 0
        super().teardown()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--steps", type=int, default=10_000)
    parser.add_argument("--each", type=int, default=50)
    parser.add_argument("--seed", type=int, default=20260131)
    parser.add_argument("--windows", action="store_true")
    options = parser.parse_args()
    base = WindowMachine if options.windows else CommandMachine
    began, round_ = time.monotonic(), 0
    while done["steps"] < options.steps:
        few = settings(
            max_examples=4,
            phases=[Phase.generate],
            stateful_step_count=options.each,
            deadline=None,
            database=None,
            suppress_health_check=list(HealthCheck),
        )
        machine = seed(options.seed + round_)(type(f"Round{round_}", (Counting, base), {}))
        run_state_machine_as_test(machine, settings=few)
        round_ += 1
        print(f"{time.monotonic() - began:6.0f} s  {dict(done)}", flush=True)
    print(f"clean: {dict(done)} in {time.monotonic() - began:.0f} s, seed {options.seed}")


if __name__ == "__main__":
    main()
