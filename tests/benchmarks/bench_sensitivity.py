"""How much the advice hangs on the numbers behind the words.

Doubles and halves the odds behind every word of the scales, one at a time and all at random, over every case in
tests/cases, and counts how often the first remedy changes and how much longer the search gets when the order made
with the changed numbers is paid in the shipped ones. Aim: at most 10 % more minutes.

    python tests/benchmarks/bench_sensitivity.py [--draws 100]
"""

from __future__ import annotations

import argparse
import random
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

import yaml

from lapwise.engine.case import Case
from lapwise.engine.conclusions import Conclusions, Fact
from lapwise.engine.diagnosis import Session
from lapwise.engine.folders import folders
from lapwise.engine.inference.evaluator import PlainRules
from lapwise.engine.knowledge.loader import load
from lapwise.engine.knowledge.model import Knowledge, Scales
from lapwise.engine.strategy.arrays import Arrays, arrays_of

CASES = Path(__file__).parent.parent / "cases"


@dataclass(frozen=True)
class Plain:
    """The plain evaluator in place of experta: same conclusions (checked elsewhere), no network to rebuild."""

    knowledge: Knowledge

    def run(self, facts: Iterable[Fact]) -> Conclusions:
        return PlainRules(self.knowledge).run(facts)


def cases() -> list[tuple[str, Case]]:
    out = []
    for path in sorted(CASES.rglob("*.yaml")):
        data = yaml.safe_load(path.read_text(encoding="utf-8"))
        for entry in data if isinstance(data, list) else data.get("cases", [data]) if isinstance(data, dict) else []:
            stated = entry.get("case") if isinstance(entry, dict) else None
            if stated:
                out.append((str(entry.get("id", path.stem)), read_case(stated)))
    return out


def read_case(stated: dict[str, Any]) -> Case:
    tried = stated.get("tried") or {}
    pairs = tried.items() if isinstance(tried, dict) else [tuple(t) for t in tried]
    return Case(
        material=stated.get("material"),
        lap=stated.get("lap"),
        compound=stated.get("compound"),
        stage=stated.get("stage", "polish"),
        symptoms=tuple(stated.get("symptoms", ())),
        facts=MappingProxyType({k: str(v) for k, v in (stated.get("facts") or {}).items()}),
        prior=stated.get("prior"),
        tried=tuple(pairs),
    )


def moved(p: float, factor: float) -> float:
    odds = p / (1 - p) * factor
    return odds / (1 + odds)


def variants(scales: Scales) -> Iterator[tuple[str, Scales]]:
    """Every number's odds doubled and halved, one at a time."""
    for factor, name in ((2.0, "doubled"), (0.5, "halved")):
        for word, p in scales.chance.items():
            yield f"chance {word} {name}", replace(scales, chance={**scales.chance, word: moved(p, factor)})
        for word, w in scales.strength.items():
            changed = w + (0.693 if factor == 2 else -0.693)
            yield f"strength {word} {name}", replace(scales, strength={**scales.strength, word: changed})
        for word, f in scales.frequency.items():
            yield f"frequency {word} {name}", replace(scales, frequency={**scales.frequency, word: f * factor})
        for field in ("background", "unexplained", "other_share"):
            value = moved(getattr(scales, field), factor)
            yield f"{field} {name}", replace(scales, **{field: value})


def drawn(scales: Scales, rng: random.Random) -> Scales:
    """Every number's odds moved at random between half and double."""

    def factor() -> float:
        return 2.0 ** rng.uniform(-1, 1)

    return replace(
        scales,
        chance={w: moved(p, factor()) for w, p in scales.chance.items()},
        strength={w: max(0.05, v + 0.693 * rng.uniform(-1, 1)) for w, v in scales.strength.items()},
        frequency={w: f * factor() for w, f in scales.frequency.items()},
        background=moved(scales.background, factor()),
        unexplained=moved(scales.unexplained, factor()),
        other_share=moved(scales.other_share, factor()),
    )


def sequence_minutes(a: Arrays, order: list[int]) -> float:
    """Expected minutes of a fixed order of remedy numbers, then the last resort; no look."""
    mass, paid, total = a.p.copy(), a.paid.copy(), 0.0
    for r in order:
        due = 0.0 if paid[a.group[r]] else float(a.setup[r])
        total += (float(a.base[r]) + due) * float(mass.sum())
        mass = mass * (1.0 - a.fix[r])
        paid[a.group[r]] = True
    return total + float(mass @ a.end)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--draws", type=int, default=50)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as empty:
        knowledge = load(folders(empty)).knowledge
    stated = cases()
    base = Session(knowledge, engine=Plain(knowledge))  # type: ignore[arg-type]
    reference = []
    for _, case in stated:
        prepared = base.prepare(case)
        order = [s.remedy for s in base.quick(case).plan]
        arrays = arrays_of(prepared.problem)
        place = {r.id: i for i, r in enumerate(prepared.problem.remedies)}
        reference.append((arrays, place, order, sequence_minutes(arrays, [place[r] for r in order if r in place])))

    def compare(scales: Scales) -> tuple[float, float, float]:
        changed = replace(knowledge, scales=scales)
        session = Session(changed, engine=Plain(changed))  # type: ignore[arg-type]
        first, extra = 0, []
        for (_, case), (arrays, place, order, minutes) in zip(stated, reference, strict=True):
            other = [s.remedy for s in session.quick(case).plan]
            first += bool(order) and other[:1] != order[:1]
            paid = sequence_minutes(arrays, [place[r] for r in other if r in place])
            extra.append(paid / minutes - 1 if minutes else 0.0)
        return first / len(stated), sum(extra) / len(extra), max(extra)

    print(f"{len(stated)} cases; first remedy changed, extra minutes mean and worst")
    worst = (0.0, "")
    for name, scales in variants(knowledge.scales):
        changed, mean, most = compare(scales)
        worst = max(worst, (mean, name))
        print(f"{name:32} {100 * changed:5.1f} %  {100 * mean:+6.2f} %  {100 * most:+6.1f} %")
    rng = random.Random(20261125)
    rows = [compare(drawn(knowledge.scales, rng)) for _ in range(options.draws)]
    for label, column in (("first remedy changed", 0), ("extra minutes, mean", 1), ("extra minutes, worst case", 2)):
        values = sorted(r[column] for r in rows)
        print(
            f"all at random, {len(rows)} draws, {label}: mean {100 * sum(values) / len(values):.2f} %,"
            f" worst {100 * values[-1]:.2f} %"
        )
    print(f"worst single change: {worst[1]}, {100 * worst[0]:+.2f} % minutes")


if __name__ == "__main__":
    main()
