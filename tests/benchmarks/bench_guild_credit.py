"""Why the first file of a guild brings a newcomer only part of what could be had, and what would bring more.

Run: python tests/benchmarks/bench_guild_credit.py [--truths 12] [--benches 150]

As bench_guild_whole.py: the shipped knowledge, an invented truth around it, benches around that truth, six tries a
case, ten cases a bench and quarter. Here are many truths (8000..), for each of which six newcomers are asked; the sums
are those of the guild (each bench worth its weight), over everything and not by stone or lap, and go through no file.
What is reported is the gain in expected minutes (six tries, then 240) over the shipped advice, with 95 % intervals over
truths, and how each variant differs from what the guild does.

Variants of the first quarter: no limit to what a bench weighs; the shipped judgement worth a quarter, four times, and
what the marginal likelihood of the sums makes of it; the credit shared anew by the file itself, over and over, as could
be done with every single case at hand (expectation maximisation, so at last the most likely chances); the cause known
in each case, or in one of four. Then a year: each quarter's cases credited as they were, and all credited anew by the
newest file; and a year in which all keep to the shipped advice.
"""

from __future__ import annotations

import argparse
import math
import random
import statistics
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.benchmarks import bench_guild_whole as whole

from lapwise.engine.diagnosis import Session
from lapwise.engine.guild import share as shares
from lapwise.engine.knowledge import files
from lapwise.engine.knowledge.experience import LEAST_CHANCE, LEAST_FACTOR, MOST_CHANCE, MOST_FACTOR
from lapwise.engine.knowledge.loader import build
from lapwise.engine.knowledge.model import Experience, Found, Knowledge, Place
from lapwise.engine.learning import fix_chances, pooling
from lapwise.engine.learning.learner import base_shares
from lapwise.engine.record.counts import UNIT
from lapwise.engine.record.credit import counts_of

Pair = tuple[str, str, str]
"""Kind, remedy, cause."""
Sums = dict[Pair, tuple[float, float]]
NEWCOMERS, CASES = 6, 10
ROUNDS = 6
Logged = list[tuple[int, whole.Met]]
"""Which trouble, and how it went."""


@dataclass(frozen=True)
class Known:
    """The advice of now: every trouble under it, and the learned factors on causes."""

    now: list[whole.Setting]
    factors: Mapping[str, float] = field(default_factory=dict)


