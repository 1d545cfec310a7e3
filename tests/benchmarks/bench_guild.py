"""Does a guild's file help a newcomer? Invented guilds whose benches differ from the shipped judgement and each other.

Run: python tests/benchmarks/bench_guild.py [--guilds 20] [--benches 200] [--hostile 0 0.1] [--tune]

A guild is a world of bench_learning.py: shipped judgement, and a truth drawn around it. Each of its benches has a truth
of its own, drawn around the guild's (chances moved on the log-odds scale with sd 0.6, frequencies of causes with sd
0.5); what is told of the patterns is the same for all. A bench lives through 20 to 100 cases with the advice that
learns from its own record, and gives its counts. All counts go through the files, the checks and the sums that are
shipped (lapwise.engine.guild, on DuckDB). ``--hostile``: this share of the benches does harm: every other one of them
says of each cure that it failed and the other way round, five times over; the others log at random.

A newcomer is one more bench of the same guild that gave nothing. It has 0, 10 and 50 cases of its own, with the guild's
file and without it; the omniscient planner knows its true chances. Expected minutes to a good facet are exact sums.
What is reported is the mean over newcomers, with 95 % intervals from the means of the guilds (each guild is one draw).
Guilds 7000.. are reported, 100.. served to set the worth of other benches (--tune).
"""

from __future__ import annotations

import argparse
import math
import random
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass, field, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.benchmarks import bench_learning as shop

from lapwise.engine.guild import pool as pooled_by
from lapwise.engine.guild.engines import DuckDB
from lapwise.engine.guild.intake import Intake, found_files
from lapwise.engine.guild.model import Cell, Share
from lapwise.engine.guild.pool import Outcome, Vocabulary, pool
from lapwise.engine.guild.sharefile import write
from lapwise.engine.knowledge import files
from lapwise.engine.knowledge.experience import LEAST_CHANCE, LEAST_FACTOR, MOST_CHANCE, MOST_FACTOR
from lapwise.engine.knowledge.loader import build
from lapwise.engine.learning import pooling
from lapwise.engine.learning.pooling import GroupCounts, Pooled

REPORTED, TUNING = 7000, 100
OWN_CASES = (0, 10, 50)
BENCH_CHANCE, BENCH_FREQUENCY = 0.6, 0.5
EVERY = 10
"""Cases between two refreshes of a bench's advice: nothing changes much sooner, and planning is what takes the time."""
NEWCOMERS = 10


def bench_of(guild: shop.World, dice: random.Random) -> shop.World:
    """A bench: the shipped judgement and the patterns of the guild, a truth of its own."""
    fix = []
    for r, row in enumerate(guild.true_fix):
        named = guild.shipped_fix[r]
        fix.append([shop.moved(p, dice.gauss(0, BENCH_CHANCE)) if c in named else p for c, p in enumerate(row)])
    share = 1 - shop.OTHER_SHARE
    causes = shop.normal([p * math.exp(dice.gauss(0, BENCH_FREQUENCY)) for p in guild.true_prior[:-1]])
    return replace(guild, true_fix=fix, true_prior=[share * p for p in causes] + [shop.OTHER_SHARE])


class Slow(shop.Ours):
    """The learner, whose advice follows a few cases behind."""

    def _update(self) -> None:
        if self.cases % EVERY == 0:
            super()._update()


class WithGuild(shop.Ours):
    """The learner that begins with a guild's file."""

    def __init__(self, w: shop.World, fixes: dict[tuple[int, int], Pooled], causes: dict[int, Pooled]) -> None:
        super().__init__(w)
        self._guild_fix, self._guild_cause = fixes, causes
        self._update()

    def _update(self) -> None:
        for r in range(shop.REMEDIES):
            for c, shipped in self.w.shipped_fix[r].items():
                begin = self._guild_fix.get((r, c), Pooled(shipped, pooling.PSEUDO_TRIALS))
                shell = self._shell(("fix", "all", "*", f"r{r}", str(c)))
                self.fix[r][c] = pooling.chance(begin.mean, [shell], size=begin.size).mean
        for c in range(shop.CAUSES):
            shell = self._shell(("cause", "all", "*", str(c), ""), swap=True)
            self.factors[c] = pooling.factor(self.w.shipped_prior[c], [shell], begin=self._guild_cause.get(c)).mean
        raw = shop.normal([self.w.shipped_prior[c] * self.factors[c] for c in range(shop.CAUSES)])
        self.prior = [(1 - shop.OTHER_SHARE) * p for p in raw] + [shop.OTHER_SHARE]
        self.refresh()


