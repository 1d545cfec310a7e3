"""Does learning shorten the way to a good facet? Invented shops whose true chances differ from the shipped ones.

Run: python tests/benchmarks/bench_learning.py [--worlds 40] [--full] [--tune] [--blur 0.7]     (--full: 200 worlds)

A world has eight causes (and "other"), nine remedies and twelve patterns of what is seen. The shipped judgement is
drawn from the words of the scale; the truth is drawn around it: each chance moved on the log-odds scale (sd 1.5), the
frequencies of the causes multiplied by a log-normal (sd 1.2), and two remedies in nine cure their main cause quite
differently from what is written. The chance of each pattern under each cause is known to all (--blur: only to the
omniscient, all others are told it with an error). Every policy meets the same cases with the same luck and logs what it
did itself; nobody is told the cause.

Policies: a fixed checklist (best single order by the shipped judgement); the shipped advice, never learning; naive
counters (successes over trials of each remedy, begun with the shipped marginal as four trials, by rate per minute; the
better on the tuning worlds of counting by remedy and of counting by remedy and pattern); ours (the learner of
lapwise.engine.learning on the counts of lapwise.engine.record); the omniscient planner, who knows the true chances.
Expected minutes are exact sums over all patterns and causes, no sampling. Seeds are fixed: worlds 5000.. are reported,
worlds 1.. served to set the learner's numbers and to choose the counters (--tune).
"""

from __future__ import annotations

import argparse
import math
import random
import statistics
import time
from collections import Counter
from dataclasses import dataclass, field

from lapwise.engine.case import Case
from lapwise.engine.learning import pooling
from lapwise.engine.learning.pooling import GroupCounts
from lapwise.engine.record.credit import UNIT, Key, counts_of
from lapwise.engine.record.model import CaseRecord, Step
from lapwise.engine.strategy import DecisionProblem, LastResort, Remedy, quick

REPORTED, TUNING = 5000, 1
CHECKPOINTS = (0, 10, 50, 200)
CHANCE = {"usually": 0.85, "often": 0.6, "sometimes": 0.3, "rarely": 0.1}
FREQUENCY = (4.0, 2.0, 1.0, 0.5, 0.2)
CAUSES, REMEDIES, PATTERNS = 8, 9, 12
OTHER_SHARE = 0.05
LAST_MINUTES = 120.0
BY_CHANCE = 0.01
Order = tuple[int, ...]


@dataclass
class World:
    """A shop: shipped judgement and truth. Index CAUSES is "other"."""

    seed: int
    minutes: list[float] = field(default_factory=list)
    shipped_fix: list[dict[int, float]] = field(default_factory=list)
    true_fix: list[list[float]] = field(default_factory=list)
    shipped_prior: list[float] = field(default_factory=list)
    true_prior: list[float] = field(default_factory=list)
    pattern: list[list[float]] = field(default_factory=list)
    """P(pattern | cause): a row per pattern."""
    told: list[list[float]] = field(default_factory=list)
    """The same as it is told to everybody but the omniscient: the truth, or blurred."""


def moved(p: float, by: float) -> float:
    """A chance moved on the log-odds scale."""
    return 1.0 / (1.0 + math.exp(-(math.log(p / (1.0 - p)) + by)))


def normal(weights: list[float]) -> list[float]:
    """Weights made to sum to 1."""
    total = sum(weights)
    return [w / total for w in weights]


