"""Strategy: how long the quick and the exact planner take, and how far the quick ones fall behind the optimum.

Run by name: ``python tests/benchmarks/bench_strategy.py [problems]``. Problems are drawn at random with fixed seeds,
in the shape of real cases: a few likely causes and a long tail, remedies that help against a handful of them, shared
set-ups, looks that tell a few causes from the rest. Invented data. Excess is that of the policy which plans afresh
after every outcome, worked out exactly over every way the case can go.

Published yardstick: the best excess over the optimum on real models is 1.81 % (Jensen et al. 2001, AI EDAM 15, nine
printer models); the aim here is at most 0.5 % in the mean and 3 % at worst beyond the exact budget.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from lapwise.engine.strategy import DecisionProblem, LastResort, Look, Plan, Remedy, exact, greedy, optimum, quick

WORDS = (0.98, 0.85, 0.6, 0.3, 0.1)


def draw(seed: int, causes: int, remedies: int, looks: int) -> DecisionProblem:
    """One invented problem; the last cause is "other", which only the last resort ends."""
    rng = np.random.default_rng(seed)
    p = rng.gamma(0.35, size=causes)
    p[-1] = 0.06 * p[:-1].sum()
    groups = ("wash", "lap", "step-back", "dop")
    items = []
    for r in range(remedies):
        fix = np.zeros(causes)
        for c in rng.choice(causes - 1, size=min(causes - 1, int(rng.integers(1, 6))), replace=False):
            fix[c] = rng.choice(WORDS, p=(0.1, 0.25, 0.3, 0.2, 0.15))
        group = groups[rng.integers(4)] if rng.random() < 0.4 else None
        items.append(
            Remedy(
                f"r{r}",
                float(rng.choice((1, 2, 3, 5, 6, 8, 10, 15, 20, 30))),
                group,
                float(rng.integers(2, 7)) if group else 0.0,
                tuple(fix),
                float(rng.choice((0, 0.02, 0.1))),
                float(rng.choice((10, 30))),
            )
        )
    tests = []
    for k in range(looks):
        results = int(rng.integers(2, 6))
        table = np.repeat(rng.dirichlet(np.full(results, 0.8))[:, None], causes, axis=1)
        for c in rng.choice(causes, size=max(1, int(causes * 0.35)), replace=False):
            table[:, c] = rng.dirichlet(np.full(results, 0.25))
        tests.append(Look(f"k{k}", float(rng.choice((1, 2, 3, 5, 10))), tuple(map(tuple, table / table.sum(axis=0)))))
    last = LastResort("last", float(rng.choice((45, 60, 90, 120))))
    return DecisionProblem(tuple(f"c{i}" for i in range(causes)), tuple(p), tuple(items), tuple(tests), last)


def policy_minutes(problem: DecisionProblem, planner: Callable[[DecisionProblem], Plan]) -> float:
    """Exact expected minutes of doing what ``planner`` says first, and asking it again after every outcome."""
    plan = planner(problem)
    p = np.asarray(problem.p) / sum(problem.p)
    if plan.look is not None and plan.look.before == 1:
        look = next(k for k in problem.looks if k.id == plan.look.id)
        rest = replace(problem, looks=tuple(k for k in problem.looks if k.id != look.id))
        total = look.minutes
        for row in look.likelihood:
            after = p * np.asarray(row)
            if (share := float(after.sum())) > 1e-9:
                total += share * policy_minutes(replace(rest, p=tuple(after)), planner)
        return total
    first = plan.order[0].remedy
    assert problem.last_resort is not None
    if first == problem.last_resort.id:
        return float(p @ np.asarray(problem.last_resort.minutes_per_cause(len(p))))
    remedy = next(r for r in problem.remedies if r.id == first)
    total = remedy.minutes + remedy.worse * remedy.worse_minutes
    paid = problem.paid_groups
    if remedy.group is not None and remedy.group not in paid:
        total += remedy.setup_minutes
        paid = paid | {remedy.group}
    after = p * (1.0 - np.asarray(remedy.fix))
    share = float(after.sum())
    if share <= 1e-9:
        return total
    left = tuple(r for r in problem.remedies if r.id != first)
    return total + share * policy_minutes(replace(problem, p=tuple(after), remedies=left, paid_groups=paid), planner)


def times(
    shape: tuple[int, int, int], planner: Callable[[DecisionProblem], Plan | None], count: int
) -> tuple[float, float]:
    """(median, worst) milliseconds over ``count`` problems."""
    out = []
    for seed in range(count):
        problem = draw(10_000 + seed, *shape)
        start = time.perf_counter()
        planner(problem)
        out.append(1000 * (time.perf_counter() - start))
    return statistics.median(out), max(out)


def within(states: int) -> Callable[[DecisionProblem], Plan]:
    """The planner with a budget cut down to so many states, so that the true optimum is still known."""

    def planner(problem: DecisionProblem) -> Plan:
        plan = optimum.exact(problem, None, states=states)
        assert plan is not None
        return plan

    return planner


def excess(shape: tuple[int, int, int], count: int, seed: int) -> dict[str, list[float]]:
    """Per planner the excess over the optimum in per cent, one entry per problem; with a budget of 20,000 states."""
    out: dict[str, list[float]] = {"greedy": [], "quick": [], "beyond the budget": []}
    for number in range(count):
        problem = draw(seed + number, *shape)
        least = within(60_000_000)(problem)
        assert least.exact
        for name, planner in (("greedy", greedy), ("quick", quick), ("beyond the budget", within(20_000))):
            if name == "beyond the budget" and planner(problem).exact:
                continue
            out[name].append(100 * (policy_minutes(problem, planner) / least.expected_minutes - 1))
    return out


def main(count: int = 40) -> None:
    print("milliseconds, median and worst (causes, remedies, looks)")
    for shape in ((10, 10, 4), (46, 50, 10)):
        for name, planner in (("greedy", greedy), ("quick", quick), ("exact", exact)):
            middle, worst = times(shape, planner, count)
            print(f"  {shape!s:14} {name:8} {middle:9.2f} {worst:9.2f}")
    print("excess over the optimum, per cent (beyond the budget: the budget cut to 20,000 states)")
    for shape, seed in (((10, 10, 4), 20_000), ((20, 10, 4), 40_000), ((30, 12, 5), 50_000)):
        for name, values in excess(shape, count, seed).items():
            if values:
                numbers = f"mean {statistics.mean(values):7.3f}   worst {max(values):7.3f}   of {len(values)}"
                print(f"  {shape!s:14} {name:18} {numbers}")


if __name__ == "__main__":
    main(*(int(x) for x in sys.argv[1:]))
