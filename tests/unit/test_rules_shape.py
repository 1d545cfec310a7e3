"""The shipped rules and remedies as a whole: enough of them, each with its reason, none that speaks in riddles."""

from __future__ import annotations

import json
from typing import Any

import pytest
from tests.unit.each import by_id
from tests.unit.shipped import knowledge

from lapwise.engine.knowledge.rule_model import AllOf, AnyOf, Not, Rule
from lapwise.engine.knowledge.rule_model import Test as Wanted

MANY_RULES = 220
ABOUT_MATERIAL = {"material"}
THEMES = (
    "contamination",
    "charge",
    "earlier-damage",
    "compound-and-lap",
    "hand",
    "direction-and-cleavage",
    "lap-and-film",
    "large-facets",
    "contact",
    "edges",
    "inclusions",
    "residue",
    "heat",
    "delicate",
    "looks",
    "vetoes",
    "not-applicable",
    "cautions",
    "disputed",
)
TOUCH_THE_LAP = (
    "clean-lap",
    "clean-everything",
    "pick-out-grain",
    "score-lap",
    "recondition-lap",
    "refit-film",
    "new-film",
    "recharge-lap",
    "more-compound",
    "lubricate-lap",
    "fresh-slurry",
    "change-carrier",
    "new-compound",
    "set-height",
    "tighten-machine",
    "less-compound",
    "dedicate-lap",
)


def _plain(condition: Any) -> Any:
    """A condition as plain data, with the names of materials taken out."""
    if isinstance(condition, AllOf):
        return sorted((_plain(part) for part in condition.parts), key=json.dumps)
    if isinstance(condition, AnyOf):
        return ["any", *sorted((_plain(option) for option in condition.options), key=json.dumps)]
    if isinstance(condition, Not):
        return ["not", _plain(condition.test)]
    assert isinstance(condition, Wanted)
    values: list[str] = [] if condition.slot in ABOUT_MATERIAL else list(condition.any_of)
    bounds = [condition.at_least, condition.above, condition.at_most, condition.below]
    return [condition.slot, values, bounds, condition.bind]


def _shape(rule: Rule) -> str:
    then = rule.then
    lists = [then.findings, then.rules_out, then.vetoes, then.not_applicable, then.looks, then.cautions, then.first]
    maps = [then.evidence_for, then.evidence_against, then.favours, then.disfavours]
    return json.dumps([_plain(rule.when), [sorted(x) for x in lists], [sorted(m.items()) for m in maps]])


def test_there_are_enough_rules_counting_those_that_differ_by_material_once() -> None:
    assert len({_shape(rule) for rule in knowledge().rules.values()}) >= MANY_RULES


@pytest.mark.parametrize("theme", THEMES)
def test_every_theme_has_its_file(theme: str) -> None:
    assert sum(rule.theme == theme for rule in knowledge().rules.values()) >= 5


@by_id(knowledge().rules.values())
def test_a_rule_gives_its_reason_in_one_sentence(rule: Rule) -> None:
    assert rule.because.endswith(".")
    assert rule.because[0].isupper()
    assert 20 <= len(rule.because) <= 200
    assert rule.source


def test_some_rules_build_on_others() -> None:
    tiers = [rule.tier for rule in knowledge().rules.values()]
    assert sum(tier > 0 for tier in tiers) >= 25


def test_each_symptom_says_which_causes_show_that_way_grouped_by_word() -> None:
    words = list(knowledge().scales.chance)
    for symptom in knowledge().symptoms.values():
        places = [words.index(word) for word in symptom.says.values()]
        assert places, symptom.id
        assert places == sorted(places), f"{symptom.id}: from usually to rarely"
        assert symptom.because.endswith("."), symptom.id
        assert 20 <= len(symptom.because) <= 200, symptom.id


def test_every_cause_is_shown_by_a_symptom_and_cured_by_a_remedy() -> None:
    known = knowledge()
    shown = {cause for symptom in known.symptoms.values() for cause in symptom.says}
    cured = {cause for remedy in known.remedies.values() for cause in remedy.fixes}
    assert shown == set(known.causes) == cured


@pytest.mark.parametrize("remedy", TOUCH_THE_LAP)
def test_what_touches_the_lap_begins_by_stopping_it(remedy: str) -> None:
    # design rule of the project; common practice, no source
    assert knowledge().remedies[remedy].steps[0].startswith("Stop the lap")


def test_remedies_take_time() -> None:
    for remedy in knowledge().remedies.values():
        assert 2 <= remedy.minutes <= 60, remedy.id
        assert remedy.label[0].isupper(), remedy.id
        assert remedy.fixes, remedy.id
    assert knowledge().remedies["reverse-direction"].risks


def test_disagreements_are_named_with_both_sides() -> None:
    disputed = [f for f in knowledge().findings.values() if f.id.startswith("disputed-")]
    assert len(disputed) >= 6
    raised = {finding for rule in knowledge().rules.values() for finding in rule.then.findings}
    for finding in disputed:
        assert finding.id in raised
        assert finding.label.endswith(".")
