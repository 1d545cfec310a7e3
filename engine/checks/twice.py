"""Checks that nothing counts twice: a look beside its own table, and a finding for a cause and for its remedy."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from math import isclose

from lapwise.engine.belief import look_row
from lapwise.engine.checks.model import Fault, check, fault
from lapwise.engine.conclusions import OTHER
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.rule_model import Rule
from lapwise.engine.knowledge.walk import tests


def found_by_looks(rules: Iterable[Rule]) -> frozenset[str]:
    """Findings that may rest on what a look showed, at any remove."""
    known = tuple(rules)
    out: set[str] = set()
    while more := {f for r in known if rests_on_a_look(r, out) for f in r.then.findings} - out:
        out |= more
    return frozenset(out)


def rests_on_a_look(rule: Rule, found: Iterable[str]) -> bool:
    """Whether a rule may fire on what a look showed; ``found``: findings that may rest on one."""
    of_looks = set(found)
    return any(t.slot == "saw" or (t.slot == "finding" and not of_looks.isdisjoint(t.any_of)) for t in tests(rule.when))


def moved_by_looks(rule: Rule, knowledge: Knowledge) -> tuple[frozenset[str], frozenset[str]]:
    """(causes raised, causes lowered) by the tables of the looks whose results a rule tests for."""
    scales = knowledge.scales
    up: set[str] = set()
    down: set[str] = set()
    for test in tests(rule.when):
        for shown in test.any_of if test.slot == "saw" else ():
            name, _, result = shown.partition("=")
            look = knowledge.looks[name]
            usual = look_row(look, OTHER, scales)[result]
            for cause in look.says:
                p = look_row(look, cause, scales)[result]
                if not isclose(p, usual, abs_tol=1e-9):
                    (up if p > usual else down).add(cause)
    return frozenset(up), frozenset(down)


@check("looks-counted-twice", "error", "a rule weighs a cause by what a look showed, beside the look's own table")
def looks_counted_twice(knowledge: Knowledge) -> Iterator[Fault]:
    """A rule that weighs causes by what a look showed, which the look's own table has weighed already."""
    found = found_by_looks(knowledge.rules.values())
    for rule in knowledge.rules.values():
        then = rule.then
        weighed = sorted({*then.evidence_for, *then.evidence_against, *then.rules_out})
        if weighed and rests_on_a_look(rule, found):
            what = "what a look shows is weighed in the look's own table ('says'): put the weight there"
            yield fault(rule.id, rule.place, what, ", ".join(weighed))


@check("remedies-counted-twice", "error", "a rule raises a cause and favours a remedy for that same cause")
def remedies_counted_twice(knowledge: Knowledge) -> Iterator[Fault]:
    """A rule that raises a cause and favours a remedy for that same cause (or lowers and disfavours)."""
    for rule in knowledge.rules.values():
        up, down = moved_by_looks(rule, knowledge)
        then = rule.then
        for causes, remedies, what in (
            (up | set(then.evidence_for), then.favours, "favours a remedy for a cause it raises"),
            (down | set(then.evidence_against), then.disfavours, "disfavours a remedy for a cause it lowers"),
        ):
            for remedy, cause in _shared(causes, remedies, knowledge):
                more = f"{what}, '{cause}': one finding counts twice; leave the cause alone to say it"
                yield fault(rule.id, rule.place, more, remedy)


def _shared(causes: Iterable[str], remedies: Mapping[str, str], knowledge: Knowledge) -> Iterator[tuple[str, str]]:
    """Each of ``remedies`` with the first of ``causes`` that it fixes."""
    for remedy in remedies:
        fixes = knowledge.remedies[remedy].fixes
        if cause := next((c for c in sorted(causes) if fixes.get(c, "never") != "never"), None):
            yield remedy, cause


@check(
    "findings-counted-twice",
    "error",
    "a finding weighs a cause, or moves a remedy for a cause, that the rule which found it has weighed already",
)
def findings_counted_twice(knowledge: Knowledge) -> Iterator[Fault]:
    """A rule that rests on findings alone and says again what the rules that found them have said by a cause."""
    for rule in knowledge.rules.values():
        needed = {f for t in tests(rule.when) if t.slot == "finding" for f in t.any_of}
        if not needed or any(t.slot != "finding" for t in tests(rule.when)):
            continue  # conditions of its own make it another statement
        for maker in knowledge.rules.values():
            if needed.isdisjoint(maker.then.findings):
                continue
            for about in sorted(_said_again(maker, rule, knowledge)):
                what = f"says again what '{maker.id}' said when it drew the finding: one finding counts twice"
                yield fault(rule.id, rule.place, what, about)


def _said_again(maker: Rule, rule: Rule, knowledge: Knowledge) -> frozenset[str]:
    """Causes that both weigh the same way, and remedies moved by the one for a cause that the other weighs so."""
    up, down = moved_by_looks(maker, knowledge)
    raised, lowered = up | frozenset(maker.then.evidence_for), down | frozenset(maker.then.evidence_against)
    again = (raised & set(rule.then.evidence_for)) | (lowered & set(rule.then.evidence_against))
    again |= {remedy for remedy, _ in _shared(raised, rule.then.favours, knowledge)}
    return again | {remedy for remedy, _ in _shared(lowered, rule.then.disfavours, knowledge)}
