"""Strategy: how long the quick order takes, and how far it falls behind the optimum, on drawn problems and on all
cases in ``tests/cases``.

Run by name: ``python tests/benchmarks/bench_strategy.py [problems]``. Problems are drawn at random with fixed seeds,
in the shape of real cases: a few likely causes and a long tail, remedies that help against a handful of them, shared
set-ups, looks that tell a few causes from the rest. Invented data. Excess is that of the policy which plans afresh
after every outcome, worked out exactly over every way the case can go.

Published yardstick: the best excess over the optimum on real models is 1.81 % (Jensen et al. 2001, AI EDAM 15, nine
printer models); the aim here is at most 0.5 % in the mean and 3 % at worst.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from dataclasses import replace
from operator import mul
from pathlib import Path

import numpy as np
from bench_sensitivity import cases

from lapwise.engine.diagnosis import Session
from lapwise.engine.folders import folders
from lapwise.engine.knowledge.loader import load
from lapwise.engine.strategy import DecisionProblem, LastResort, Look, Plan, Remedy, quick

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.strategy_oracle.optimum import exact, fits, greedy

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
        return float(p.sum() * problem.last_resort.minutes)
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


def times(shape: tuple[int, int, int], planner: Callable[[DecisionProblem], Plan], count: int) -> tuple[float, float]:
    """(median, worst) milliseconds over ``count`` problems."""
    out = []
    for seed in range(count):
        problem = draw(10_000 + seed, *shape)
        start = time.perf_counter()
        planner(problem)
        out.append(1000 * (time.perf_counter() - start))
    return statistics.median(out), max(out)


def excess(problems: Iterable[DecisionProblem], planner: Callable[[DecisionProblem], Plan]) -> list[float]:
    """How far the policy of ``planner`` falls behind the optimum in per cent, one entry per problem."""
    return [100 * (policy_minutes(p, planner) / exact(p).expected_minutes - 1) for p in problems]


def shipped() -> tuple[int, list[tuple[str, DecisionProblem]]]:
    """How many cases there are in ``tests/cases``, and the problems of those that fit once cut down to what counts:
    remedies of 1 % and more at the start, looks that save a quarter of a minute and more."""
    with tempfile.TemporaryDirectory() as empty:
        session = Session(load(folders(Path(empty))).knowledge)
    stated, out = cases(), []
    for name, case in stated:
        prepared = session.prepare(case)
        problem, saved = prepared.problem, {v.id: v.value_minutes for v in prepared.plan.looks}
        small = replace(
            problem,
            remedies=tuple(r for r in problem.remedies if sum(map(mul, r.fix, problem.p)) >= 0.01),
            looks=tuple(k for k in problem.looks if saved[k.id] >= 0.25),
        )
        if small.remedies and fits(small):
            out.append((name, small))
    return len(stated), out


def told(values: list[float]) -> str:
    return f"mean {statistics.mean(values):7.3f}   worst {max(values):7.3f}   of {len(values)}"


def main(count: int = 40) -> None:
    print("milliseconds, median and worst (causes, remedies, looks)")
    for shape, planners in (((10, 10, 4), (greedy, quick, exact)), ((46, 50, 10), (greedy, quick))):
        for planner in planners:
            middle, worst = times(shape, planner, count)
            print(f"  {shape!s:14} {planner.__name__:8} {middle:9.2f} {worst:9.2f}")
    print("excess over the optimum, per cent")
    for shape, seed in (((10, 10, 4), 20_000), ((20, 10, 4), 40_000)):
        for planner in (greedy, quick):
            behind = excess([draw(seed + n, *shape) for n in range(count)], planner)
            print(f"  {shape!s:14} {planner.__name__:8} {told(behind)}")
    total, small = shipped()
    print(f"{len(small)} of {total} cases fit; excess of the quick order there, per cent")
    print(f"  asked again after every outcome  {told(excess((p for _, p in small), quick))}")
    plans = [(name, quick(p), exact(p)) for name, p in small]
    behind = [100 * (q.expected_minutes / e.expected_minutes - 1) for _, q, e in plans]
    print(f"  as shown                         {told(behind)}")
    other = [name for name, q, e in plans if q.order[0].remedy != e.order[0].remedy]
    print(f"  first remedy differs in {len(other)}: {', '.join(other) or 'none'}")


if __name__ == "__main__":
    main(*(int(x) for x in sys.argv[1:]))
