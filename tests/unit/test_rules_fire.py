"""Every shipped rule has its situation: drawn for the panel, told in a story, published, or kept as a rare one.

`pytest -n 0 -s` prints how many rules fire in none and in one of them. The rare ones are invented.
"""

from __future__ import annotations

import pytest
from tests.unit.firing import RARE, counts, entries, fired, known

SITUATIONS = [entry for _, entry in entries(RARE)]


def test_every_rule_fires_somewhere(capsys: pytest.CaptureFixture[str]) -> None:
    often = counts()
    silent = {rule for rule in known().rules if not often.get(rule)}
    once = {rule for rule in known().rules if often.get(rule) == 1}
    with capsys.disabled():
        told = sum(1 for name, _ in entries() if name != RARE)
        print(f"\nof {len(known().rules)} rules {len(silent)} fire in none of {told} cases, {len(once)} in one")
    kept = {rule for entry in SITUATIONS for rule in entry["rules"]}
    assert silent <= kept, "a rule that nothing calls up: give it a situation a cutter meets, or take it out"


@pytest.mark.parametrize("entry", [pytest.param(entry, id=entry["id"]) for entry in SITUATIONS])
def test_a_rare_situation_calls_up_its_rules(entry: dict[str, object]) -> None:
    assert set(entry["rules"]) <= fired(entry["case"])  # type: ignore[arg-type]
