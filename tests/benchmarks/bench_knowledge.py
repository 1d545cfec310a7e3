"""Loading the knowledge: from the YAML files, from the cache, as a process beside `import textual.app`; the checks."""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from lapwise.engine.checks import run
from lapwise.engine.folders import folders
from lapwise.engine.knowledge.loader import load

TEXTUAL = "import textual.app"
LOAD = (
    "from lapwise.engine.folders import folders; from lapwise.engine.knowledge.loader import load; load(folders({!r}))"
)


def milliseconds(call: Callable[[], object], times: int) -> float:
    """Median of several runs."""
    out = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        out.append((time.perf_counter() - start) * 1000)
    return statistics.median(out)


def process(code: str) -> Callable[[], object]:
    """A run of Python on ``code``."""
    return lambda: subprocess.run([sys.executable, "-c", code], check=True)


def main() -> None:
    """Prints one line for each measurement, medians in milliseconds."""
    with tempfile.TemporaryDirectory() as name:
        where = folders(Path(name))
        knowledge = load(where).knowledge
        sizes = ", ".join(f"{len(getattr(knowledge, k))} {k}" for k in ("materials", "rules", "remedies", "sources"))
        print(f"{sizes}; cache {(where.cache / 'knowledge.json').stat().st_size // 1024} KiB")
        cold, warm = milliseconds(load, 5), milliseconds(lambda: load(where), 15)
        textual, started = milliseconds(process(TEXTUAL), 7), milliseconds(process(LOAD.format(name)), 7)
        bare = milliseconds(process("pass"), 7)
        checks = milliseconds(lambda: run(knowledge), 3)
    print(f"from the YAML files    {cold:7.1f}")
    print(f"from the cache         {warm:7.1f}")
    print(f"python alone           {bare:7.1f}")
    print(f"python and warm load   {started:7.1f}")
    print(f"import textual.app     {textual:7.1f}  (load is {(started - bare) / (textual - bare):.2f} of it)")
    print(f"all checks             {checks:7.1f}")


if __name__ == "__main__":
    main()