def make_world(seed: int, blur: float = 0.0) -> World:
    """The world of a seed. ``blur``: sd of the log-normal error in what is told of the patterns."""
    d = random.Random(seed)
    w = World(seed)
    base = [d.choice(FREQUENCY) for _ in range(CAUSES)]
    w.shipped_prior = [(1 - OTHER_SHARE) * p for p in normal(base)] + [OTHER_SHARE]
    w.true_prior = [(1 - OTHER_SHARE) * p for p in normal([b * math.exp(d.gauss(0, 1.2)) for b in base])] + [
        OTHER_SHARE
    ]
    wrong = d.sample(range(REMEDIES), 2)
    for r in range(REMEDIES):
        w.minutes.append(round(math.exp(d.uniform(math.log(3), math.log(30)))))
        named = d.sample(range(CAUSES), d.choice((1, 2, 2, 3)))
        if r < CAUSES and r not in named:
            named[0] = r  # no cause is left without a remedy
        fixes = {c: CHANCE[d.choice(list(CHANCE))] for c in named}
        fixes[named[0]] = CHANCE[d.choice(("usually", "often"))]
        w.shipped_fix.append(fixes)
        truth = [BY_CHANCE] * (CAUSES + 1)
        for c, p in fixes.items():
            truth[c] = moved(p, d.gauss(0, 1.5))
        if r in wrong:
            truth[named[0]] = d.choice((0.05, 0.95))
        w.true_fix.append(truth)
    columns = []
    for _ in range(CAUSES + 1):
        favourite = d.sample(range(PATTERNS), 3)
        columns.append(normal([d.uniform(2, 8) if p in favourite else d.uniform(0.1, 1) for p in range(PATTERNS)]))
    w.pattern = [[columns[c][p] for c in range(CAUSES + 1)] for p in range(PATTERNS)]
    blurred = [normal([x * math.exp(d.gauss(0, blur)) for x in column]) for column in columns]
    w.told = [[blurred[c][p] for c in range(CAUSES + 1)] for p in range(PATTERNS)] if blur else w.pattern
    return w


def believed(table: list[list[float]], prior: list[float], pattern: int) -> list[float]:
    """P(cause | pattern) under a prior and a table of P(pattern | cause)."""
    return normal([prior[c] * table[pattern][c] for c in range(CAUSES + 1)])


def plan(w: World, p: list[float], fix: list[list[float]]) -> Order:
    """The order the planner gives under a belief; it is followed until something works."""
    names = tuple(str(c) for c in range(CAUSES + 1))
    remedies = tuple(Remedy(str(r), w.minutes[r], None, 0.0, tuple(fix[r])) for r in range(REMEDIES))
    answer = quick(DecisionProblem(names, tuple(p), remedies, (), LastResort("last", LAST_MINUTES)))
    order = []
    for step in answer.order:
        if step.remedy == "last":
            break
        order.append(int(step.remedy))
    return tuple(order)


def minutes_of(w: World, order: Order, p: list[float]) -> float:
    """Expected minutes of an order under the true chances, given the true belief: exact."""
    alive, total = list(p), 0.0
    for r in order:
        total += sum(alive) * w.minutes[r]
        alive = [a * (1 - w.true_fix[r][c]) for c, a in enumerate(alive)]
    return total + sum(alive) * LAST_MINUTES


class Policy:
    """Follows an order per pattern; may learn from what came of it."""

    name = ""

    def __init__(self, w: World) -> None:
        self.w = w

    def order(self, pattern: int) -> Order:
        """What to do, in order, for a pattern."""
        raise NotImplementedError

    def learn(self, pattern: int, done: list[tuple[int, bool]]) -> None:
        """Take in a finished case: remedies and whether each cured it."""

    def predicted(self, pattern: int, tried: list[int], remedy: int) -> float | None:
        """P(this remedy cures it now), if the policy says such a thing."""
        return None


class Model(Policy):
    """A planner with a prior and chances."""

    def __init__(self, w: World, prior: list[float], fix: list[list[float]]) -> None:
        super().__init__(w)
        self.prior, self.fix, self.table = prior, fix, w.told
        self._orders: dict[int, Order] = {}

    def refresh(self) -> None:
        """Forget orders after the numbers changed."""
        self._orders.clear()

    def order(self, pattern: int) -> Order:
        if pattern not in self._orders:
            self._orders[pattern] = plan(self.w, believed(self.table, self.prior, pattern), self.fix)
        return self._orders[pattern]

    def predicted(self, pattern: int, tried: list[int], remedy: int) -> float | None:
        p = believed(self.table, self.prior, pattern)
        for r in tried:
            p = normal([a * (1 - self.fix[r][c]) for c, a in enumerate(p)])
        return sum(a * self.fix[remedy][c] for c, a in enumerate(p))


def shipped_table(w: World) -> list[list[float]]:
    """P(fix | cause) as shipped: what is not named is not reckoned with."""
    return [[w.shipped_fix[r].get(c, 0.0) for c in range(CAUSES + 1)] for r in range(REMEDIES)]


class Shipped(Model):
    name = "shipped"

    def __init__(self, w: World) -> None:
        super().__init__(w, w.shipped_prior, shipped_table(w))


