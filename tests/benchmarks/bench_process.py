"""`lapwise diagnose` as a process against `python -c "import textual.app"`, alternating in one run.

    python tests/benchmarks/bench_process.py [--runs 15]

Reports medians of wall and processor seconds and their ratio (aim: at most 2).
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import time

DIAGNOSE = """
import sys
from lapwise.tui.cli.main import main
main(["diagnose", "--material", "quartz", "--lap", "phenolic-lap", "--compound", "cerium-oxide",
      "--symptom", "fine-scratches"])
"""


def once(code: str) -> tuple[float, float]:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.perf_counter()
    environment = {**os.environ, "PYTHONDONTWRITEBYTECODE": ""}
    subprocess.run([sys.executable, "-c", code], check=True, stdout=subprocess.DEVNULL, env=environment)
    wall = time.perf_counter() - start
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=15)
    runs = parser.parse_args().runs
    codes = {"import textual.app": "import textual.app", "lapwise diagnose": DIAGNOSE}
    for code in codes.values():
        once(code)
    seen: dict[str, list[tuple[float, float]]] = {name: [] for name in codes}
    for _ in range(runs):
        for name, code in codes.items():
            seen[name].append(once(code))
    wall = {n: statistics.median(w for w, _ in v) for n, v in seen.items()}
    processor = {n: statistics.median(c for _, c in v) for n, v in seen.items()}
    for name in codes:
        print(f"{name:20} wall {wall[name]:.3f} s  processor {processor[name]:.3f} s")
    bare, ours = codes
    print(f"ratio: wall {wall[ours] / wall[bare]:.2f}, processor {processor[ours] / processor[bare]:.2f}")


if __name__ == "__main__":
    main()
