"""The rule engine against CLIPS: the same rules and facts give the same firings and findings.

CLIPS is an independent rule engine (https://www.clipsrules.net), reached through clipspy.
"""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import yaml
from tests.unit.inference_samples import knowledge, some_facts, some_rules
from tests.unit.shipped import knowledge as shipped

from lapwise.engine.case import Case
from lapwise.engine.conclusions import Fact
from lapwise.engine.facts import check_case, facts_of
from lapwise.engine.inference import PlainRules
from lapwise.engine.inference.run import RuleEngine
from lapwise.engine.knowledge.model import Knowledge

pytest.importorskip("clips", reason="check of the rule engine against CLIPS: clipspy is not installed")

from tests.outside.inference_clips import ClipsEngine, differences

CASES = [
    path
    for path in sorted((Path(__file__).parents[1] / "cases").rglob("*.yaml"))
    if "\ncases:\n" in "\n" + path.read_text(encoding="utf-8")  # opinions and stories are no cases
]


class Engines(NamedTuple):
    """The three that take the rules of one base."""

    clips: ClipsEngine
    experta: RuleEngine
    plain: PlainRules

    @classmethod
    def of(cls, base: Knowledge) -> Engines:
        return cls(ClipsEngine(base), RuleEngine(base), PlainRules(base))

    def agree(self, facts: list[Fact]) -> None:
        """All three make the same of ``facts``."""
        ours = self.experta.run(facts)
        assert differences(self.clips, facts, ours) == []
        assert self.plain.run(facts) == ours


@pytest.mark.parametrize("seed", range(40))
def test_clips_fires_the_same_rules_on_random_cases(seed: int) -> None:
    rng = random.Random(1000 + seed)
    engines = Engines.of(knowledge(*some_rules(rng, 40)))
    for _ in range(6):
        engines.agree(some_facts(rng))


def test_the_random_cases_put_the_rules_to_work() -> None:
    """Guards the check above: it would prove nothing if little fired or everything did."""
    fired = total = 0
    ever: set[tuple[int, str]] = set()
    for seed in range(10):
        rng = random.Random(1000 + seed)
        plain = PlainRules(knowledge(*some_rules(rng, 40)))
        for _ in range(6):
            trace = plain.run(some_facts(rng)).trace
            ever |= {(seed, f.rule) for f in trace}
            fired, total = fired + len(trace), total + 40
    assert 0.1 < fired / total < 0.6
    assert len(ever) > 0.5 * 400


@pytest.fixture(scope="module")
def engines() -> Engines:
    return Engines.of(shipped())


def cases_of(path: Path) -> list[Case]:
    """The cases of a file: one, or a list, or a list under ``cases``."""
    data = yaml.load(path.read_text(encoding="utf-8"), yaml.CSafeLoader)
    if isinstance(data, dict):
        data = data.get("cases", [data])
    return [read_case(entry["case"]) for entry in data if isinstance(entry, dict) and "case" in entry]


def read_case(told: dict[str, Any]) -> Case:
    """A case as the case files tell it: like its JSON form, with ``tried`` and ``saw`` as mappings."""
    done = {
        key: [list(pair) for pair in (told[key].items() if isinstance(told[key], dict) else told[key])]
        for key in ("tried", "saw")
        if key in told
    }
    facts = {key: str(value) for key, value in told.get("facts", {}).items()}
    return Case.from_json({**told, **done, "facts": facts})


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_clips_fires_the_same_rules_on_every_case(path: Path, engines: Engines) -> None:
    told = cases_of(path)
    assert told
    for each in told:
        engines.agree(list(facts_of(check_case(each, shipped()), shipped())))


def test_clips_fires_the_same_rules_on_random_cases_of_the_shipped_knowledge(engines: Engines) -> None:
    rng = random.Random(7)
    values = values_asked_for(shipped())
    for _ in range(60):
        facts = [Fact(slot, rng.choice(choices)) for slot, choices in sorted(values.items()) if rng.random() < 0.6]
        engines.agree(facts)


def values_asked_for(base: Knowledge) -> dict[str, list[str | float]]:
    """Slot to the values the rules ask for; for a number, each bound and both its sides."""
    from lapwise.engine.knowledge.ways import ways

    out: dict[str, set[str | float]] = {}
    for rule in base.rules.values():
        for way in ways(rule):
            for test in (*way.tests, *way.nots):
                if test.slot == "finding":
                    continue
                bounds = [b for b in (test.at_least, test.above, test.at_most, test.below) if b is not None]
                near = {b + d for b in bounds for d in (-1.0, 0.0, 1.0)}
                out.setdefault(test.slot, set()).update(test.any_of, near)
    return {slot: sorted(v, key=str) for slot, v in out.items() if v}
