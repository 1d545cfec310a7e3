"""From the rules that fired to what they say: weights, what is ruled out, vetoes, looks and cautions."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from lapwise.engine.conclusions import (
    OTHER,
    Conclusions,
    Evidence,
    Fact,
    Favour,
    Firing,
    Provenance,
    RuledOut,
    Suggestion,
    Value,
    Veto,
)
from lapwise.engine.knowledge.model import PRACTICE, Cause, Knowledge, Scales
from lapwise.engine.knowledge.rule_model import Rule
from lapwise.engine.knowledge.ways import ways


def firings_of(knowledge: Knowledge, fired: Mapping[str, Iterable[Fact]]) -> tuple[Firing, ...]:
    """Rule id to the facts of all its matches, as firings by tier and then rule id (the order they fire in)."""
    ordered = sorted(fired, key=lambda r: (knowledge.rules[r].tier, r))
    return tuple(Firing(rule, tuple(sorted(set(fired[rule]), key=fact_order))) for rule in ordered)


def fact_order(fact: Fact) -> tuple[str, bool, Value]:
    """A key that sorts facts by slot, then numbers, then words (the two are never compared)."""
    return (fact.slot, isinstance(fact.value, str), fact.value)


def conclude(knowledge: Knowledge, firings: tuple[Firing, ...], facts: Iterable[Fact]) -> Conclusions:
    """All that ``firings`` say of a case with the raw ``facts``; every list by rule id, then by what it speaks of.

    A ``said.rule`` of "" marks what follows from the data of causes and symptoms and not from a rule.
    """
    fired = sorted(((knowledge.rules[f.rule], f) for f in firings), key=lambda pair: pair[0].id)
    ruled_out = _ruled_out(knowledge, fired, facts)
    gone = {r.cause for r in ruled_out}
    standing = [c for c in sorted(knowledge.causes) if c != OTHER and c not in gone]
    evidence, unexplained = _symptoms(knowledge, facts, standing)
    evidence += _opinions(knowledge.scales, fired, frozenset(standing))
    vetoes: list[Veto] = []
    favours: list[Favour] = []
    looks: list[Suggestion] = []
    cautions: list[Suggestion] = []
    first: list[Suggestion] = []
    for rule, _ in fired:
        then, said = rule.then, _said(rule)
        vetoes += [Veto(r, True, said) for r in sorted(set(then.vetoes))]
        vetoes += [Veto(r, False, said) for r in sorted(set(then.not_applicable))]
        favours += [Favour(r, knowledge.scales.strength[w], said) for r, w in sorted(then.favours.items())]
        favours += [Favour(r, -knowledge.scales.strength[w], said) for r, w in sorted(then.disfavours.items())]
        looks += [Suggestion(x, said) for x in sorted(set(then.looks))]
        cautions += [Suggestion(x, said) for x in sorted(set(then.cautions))]
        looks += [Suggestion(x, said) for x in sorted(set(then.looks_first) - set(then.looks))]
        first += [Suggestion(x, said) for x in (*sorted(set(then.looks_first)), *sorted(set(then.first)))]
    return Conclusions(
        findings=tuple(sorted({name for rule, _ in fired for name in rule.then.findings})),
        evidence=tuple(sorted(evidence, key=lambda e: (e.said.rule, e.finding, e.cause, -e.log_likelihood_ratio))),
        unexplained=unexplained,
        ruled_out=ruled_out,
        vetoes=tuple(vetoes),
        favours=tuple(favours),
        looks=tuple(looks),
        cautions=tuple(cautions),
        trace=firings,
        first=tuple(first),
    )


def _said(rule: Rule) -> Provenance:
    return Provenance(rule.id, rule.because, rule.source)


def _ruled_out(knowledge: Knowledge, fired: list[tuple[Rule, Firing]], facts: Iterable[Fact]) -> tuple[RuledOut, ...]:
    out = [RuledOut(c, _said(rule)) for rule, _ in fired for c in sorted(set(rule.then.rules_out)) if c != OTHER]
    stages = {f.value for f in facts if f.slot == "stage"}
    if stages:
        for cause in knowledge.causes.values():
            if cause.id != OTHER and cause.stages and not stages & set(cause.stages):
                out.append(RuledOut(cause.id, _wrong_stage(cause)))
    return tuple(sorted(out, key=lambda r: (r.said.rule, r.cause)))


_STAGE_NAMES = {"cut": "cutting", "prepolish": "pre-polishing", "polish": "polishing"}


def _wrong_stage(cause: Cause) -> Provenance:
    names = " or ".join(_STAGE_NAMES.get(s, s) for s in cause.stages)
    return Provenance("", f"This is seen only when {names}.", cause.source)


def _symptoms(
    knowledge: Knowledge, facts: Iterable[Fact], standing: list[str]
) -> tuple[list[Evidence], tuple[str, ...]]:
    """Weights of every observed symptom on every cause standing, and the symptoms no such cause explains.

    Weight: ln(P(symptom | cause) / P(symptom | other)); a cause that is not named explains it ``unexplained``.
    """
    scales = knowledge.scales
    evidence: list[Evidence] = []
    unexplained: list[str] = []
    for seen in sorted({str(f.value) for f in facts if f.slot == "symptom"}):
        symptom = knowledge.symptoms.get(seen)
        words = symptom.says if symptom else {}
        source = symptom.source if symptom and symptom.source else PRACTICE
        label = symptom.label if symptom else seen
        named = Provenance("", symptom.because if symptom else "", source)
        unnamed = Provenance("", f"This hardly ever shows as “{label}”.", source)
        chances = {c: scales.chance[words[c]] if c in words else scales.unexplained for c in standing}
        for cause, chance in chances.items():
            weight = math.log(chance / scales.background)
            evidence.append(Evidence(f"symptom: {seen}", cause, weight, named if cause in words else unnamed))
        if all(chance <= scales.unexplained for chance in chances.values()):
            unexplained.append(seen)
    return evidence, tuple(unexplained)


def _opinions(scales: Scales, fired: list[tuple[Rule, Firing]], standing: frozenset[str]) -> list[Evidence]:
    out: list[Evidence] = []
    for rule, firing in fired:
        then = rule.then
        if not then.evidence_for and not then.evidence_against:
            continue
        finding, said = _text(rule, firing.on), _said(rule)
        for words, sign in ((then.evidence_for, 1), (then.evidence_against, -1)):
            out += [Evidence(finding, c, sign * scales.strength[w], said) for c, w in words.items() if c in standing]
    return out


def _text(rule: Rule, on: Iterable[Fact]) -> str:
    """The facts a conclusion rests on; for a rule that rests on absence alone, what is absent."""
    shown = [str(f) for f in on]
    if not shown:
        nots = {t for way in ways(rule) for t in way.nots}
        shown = sorted(f"{t.slot}: not {' or '.join(t.any_of) or 'so'}" for t in nots)
    return "; ".join(shown)
