"""Simulated facets: the first nudge is never against a clear slope and never zero (10,000 of them in the benchmark)."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest


@pytest.fixture(scope="module")
def bench():
    path = Path(__file__).parents[1] / "benchmarks" / "bench_contact.py"
    spec = importlib.util.spec_from_file_location("bench_contact", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["bench_contact"] = module
    spec.loader.exec_module(module)
    return module


def test_the_first_nudge_follows_a_clear_slope(bench):
    clear, against, zero = bench.first_nudges(400)
    assert clear > 80
    assert (against, zero) == (0, 0)


def test_advice_needs_fewer_settings_than_a_hand(bench):
    """A small run of the benchmark: half the facets by the fifth setting at the latest, and ahead of the hand."""
    facets = list(bench.worlds(40, seed=5))
    ours = [bench.settings_needed(w, 3, ink=False) for w in facets]
    hand = [bench.by_hand(w, 0.1) for w in facets]
    assert sum(c <= 5 for c in ours) >= 20
    assert sum(c <= 8 for c in ours) >= 35
    assert sum(c <= 5 for c in hand) < sum(c <= 5 for c in ours) - 5
