"""The shipped knowledge passes every check, and every fault sown into it is found.

One mutant of each kind is drawn here with a fixed seed; tests/benchmarks/bench_knowledge_mutants.py tries all.
"""

from __future__ import annotations

import random

import pytest
from tests.unit.knowledge_mutants import Mutant, mutants
from tests.unit.knowledge_oracle import ORACLE, found
from tests.unit.shipped import knowledge

from lapwise.engine.checks import CHECKS, run
from lapwise.engine.knowledge.model import Knowledge


@pytest.fixture(scope="module")
def shipped() -> Knowledge:
    return knowledge()


@pytest.fixture(scope="module")
def found_before(shipped: Knowledge) -> set[tuple[str, str]]:
    return found(shipped)


@pytest.fixture(scope="module")
def sown(shipped: Knowledge) -> dict[str, list[Mutant]]:
    return mutants(shipped)


def test_shipped_files_pass_every_check(shipped: Knowledge) -> None:
    errors = [f"{f.check}: {f.problem}" for f in run(shipped) if f.severity == "error"]
    assert errors == []
    assert found(shipped, *(c.name for c in ORACLE)) == set()


def test_every_check_has_mutants(sown: dict[str, list[Mutant]]) -> None:
    assert {m.check for group in sown.values() for m in group} == {c.name for c in (*CHECKS, *ORACLE)}
    assert sum(len(group) for group in sown.values()) > 3000


def test_every_mutant_is_found(
    sown: dict[str, list[Mutant]], shipped: Knowledge, found_before: set[tuple[str, str]]
) -> None:
    chance = random.Random(20)
    missed = []
    for kind, group in sown.items():
        if fresh := [m for m in group if (m.check, m.id) not in found_before]:
            mutant = chance.choice(fresh)
            if (mutant.check, mutant.id) not in found(mutant.make(), mutant.check):
                missed.append(f"{kind}: {mutant.id} ({mutant.check})")
    assert missed == []