class Omniscient(Model):
    name = "omniscient"

    def __init__(self, w: World) -> None:
        super().__init__(w, w.true_prior, w.true_fix)
        self.table = w.pattern


class Checklist(Policy):
    name = "checklist"

    def __init__(self, w: World) -> None:
        super().__init__(w)
        self._order = plan(w, w.shipped_prior, shipped_table(w))

    def order(self, pattern: int) -> Order:
        return self._order


class Counters(Policy):
    """Successes in trials of each remedy under each pattern; tries by rate per minute."""

    name = "counters"
    by_pattern = True
    cut = True

    def __init__(self, w: World) -> None:
        super().__init__(w)
        table = shipped_table(w)
        self.wins: dict[tuple[int, int], float] = {}
        self.trials: dict[tuple[int, int], float] = {}
        for s in range(PATTERNS):
            p = believed(w.told, w.shipped_prior, s)
            for r in range(REMEDIES):
                self.wins[s, r] = 4.0 * sum(a * table[r][c] for c, a in enumerate(p))
                self.trials[s, r] = 4.0

    def rate(self, s: int, r: int) -> float:
        """Success rate so far."""
        return self.wins[s, r] / self.trials[s, r]

    def order(self, pattern: int) -> Order:
        ranked = sorted(range(REMEDIES), key=lambda r: -self.rate(pattern, r) / self.w.minutes[r])
        # the same dear end as for all: give up where a remedy costs more than it can save
        return tuple(r for r in ranked if not self.cut or self.rate(pattern, r) * LAST_MINUTES > self.w.minutes[r])

    def learn(self, pattern: int, done: list[tuple[int, bool]]) -> None:
        for r, cured in done:
            for s in (pattern,) if self.by_pattern else range(PATTERNS):
                self.trials[s, r] += 1.0
                self.wins[s, r] += cured

    def predicted(self, pattern: int, tried: list[int], remedy: int) -> float | None:
        return self.rate(pattern, remedy)


class Ours(Model):
    """The project's learner: rows as the record keeps them, its counts, its pooling."""

    name = "ours"

    def __init__(self, w: World) -> None:
        super().__init__(w, list(w.shipped_prior), shipped_table(w))
        self.counts: Counter[tuple[Key, int]] = Counter()
        self.cases = 0
        self.factors = [1.0] * (CAUSES + 1)

    def learn(self, pattern: int, done: list[tuple[int, bool]]) -> None:
        p = believed(self.table, self.prior, pattern)
        steps = []
        case_id = f"{self.cases:036d}"
        for n, (r, cured) in enumerate(done):
            likelihood = [max(self.fix[r][c], BY_CHANCE) if cured else 1 - self.fix[r][c] for c in range(CAUSES + 1)]
            after = normal([a * x for a, x in zip(p, likelihood, strict=True)])
            shown = {
                "posterior": {str(c): a for c, a in enumerate(p)},
                "after": {str(c): a for c, a in enumerate(after)},
                "factors": {str(c): f for c, f in enumerate(self.factors)},
            }
            steps.append(
                Step(
                    f"{self.cases:030d}{n:06d}",
                    case_id,
                    "",
                    "try",
                    remedy=f"r{r}",
                    outcome="fixed" if cured else "no-change",
                    shown=shown,
                )
            )
            p = after
        cured = bool(done and done[-1][1])
        record = CaseRecord(case_id, "2026-01-01", Case(), not cured, "fixed" if cured else None, tuple(steps))
        for key, (a, b) in counts_of(record).items():
            self.counts[key, 0] += a
            self.counts[key, 1] += b
        self.cases += 1
        self._update()

    def _shell(self, key: Key, *, swap: bool = False) -> GroupCounts:
        a, b = self.counts[key, 0] / UNIT, self.counts[key, 1] / UNIT
        return GroupCounts(b, a) if swap else GroupCounts(a, b)

    def _update(self) -> None:
        for r in range(REMEDIES):
            for c, shipped in self.w.shipped_fix[r].items():
                shell = self._shell(("fix", "all", "*", f"r{r}", str(c)))
                self.fix[r][c] = pooling.chance(shipped, [shell]).mean
        for c in range(CAUSES):
            shell = self._shell(("cause", "all", "*", str(c), ""), swap=True)
            self.factors[c] = pooling.factor(self.w.shipped_prior[c], [shell]).mean
        raw = normal([self.w.shipped_prior[c] * self.factors[c] for c in range(CAUSES)])
        self.prior = [(1 - OTHER_SHARE) * p for p in raw] + [OTHER_SHARE]
        self.refresh()