class Guild:
    """One truth with its benches and newcomers."""

    def __init__(self, knowledge: Knowledge, found: list[whole.Setting], seed: int, benches: int) -> None:
        self.knowledge, self.found, self.benches = knowledge, found, benches
        self.truth = whole.drawn(knowledge, random.Random(seed), 1.2, 0.8)
        self.newcomers = [self._bench(f"newcomer {n}") for n in range(NEWCOMERS)]
        self.names = shares.Names(knowledge, knowledge)
        self.shares = base_shares(knowledge)

    def _bench(self, seed: int | str) -> whole.Truth:
        return whole.drawn(self.knowledge, random.Random(seed), 0.5, 0.4, self.truth)

    def quarter(self, number: int, known: Known) -> list[Logged]:
        """The cases of each bench in a quarter, by the advice of then."""
        out = []
        for bench in range(self.benches):
            own, dice = self._bench(8001 + bench), random.Random((8001 + bench) * 100 + number)
            cases: Logged = []
            for _ in range(CASES):
                at = dice.randrange(len(self.found))
                cases.append((at, whole.met(self.found[at], known.now[at], own, dice)))
            out.append(cases)
        return out

    def credited(self, logged: list[Logged], known: Known, sure: Callable[[int], bool] = lambda _: False) -> list[Sums]:
        """What each bench's cases teach, credit shared by the advice ``known``; ``sure``: if the cause is known."""
        out = []
        for cases in logged:
            sums: Sums = {}
            for number, (at, case) in enumerate(cases):
                record = whole.logged(known.now[at], known.factors, case, number, known=sure(number))
                for (kind, level, _, remedy, cause), (t, h) in shares.cells(counts_of(record), self.names)[0].items():
                    if level == "all":
                        before = sums.get((kind, remedy, cause), (0.0, 0.0))
                        sums[kind, remedy, cause] = before[0] + t / UNIT, before[1] + h / UNIT
            out.append(sums)
        return out

    def pooled(self, given: Sequence[Sums], *, limit: bool = True) -> Sums:
        """All benches added up, each worth no more than its weight (``limit``)."""
        out: Sums = {}
        for sums in given:
            for key, (t, h) in sums.items():
                kappa = pooling.KAPPA_BENCH if key[0] == "fix" else pooling.KAPPA_BENCH_CASES * self.shares[key[2]]
                weight = kappa / (kappa + max(t, abs(h))) if limit else 1.0
                before = out.get(key, (0.0, 0.0))
                out[key] = before[0] + weight * t, before[1] + weight * h
        return out

    def taken(self, sums: Sums, trials: float = 1.0, cases: float = 1.0) -> Known:
        """The advice with these sums; ``trials``, ``cases``: how many times its worth the shipped judgement has."""
        fixes: dict[str, dict[str, Found]] = {}
        causes: dict[str, Found] = {}
        for (kind, remedy, cause), (t, h) in sums.items():
            if t < 1:
                continue
            if kind == "fix":  # counts a times less and a judgement worth a times more say the same
                mean = min(max(h / t, LEAST_CHANCE), MOST_CHANCE)
                fixes.setdefault(remedy, {})[cause] = Found(mean, mean, mean, t / trials)
            else:
                mean = min(max(h / t, LEAST_FACTOR), MOST_FACTOR)
                causes[cause] = Found(mean, mean, mean, t / cases)
        place = Place("experience.yaml", 1, own=True)
        experience = {"all": Experience("all", "all", "", fixes, causes, self.benches, "", place)}
        known = replace(self.knowledge, experience=experience)
        return Known(whole.settings(Session(known), known), fix_chances(None, known).cause_factors())

    def gain(self, known: Known) -> float:
        """Minutes less than by the shipped advice, mean over newcomers and troubles."""
        tries = whole.TRIES
        return statistics.fmean(
            whole.expected(s, s.order, own, tries) - whole.expected(s, n.order, own, tries)
            for own in self.newcomers
            for s, n in zip(self.found, known.now, strict=True)
        )

    def fitted(self, sums: Sums) -> tuple[float, float]:
        """How many times its worth the shipped judgement has by the marginal likelihood of the sums (beta-binomial for
        chances, gamma-Poisson for frequencies): the best of a grid."""
        grid = [0.05 * 1.3**i for i in range(45)]

        def of_chances(times: float) -> float:
            out, size = 0.0, times * pooling.PSEUDO_TRIALS
            for (kind, remedy, cause), (t, h) in sums.items():
                if kind == "fix" and t >= 1:
                    p = self.knowledge.scales.chance[self.knowledge.remedies[remedy].fixes[cause]]
                    a, b, hits = size * p, size * (1 - p), min(max(h, 0.0), t)
                    out += math.lgamma(a + hits) - math.lgamma(a) + math.lgamma(b + t - hits) - math.lgamma(b)
                    out += math.lgamma(size) - math.lgamma(size + t)
            return out

        def of_causes(times: float) -> float:
            out = 0.0
            for (kind, _, cause), (t, h) in sums.items():
                if kind == "cause" and t >= 1:
                    q, seen = times * pooling.PSEUDO_CASES * self.shares[cause], max(h, 0.0)
                    out += math.lgamma(q + seen) - math.lgamma(q) + q * math.log(q) - (q + seen) * math.log(q + t)
            return out

        return max(grid, key=of_chances), max(grid, key=of_causes)