def live(w: shop.World, policy: shop.Policy, cases: int, dice: random.Random) -> None:
    """A bench lives through some cases and logs them."""
    for _ in range(cases):
        cause = dice.choices(range(shop.CAUSES + 1), w.true_prior)[0]
        pattern = dice.choices(range(shop.PATTERNS), [w.pattern[s][cause] for s in range(shop.PATTERNS)])[0]
        done: list[tuple[int, bool]] = []
        for r in policy.order(pattern):
            done.append((r, dice.random() < w.true_fix[r][cause]))
            if done[-1][1]:
                break
        policy.learn(pattern, done)


def share_of(policy: shop.Ours, number: int, harm: str, dice: random.Random) -> Share:
    """What a bench gives; ``harm``: "", "turned" or "careless"."""
    rows: dict[Cell, tuple[int, int]] = {}
    for kind, level, _, one, two in {key for key, _ in policy.counts}:
        if level != "all" or (kind == "cause" and int(one) == shop.CAUSES):
            continue
        a, b = (policy.counts[(kind, level, "*", one, two), i] for i in (0, 1))
        remedy, cause = (one, f"c{two}") if kind == "fix" else ("", f"c{one}")
        trials, hits = (a, b) if kind == "fix" else (b, a)
        if kind == "fix" and trials <= 0:
            continue
        if harm == "turned":
            trials, hits = 5 * trials, 5 * (trials - hits) if kind == "fix" else round(25 * trials - 5 * hits)
        elif harm == "careless":
            hits = round(trials * dice.random() * (1 if kind == "fix" else 2))
        if kind == "fix":
            hits = min(max(hits, -trials), 2 * trials)
        rows[kind, "all", "", remedy, cause] = max(trials, 0), hits if kind == "fix" else max(hits, 0)
    return Share(f"{number:016x}", "2026-Q1", "invented", "1", policy.cases, rows)


def vocabulary(w: shop.World) -> Vocabulary:
    """What the invented guild speaks of."""
    pairs: list[tuple[object, ...]] = []
    for r in range(shop.REMEDIES):
        for c, p in w.shipped_fix[r].items():
            row = ("fix", f"r{r}", f"c{c}", p, pooling.KAPPA_BENCH, pooling.PSEUDO_TRIALS, LEAST_CHANCE, MOST_CHANCE)
            pairs.append((len(pairs), *row))
    for c in range(shop.CAUSES):
        q = w.shipped_prior[c]
        sizes = (pooling.KAPPA_BENCH_CASES * q, pooling.PSEUDO_CASES * q)
        pairs.append((len(pairs), "cause", "", f"c{c}", 1.0, *sizes, LEAST_FACTOR, MOST_FACTOR))
    return Vocabulary(tuple(pairs), ((0, "all", "", -1, -1),))


def begun_with(w: shop.World, outcome: Outcome) -> tuple[dict[tuple[int, int], Pooled], dict[int, Pooled]]:
    """The guild's numbers as a newcomer begins with them."""
    fixes: dict[tuple[int, int], Pooled] = {}
    causes: dict[int, Pooled] = {}
    for n in outcome.numbers:
        c, counts = int(n.cause[1:]), [GroupCounts(n.found.trials, n.found.trials * n.found.mean)]
        if n.kind == "fix":
            r = int(n.remedy[1:])
            fixes[r, c] = pooling.elsewhere(pooling.chance(w.shipped_fix[r][c], counts), pooling.KAPPA_BENCH)
        else:
            q = w.shipped_prior[c]
            causes[c] = pooling.elsewhere(pooling.factor(q, counts), pooling.KAPPA_BENCH_CASES * q)
    return fixes, causes


