"""How often each shipped rule fires in all that is told in tests/cases: panel, stories, published and rare cases."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import yaml
from tests.unit import shipped

from lapwise.engine.case import Case
from lapwise.engine.diagnosis.calculators import calculated
from lapwise.engine.facts import check_case, facts_of
from lapwise.engine.inference import PlainRules
from lapwise.engine.knowledge.model import Knowledge

CASES = Path(__file__).parents[1] / "cases"
RARE = "rare-situations.yaml"


def case_of(told: Mapping[str, Any]) -> Case:
    """The trouble before its cure."""
    return Case.from_json(told).without_cures()


def entries(name: str = "*.yaml") -> Iterator[tuple[str, Mapping[str, Any]]]:
    """(file, entry) of every case or story in tests/cases."""
    for path in sorted(CASES.rglob(name)):
        content = yaml.load(path.read_text(encoding="utf-8"), yaml.CSafeLoader) or {}
        for key in ("cases", "stories"):
            for entry in content.get(key, ()):
                yield path.name, entry


def fired(told: Mapping[str, Any], rules: PlainRules | None = None) -> frozenset[str]:
    """The rules that fire for a case. ``extra`` of it: facts that only the record or a calculator gives."""
    knowledge = known()
    case = check_case(case_of(told), knowledge)
    extra = {**calculated(case, knowledge, None).facts, **(told.get("extra") or {})}
    plain = rules or _rules()
    return frozenset(step.rule for step in plain.run(facts_of(case, knowledge, extra)).trace)


@cache
def known() -> Knowledge:
    return shipped.knowledge()


@cache
def _rules() -> PlainRules:
    return PlainRules(known())


@cache
def counts() -> Mapping[str, int]:
    """Rule to the number of cases it fires in, those kept in :data:`RARE` left out."""
    found: Counter[str] = Counter()
    for name, entry in entries():
        if name != RARE:
            found.update(fired(entry["case"]))
    return found
