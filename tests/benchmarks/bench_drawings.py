"""Processor time until a drawing is made and painted in braille, all drawings at three sizes.

python tests/benchmarks/bench_drawings.py
"""

from __future__ import annotations

import statistics
import time

from lapwise.tui.pictures.catalog import DRAWINGS
from lapwise.tui.pictures.raster import braille

SIZES = ((40, 16), (60, 24), (80, 32))
TURNS = 5


def milliseconds(name: str, columns: int, lines: int) -> float:
    """The best of some turns, in ms of processor: what else the machine does is not counted."""
    taken = []
    for _ in range(TURNS):
        begun = time.process_time()
        braille(DRAWINGS[name](), columns, lines)
        taken.append(time.process_time() - begun)
    return 1000 * min(taken)


def main() -> None:
    for columns, lines in SIZES:
        found = {name: milliseconds(name, columns, lines) for name in DRAWINGS}
        slowest = max(found, key=lambda name: found[name])
        print(
            f"{columns} by {lines}: {len(found)} drawings, median {statistics.median(found.values()):.1f} ms, "
            f"slowest {found[slowest]:.1f} ms ({slowest})"
        )


if __name__ == "__main__":
    main()