@dataclass
class Met:
    """Of one guild: minutes of each newcomer at each number of own cases, and who was left out."""

    without: list[list[float]] = field(default_factory=list)
    with_file: list[list[float]] = field(default_factory=list)
    omniscient: list[float] = field(default_factory=list)
    harmful: int = 0
    caught: int = 0
    wronged: int = 0
    honest: int = 0
    pooling_seconds: float = 0.0


def grown(seed: int, benches: int) -> tuple[shop.World, list[shop.Ours]]:
    """A guild's world, and its benches after all their cases."""
    guild = shop.make_world(seed)
    dice = random.Random(seed * 104729)
    lived: list[shop.Ours] = []
    for _ in range(benches):
        w = bench_of(guild, dice)
        lived.append(Slow(w))
        live(w, lived[-1], round(math.exp(dice.uniform(math.log(20), math.log(100)))), dice)
    return guild, lived


def giving(seed: int, lived: list[shop.Ours], hostile: float) -> tuple[list[Share], set[int]]:
    """What they give, and which of them do harm."""
    dice = random.Random(seed * 7)
    bad = dice.sample(range(len(lived)), round(len(lived) * hostile))
    harm = {number: ("turned", "careless")[i % 2] for i, number in enumerate(bad)}
    return [share_of(p, n + 1, harm.get(n, ""), dice) for n, p in enumerate(lived)], set(bad)


def pooled(guild: shop.World, given: list[Share]) -> Outcome:
    """The shares through files, checks and sums."""
    shipped = build(files.shipped_files(), ()).knowledge if not _SHIPPED else _SHIPPED[0]
    _SHIPPED[:] = [shipped]
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        (work / "shares").mkdir()
        for number, share in enumerate(given):
            with (work / "shares" / f"{number:05d}.jsonl").open("xb") as file:
                write(share, file, "x.jsonl")
        taken = Intake(work / "given.parquet", shipped).all(*found_files(str(work / "shares")))
        assert not taken.broken, taken.broken[:3]
        engine = DuckDB(work)
        try:
            return pool(engine, work / "given.parquet", taken.benches, vocabulary(guild), work)
        finally:
            engine.close()


_SHIPPED: list = []


def grow_up(w: shop.World, policy: shop.Policy, dice: random.Random) -> list[float]:
    """Expected minutes of a newcomer at each number of own cases."""
    minutes, lived = [], 0
    for cases in OWN_CASES:
        live(w, policy, cases - lived, dice)
        lived = cases
        minutes.append(shop.expected(w, policy))
    return minutes


def meet(seed: int, guild: shop.World, given: list[Share], bad: set[int], before: Met | None = None) -> Met:
    """Newcomers with and without the file of this guild. ``before``: where those without it were met already."""
    out = Met()
    began = time.monotonic()
    outcome = pooled(guild, given)
    out.pooling_seconds = time.monotonic() - began
    far = {int(name.partition(".")[0]) for name, _ in outcome.far}
    out.harmful, out.caught = len(bad), len(far & bad)
    out.honest, out.wronged = len(given) - len(bad), len(far - bad)
    fixes, causes = begun_with(guild, outcome)
    for number in range(NEWCOMERS):
        w = bench_of(guild, random.Random(seed * 31 + 1_000_003 * number))
        dice = seed * 17 + number
        out.with_file.append(grow_up(w, WithGuild(w, fixes, causes), random.Random(dice)))
        if before is None:
            out.omniscient.append(shop.expected(w, shop.Omniscient(w)))
            out.without.append(grow_up(w, shop.Ours(w), random.Random(dice)))
    if before is not None:
        out.omniscient, out.without = before.omniscient, before.without
    return out


