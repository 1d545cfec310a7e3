"""Times of the rule engine: ``python tests/benchmarks/bench_inference.py``. A measurement; nothing is asserted.

Made-up rule bases of the shape the shipped one has: two or three conditions a rule, a fifth with a ``not``, some
with ``any``, a tenth on findings. Each figure is the median of several runs.
"""

from __future__ import annotations

import random
import statistics
import subprocess
import sys
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Protocol

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.unit.inference_samples import CAUSES, FINDINGS, knowledge, rule

from lapwise.engine.conclusions import Fact
from lapwise.engine.inference.evaluator import PlainRules
from lapwise.engine.inference.run import RuleEngine
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.rule_model import AllOf, AnyOf, Not, Rule, Test, Then
from lapwise.engine.slots import SLOTS

NAMES = [f"word-{n}" for n in range(24)]


def words(slot: str) -> tuple[str, ...]:
    """The values of ``slot``; made-up words where the knowledge base would list them."""
    values = SLOTS[slot].values
    return tuple(NAMES) if values and values[0].startswith("@") else values


CLOSED = [s for s in SLOTS if SLOTS[s].kind != "number" and s != "finding"]


def some_test(rng: random.Random) -> Test:
    """A test on any slot."""
    if rng.random() < 0.12:
        return Test(rng.choice([s for s in SLOTS if SLOTS[s].kind == "number"]), at_least=rng.uniform(1, 8))
    slot = rng.choice(CLOSED)
    return Test(slot, any_of=tuple(rng.sample(words(slot), min(rng.choice((1, 1, 2, 3)), len(words(slot))))))


def base(count: int) -> Knowledge:
    """A rule base of ``count`` rules."""
    rng = random.Random(count)
    rules: list[Rule] = []
    for number in range(count):
        tier = 1 if rng.random() < 0.1 else 0
        parts: list[Test | AnyOf | Not] = [some_test(rng) for _ in range(rng.choice((1, 2, 2, 3)))]
        if rng.random() < 0.2:
            parts.append(Not(some_test(rng)))
        if rng.random() < 0.15:
            parts.append(AnyOf(tuple(AllOf((some_test(rng),)) for _ in range(2))))
        if tier:
            parts.append(Test("finding", any_of=(rng.choice(FINDINGS),)))
        findings = (rng.choice(FINDINGS),) if not tier and rng.random() < 0.2 else ()
        then = Then(findings=findings, evidence_for={rng.choice(CAUSES): "slightly"})
        rules.append(rule(f"r{number:04d}", *parts, then=then, tier=tier))
    return knowledge(*rules)


def case(rng: random.Random) -> dict[str, list[Fact]]:
    """A full case: most slots known, about forty facts, by slot."""
    out: dict[str, list[Fact]] = {}
    for name, slot in SLOTS.items():
        if name == "finding" or rng.random() < 0.25:
            continue
        if slot.kind == "number":
            out[name] = [Fact(name, rng.uniform(0, 10))]
        else:
            count = rng.choice((1, 2, 4)) if slot.kind == "many" else 1
            out[name] = [Fact(name, w) for w in rng.sample(words(name), min(count, len(words(name))))]
    return out


def flat(facts: dict[str, list[Fact]]) -> list[Fact]:
    """The facts of a case."""
    return [f for group in facts.values() for f in group]


class Runs(Protocol):
    """An engine to be timed."""

    def run(self, facts: Iterable[Fact], /) -> object:
        """Conclude from ``facts``."""


def timed(engine: Runs, facts: list[Fact]) -> float:
    """Milliseconds of one run."""
    start = time.perf_counter()
    engine.run(facts)
    return 1000 * (time.perf_counter() - start)


def main() -> None:
    """Print the table."""
    code = "import time; t = time.perf_counter(); import lapwise.engine.inference.run; print(time.perf_counter() - t)"
    loads = [
        1000 * float(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout)
        for _ in range(5)
    ]
    print(f"import of the rule engine with experta: {statistics.median(loads):.0f} ms")
    for count in (250, 1000):
        measure(base(count))


def measure(kb: Knowledge) -> None:
    """Build, first case, changed and added answers, and the ratio to CLIPS."""
    rng = random.Random(1)
    facts = case(rng)
    start = time.perf_counter()
    as_needed = RuleEngine(kb)
    index = 1000 * (time.perf_counter() - start)
    first = timed(as_needed, flat(facts))
    start = time.perf_counter()
    whole = RuleEngine(kb, build_all=True)
    built = 1000 * (time.perf_counter() - start)
    ways = sum(c.built for c in as_needed._candidates)
    print(f"{len(kb.rules)} rules, {len(flat(facts))} facts:")
    print(f"  index of the rules {index:.1f} ms; first case {first:.1f} ms ({ways} ways of meeting a rule built)")
    print(f"  whole network at once {built:.1f} ms")
    for name, engine in (("as needed", as_needed), ("whole", whole)):
        changed, added, plain = [], [], []
        for _ in range(30):
            slot = rng.choice([s for s in facts if SLOTS[s].kind != "number" and len(words(s)) > 1])
            facts[slot] = [Fact(slot, rng.choice(words(slot)))]
            changed.append(timed(engine, flat(facts)))
            engine.run(flat({s: g for s, g in facts.items() if s != slot}))
            added.append(timed(engine, flat(facts)))
            start = time.perf_counter()
            PlainRules(kb).run(flat(facts))
            plain.append(1000 * (time.perf_counter() - start))
        print(
            f"  network {name}: a changed answer {statistics.median(changed):.1f} ms"
            f" (worst {max(changed):.1f}), an added one {statistics.median(added):.1f} ms;"
            f" plain evaluator {statistics.median(plain):.1f} ms"
        )
    compare_with_clips(kb, flat(facts), whole)


def compare_with_clips(kb: Knowledge, facts: list[Fact], engine: RuleEngine) -> None:
    """The ratio of experta to CLIPS for one run from the beginning, in the same process."""
    try:
        from tests.outside.inference_clips import ClipsEngine
    except ImportError:
        print("  clips is not installed: no ratio")
        return
    clips = ClipsEngine(kb)
    ours, theirs = [], []
    for _ in range(15):
        engine.run([])
        ours.append(timed(engine, facts))
        theirs.append(timed(clips, facts))
    a, b = statistics.median(ours), statistics.median(theirs)
    print(f"  one run from the beginning: experta {a:.2f} ms, CLIPS {b:.2f} ms, ratio {a / b:.1f}")


if __name__ == "__main__":
    main()