def first_quarter(guild: Guild, shipped: Known) -> dict[str, float]:
    """The gain after one quarter, by variant."""
    logged = guild.quarter(1, shipped)
    given = guild.credited(logged, shipped)
    sums = guild.pooled(given)
    known = guild.taken(sums)
    out = {
        "as the guild adds up": guild.gain(known),
        "no limit to a bench": guild.gain(guild.taken(guild.pooled(given, limit=False))),
        "judgement worth a quarter": guild.gain(guild.taken(sums, 0.25, 0.25)),
        "judgement worth four times": guild.gain(guild.taken(sums, 4.0, 4.0)),
        "judgement's worth fitted": guild.gain(guild.taken(sums, *guild.fitted(sums))),
    }
    for turn in range(2, ROUNDS + 1):
        known = guild.taken(guild.pooled(guild.credited(logged, known)))
        if turn in (2, 3, ROUNDS):
            out[f"credited {turn} times, by single cases"] = guild.gain(known)
    quarter = guild.credited(logged, shipped, lambda number: number % 4 == 0)
    out["cause known in one of four"] = guild.gain(guild.taken(guild.pooled(quarter)))
    out["cause known"] = guild.gain(guild.taken(guild.pooled(guild.credited(logged, shipped, lambda _: True))))
    return out


def year(guild: Guild, shipped: Known) -> dict[str, float]:
    """The gain after each quarter of a year, by what is done with the older cases; and where no file is taken."""
    out: dict[str, float] = {}
    given: list[list[Sums]]
    logged: list[Logged]
    known, given = shipped, [[] for _ in range(guild.benches)]
    for number in range(1, 5):
        for sums, new in zip(given, guild.credited(guild.quarter(number, known), known), strict=True):
            sums.append(new)
        known = guild.taken(guild.pooled([_added(sums) for sums in given]))
        out[f"quarter {number}"] = guild.gain(known)
    known, logged = shipped, [[] for _ in range(guild.benches)]
    for number in range(1, 5):
        for kept, new in zip(logged, guild.quarter(number, known), strict=True):
            kept.extend(new)
        known = guild.taken(guild.pooled(guild.credited(logged, known)))
        out[f"quarter {number}, all credited anew"] = guild.gain(known)
    quarters = [guild.quarter(number, shipped) for number in range(1, 5)]
    logged = [[case for cases in of_bench for case in cases] for of_bench in zip(*quarters, strict=True)]
    out["a year on the shipped advice"] = guild.gain(guild.taken(guild.pooled(guild.credited(logged, shipped))))
    return out


def _added(given: Sequence[Sums]) -> Sums:
    out: Sums = {}
    for sums in given:
        for key, (t, h) in sums.items():
            before = out.get(key, (0.0, 0.0))
            out[key] = before[0] + t, before[1] + h
    return out


def interval(values: Sequence[float]) -> str:
    """Mean and 95 % interval over truths (Student's t)."""
    from scipy import stats

    mean = statistics.fmean(values)
    half = stats.t.ppf(0.975, len(values) - 1) * statistics.stdev(values) / math.sqrt(len(values))
    return f"{mean:5.1f} ({mean - half:.1f} to {mean + half:.1f})"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--truths", type=int, default=12)
    parser.add_argument("--benches", type=int, default=150)
    options = parser.parse_args()
    knowledge = build(files.shipped_files(), ()).knowledge
    found = whole.settings(Session(knowledge), knowledge)
    met: list[dict[str, float]] = []
    for seed in range(8000, 8000 + options.truths):
        guild = Guild(knowledge, found, seed, options.benches)
        met.append(first_quarter(guild, Known(found)) | year(guild, Known(found)))
        print(f"truth {seed} done", file=sys.stderr, flush=True)
    print(f"{options.truths} truths, {options.benches} benches, {NEWCOMERS} newcomers each: minutes gained (95 %)")
    for name in met[0]:
        base = f"quarter {name[8]}" if name.startswith("quarter") else "as the guild adds up"
        other = [m[name] - m[base] for m in met]
        print(f"{name:<36}{interval([m[name] for m in met]):<24}against {base}: {interval(other)}")


if __name__ == "__main__":
    main()