def interval(by_guild: list[float]) -> str:
    """Mean and 95 % interval over guilds (Student's t)."""
    from scipy import stats

    mean = statistics.fmean(by_guild)
    if len(by_guild) < 2:
        return f"{mean:7.2f}"
    half = stats.t.ppf(0.975, len(by_guild) - 1) * statistics.stdev(by_guild) / math.sqrt(len(by_guild))
    return f"{mean:7.2f} ({mean - half:.2f} to {mean + half:.2f})"


def report(found: list[Met]) -> None:
    """The tables."""
    best = [statistics.fmean(m.omniscient) for m in found]
    print("expected minutes to a good facet for a newcomer, mean (95 % over guilds)")
    print(f"omniscient {interval(best)}")
    print(f"{'own cases':>9}  {'without the file':<26}{'with it':<26}{'gain, paired':<26}regret without, with")
    for k, cases in enumerate(OWN_CASES):
        without = [statistics.fmean(row[k] for row in m.without) for m in found]
        with_it = [statistics.fmean(row[k] for row in m.with_file) for m in found]
        gain = [a - b for a, b in zip(without, with_it, strict=True)]
        regret = [statistics.fmean(x) - statistics.fmean(best) for x in (without, with_it)]
        cells = "".join(f"{interval(x):<26}" for x in (without, with_it, gain))
        print(f"{cases:9d}  {cells}{regret[0]:.2f}, {regret[1]:.2f}", flush=True)
    for name, some, of in (
        ("harmful benches named and left out", sum(m.caught for m in found), sum(m.harmful for m in found)),
        ("honest benches left out", sum(m.wronged for m in found), sum(m.honest for m in found)),
    ):
        print(f"{name}: {some} of {of}")
    print(f"adding up: {statistics.fmean(m.pooling_seconds for m in found):.1f} s a guild")


def tune(guilds: int, benches: int) -> None:
    """The worth of other benches, on guilds that are not reported."""
    grew = []
    for seed in range(TUNING, TUNING + guilds):
        guild, lived = grown(seed, benches)
        grew.append((seed, guild, *giving(seed, lived, 0.1)))
    for trials in (10.0, 20.0, 40.0):
        for cases in (60.0, 120.0, 240.0):
            pooling.KAPPA_BENCH, pooling.KAPPA_BENCH_CASES = trials, cases
            found = [meet(*one) for one in grew]
            means = [statistics.fmean(row[k] for m in found for row in m.with_file) for k in range(len(OWN_CASES))]
            out = sum(m.wronged for m in found), sum(m.caught for m in found), sum(m.harmful for m in found)
            print(f"trials {trials:.0f} cases {cases:.0f}: {[round(m, 2) for m in means]} left out {out}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--guilds", type=int, default=4)
    parser.add_argument("--benches", type=int, default=200)
    parser.add_argument("--hostile", type=float, nargs="*", default=[0.0, 0.1])
    parser.add_argument("--tune", action="store_true")
    options = parser.parse_args()
    pooled_by.LEAST_BENCHES = 1
    if options.tune:
        tune(options.guilds, options.benches)
        return
    began = time.monotonic()
    found: dict[float, list[Met]] = {hostile: [] for hostile in options.hostile}
    for seed in range(REPORTED, REPORTED + options.guilds):
        guild, lived = grown(seed, options.benches)
        for hostile in options.hostile:
            before = found[options.hostile[0]][-1] if hostile != options.hostile[0] else None
            found[hostile].append(meet(seed, guild, *giving(seed, lived, hostile), before))
        print(f"guild {seed} after {time.monotonic() - began:.0f} s", file=sys.stderr, flush=True)
    for hostile, some in found.items():
        print(f"\n{options.guilds} guilds of {options.benches} benches, {100 * hostile:.0f} % harmful, ", end="")
        print(f"{NEWCOMERS} newcomers each, seeds {REPORTED}.., {time.monotonic() - began:.0f} s in all\n")
        report(some)


if __name__ == "__main__":
    main()
