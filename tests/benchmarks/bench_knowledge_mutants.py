"""Every mutant of the shipped knowledge, by kind: how many were made and how many the checks found. Minutes of work."""

from __future__ import annotations

import sys
import time

from tests.unit.knowledge_mutants import mutants
from tests.unit.knowledge_oracle import found

from lapwise.engine.knowledge.loader import load


def main(at_most: int = 0) -> int:
    """Prints a line for each kind; ends with 1 if a mutant was missed. ``at_most``: mutants of a kind (0: all)."""
    knowledge = load().knowledge
    before = found(knowledge)
    print(f"findings in the shipped files: {len(before)}")
    made = missed = 0
    start = time.perf_counter()
    for kind, group in mutants(knowledge).items():
        fresh = [m for m in group if (m.check, m.id) not in before]
        chosen = fresh[:: max(1, len(fresh) // at_most)] if at_most else fresh
        lost = [m.id for m in chosen if (m.check, m.id) not in found(m.make(), m.check)]
        made, missed = made + len(chosen), missed + len(lost)
        print(f"{kind:<28}{len(chosen) - len(lost):>5} of {len(chosen):>5}  {' '.join(lost[:5])}", flush=True)
    print(f"{'all':<28}{made - missed:>5} of {made:>5}  in {time.perf_counter() - start:.0f} s")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 0))