class Uncut(Counters):
    name = "counters, no giving up"
    cut = False


class ByRemedy(Counters):
    name = "by-remedy"
    by_pattern = False


class ByRemedyUncut(Counters):
    name = "counters by remedy, no giving up"
    by_pattern = False
    cut = False


NAIVE = ByRemedy
"""The best of the four on the tuning worlds."""
POLICIES: tuple[type[Policy], ...] = (Checklist, Shipped, NAIVE, Ours, Omniscient)


@dataclass
class Outcome:
    """Of one world: expected minutes at each checkpoint, regret over all cases, and predictions with what came."""

    minutes: dict[str, list[float]]
    regret: dict[str, float]
    predictions: dict[str, list[tuple[float, bool]]]


def expected(w: World, policy: Policy) -> float:
    """Expected minutes of a policy on a fresh case of this shop: exact over all patterns."""
    total = 0.0
    for s in range(PATTERNS):
        joint = [w.true_prior[c] * w.pattern[s][c] for c in range(CAUSES + 1)]
        share = sum(joint)
        total += share * minutes_of(w, policy.order(s), [j / share for j in joint])
    return total


def live(seed: int, classes: tuple[type[Policy], ...] = POLICIES, blur: float = 0.0) -> Outcome:
    """Let every policy meet the same two hundred cases (the same cause, pattern and luck) and learn from its own."""
    w = make_world(seed, blur)
    dice = random.Random(seed * 7919)
    cases = []
    for _ in range(CHECKPOINTS[-1]):
        cause = dice.choices(range(CAUSES + 1), w.true_prior)[0]
        pattern = dice.choices(range(PATTERNS), [w.pattern[s][cause] for s in range(PATTERNS)])[0]
        cases.append((cause, pattern, [dice.random() for _ in range(REMEDIES)]))
    best = {}
    omniscient = Omniscient(w)
    for s in range(PATTERNS):
        best[s] = minutes_of(w, omniscient.order(s), believed(w.pattern, w.true_prior, s))
    out = Outcome({}, {}, {})
    for cls in classes:
        policy = cls(w)
        minutes, regret, predictions = [], 0.0, []
        for n in range(CHECKPOINTS[-1] + 1):
            if n in CHECKPOINTS:
                minutes.append(expected(w, policy))
            if n == CHECKPOINTS[-1]:
                break
            cause, pattern, luck = cases[n]
            order = policy.order(pattern)
            regret += minutes_of(w, order, believed(w.pattern, w.true_prior, pattern)) - best[pattern]
            done: list[tuple[int, bool]] = []
            for r in order:
                cured = luck[r] < w.true_fix[r][cause]
                said = policy.predicted(pattern, [x for x, _ in done], r)
                if said is not None and n >= 50:
                    predictions.append((said, cured))
                done.append((r, cured))
                if cured:
                    break
            policy.learn(pattern, done)
        out.minutes[cls.name], out.regret[cls.name], out.predictions[cls.name] = minutes, regret, predictions
    return out


def mean_and_interval(values: list[float]) -> tuple[float, float]:
    """Mean and half the 95 % interval."""
    half = 1.96 * statistics.stdev(values) / math.sqrt(len(values)) if len(values) > 1 else math.nan
    return statistics.fmean(values), half


def brier(predictions: list[tuple[float, bool]]) -> tuple[float, float, list[tuple[float, float, int]]]:
    """(Brier score, its reliability part, (said, came true, how many) by tenths): Murphy 1973."""
    score = statistics.fmean((p - y) ** 2 for p, y in predictions)
    bins: dict[int, list[tuple[float, bool]]] = {}
    for p, y in predictions:
        bins.setdefault(min(int(p * 10), 9), []).append((p, y))
    table = [
        (statistics.fmean(p for p, _ in b), statistics.fmean(float(y) for _, y in b), len(b))
        for _, b in sorted(bins.items())
    ]
    reliability = sum(n * (p - y) ** 2 for p, y, n in table) / len(predictions)
    return score, reliability, table


