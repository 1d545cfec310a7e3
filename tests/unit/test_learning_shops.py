"""A few of the bench's invented shops: learning shortens the way. The full run: tests/benchmarks/bench_learning.py."""

from __future__ import annotations

import importlib.util
import statistics
import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    path = Path(__file__).resolve().parents[1] / "benchmarks" / "bench_learning.py"
    spec = importlib.util.spec_from_file_location("bench_learning", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["bench_learning"] = module
    spec.loader.exec_module(module)
    return module


def test_after_fifty_cases_the_way_is_shorter_than_without_learning(bench: ModuleType) -> None:
    classes = (bench.Shipped, bench.Ours, bench.Omniscient)
    runs = [bench.live(seed, classes) for seed in range(20, 28)]
    mean = {
        (cls.name, n): statistics.fmean(run.minutes[cls.name][k] for run in runs)
        for cls in classes
        for k, n in enumerate(bench.CHECKPOINTS)
    }
    assert mean["ours", 0] == pytest.approx(mean["shipped", 0])
    assert mean["ours", 50] < mean["shipped", 50]
    assert mean["ours", 200] < 1.1 * mean["omniscient", 200]
    for run in runs:  # nobody is shorter than who knows the truth, but for the planner's own approximation
        assert run.minutes["ours"][-1] > 0.995 * run.minutes["omniscient"][-1]


def test_the_same_seed_gives_the_same_shop(bench: ModuleType) -> None:
    assert bench.make_world(7) == bench.make_world(7)
    assert bench.make_world(7) != bench.make_world(8)
    world = bench.make_world(7)
    for c in range(bench.CAUSES + 1):
        assert sum(row[c] for row in world.pattern) == pytest.approx(1.0)
    assert sum(world.true_prior) == pytest.approx(1.0)