def tune(worlds: int) -> None:
    """Try the learner's numbers on worlds that are not reported."""
    grid = [(t, c) for t in (3.0, 6.0, 12.0) for c in (5.0, 10.0, 20.0, 40.0)]
    for cls in (Counters, Uncut, ByRemedy, ByRemedyUncut, Shipped):
        runs = [live(TUNING + i, (cls,)).minutes[cls.name] for i in range(worlds)]
        print(cls.name, [round(statistics.fmean(r[k] for r in runs), 2) for k in range(len(CHECKPOINTS))], flush=True)
    best = [live(TUNING + i, (Omniscient,)).minutes["omniscient"][0] for i in range(worlds)]
    for trials, cases in grid:
        pooling.PSEUDO_TRIALS, pooling.PSEUDO_CASES = trials, cases
        runs = [live(TUNING + i, (Ours,)).minutes["ours"] for i in range(worlds)]
        ratios = [statistics.fmean(r[k] / b for r, b in zip(runs, best, strict=True)) for k in range(len(CHECKPOINTS))]
        print(
            f"trials {trials:4.0f} cases {cases:4.0f}  minutes over omniscient's: "
            + "  ".join(f"{n}: {x:.3f}" for n, x in zip(CHECKPOINTS, ratios, strict=True)),
            flush=True,
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--worlds", type=int, default=40)
    parser.add_argument("--full", action="store_true")
    parser.add_argument("--tune", action="store_true")
    parser.add_argument("--blur", type=float, default=0.0, help="error in what is told of the patterns (0.7: harsh)")
    options = parser.parse_args()
    if options.tune:
        tune(options.worlds)
        return
    worlds = 200 if options.full else options.worlds
    began = time.monotonic()
    runs = [live(REPORTED + i, blur=options.blur) for i in range(worlds)]
    print(f"{worlds} worlds, seeds {REPORTED} to {REPORTED + worlds - 1}, {time.monotonic() - began:.0f} s\n")
    names = [cls.name for cls in POLICIES]
    print("expected minutes to a good facet, mean over worlds (half 95 % interval)")
    print("cases     " + "".join(f"{name:>18}" for name in names))
    for k, n in enumerate(CHECKPOINTS):
        cells = [mean_and_interval([run.minutes[name][k] for run in runs]) for name in names]
        print(f"{n:5d}     " + "".join(f"{m:10.2f} ({h:4.2f}) " for m, h in cells))
    print("\nours minus the others, minutes a case, paired by world (half 95 % interval); below 0 is better")
    for k, n in enumerate(CHECKPOINTS):
        cells = []
        for name in names:
            if name != "ours":
                m, h = mean_and_interval([run.minutes["ours"][k] - run.minutes[name][k] for run in runs])
                cells.append(f"{name} {m:+.2f} ({h:.2f})")
        print(f"{n:5d}     " + "   ".join(cells))
    ratios = [[run.minutes["ours"][k] / run.minutes["omniscient"][k] for run in runs] for k in range(len(CHECKPOINTS))]
    print(
        "\nours over omniscient: "
        + "  ".join(
            f"{n}: {statistics.fmean(r):.3f} (worst {max(r):.3f})" for n, r in zip(CHECKPOINTS, ratios, strict=True)
        )
    )
    print(
        "\nregret over 200 cases, minutes: "
        + "  ".join(f"{name} {statistics.fmean(run.regret[name] for run in runs):.0f}" for name in names)
    )
    print("\nsaid chance of a cure against what came, cases 50 to 200: Brier score, its reliability part")
    for name in names:
        pooled = [p for run in runs for p in run.predictions[name]]
        if pooled:
            score, reliability, table = brier(pooled)
            print(f"  {name:<11} {score:.4f}  {reliability:.5f}   " + " ".join(f"{p:.2f}>{y:.2f}" for p, y, _ in table))
    for other in (Checklist.name, Shipped.name, NAIVE.name):
        for k, n in enumerate(CHECKPOINTS):
            if n >= 50:
                lost = [
                    REPORTED + i for i, run in enumerate(runs) if run.minutes["ours"][k] > run.minutes[other][k] + 1e-9
                ]
                print(f"\nworlds where ours is behind {other} after {n} cases: {len(lost)} of {worlds} {lost}")


if __name__ == "__main__":
    main()
