"""Checks that everything leads somewhere: causes, remedies, symptoms, findings, looks and cautions."""

from __future__ import annotations

from collections.abc import Iterator
from math import isclose

from lapwise.engine.belief import look_row
from lapwise.engine.checks.model import Fault, check, fault
from lapwise.engine.conclusions import OTHER
from lapwise.engine.knowledge.model import Knowledge, Pair
from lapwise.engine.knowledge.rules import findings_needed

DISPUTED = "disputed-"
"""Findings of this name are shown to the person as they are: no rule need use them."""


def reached_causes(knowledge: Knowledge) -> frozenset[str]:
    """Causes that a symptom or a rule gives evidence for."""
    out = {cause for rule in knowledge.rules.values() for cause in rule.then.evidence_for}
    out.update(c for symptom in knowledge.symptoms.values() for c, word in symptom.says.items() if word != "never")
    return frozenset(out)


def cured_causes(knowledge: Knowledge) -> frozenset[str]:
    """Causes that a remedy can fix."""
    return frozenset(c for r in knowledge.remedies.values() for c, word in r.fixes.items() if word != "never")


def _without(causes: frozenset[str], what: str, knowledge: Knowledge) -> Iterator[Fault]:
    """A fault of each cause that is not among ``causes``."""
    for cause in knowledge.causes.values():
        if cause.id not in causes and cause.id != OTHER:
            yield fault(cause.id, cause.place, what)


@check("unreached-causes", "error", "no evidence ever speaks for a cause")
def unreached_causes(knowledge: Knowledge) -> Iterator[Fault]:
    """A cause that nothing ever gives evidence for (``other`` stands for what is not listed and needs none)."""
    return _without(reached_causes(knowledge), "no symptom and no rule gives evidence for this cause", knowledge)


@check("uncured-causes", "error", "nothing that is known cures a cause")
def uncured_causes(knowledge: Knowledge) -> Iterator[Fault]:
    """A cause that no remedy fixes."""
    return _without(cured_causes(knowledge), "no remedy fixes this cause", knowledge)


@check("idle-remedies", "error", "a remedy fixes nothing")
def idle_remedies(knowledge: Knowledge) -> Iterator[Fault]:
    """A remedy that fixes nothing."""
    for remedy in knowledge.remedies.values():
        if all(word == "never" for word in remedy.fixes.values()):
            yield fault(remedy.id, remedy.place, "this remedy fixes no cause")


@check("unexplained-symptoms", "error", "nothing says which causes explain a symptom")
def unexplained_symptoms(knowledge: Knowledge) -> Iterator[Fault]:
    """A symptom that no cause explains."""
    for symptom in knowledge.symptoms.values():
        if all(word == "never" for word in symptom.says.values()):
            yield fault(symptom.id, symptom.place, "'says' names no cause that shows itself this way")


@check("silent-looks", "error", "the results of a look do not tell causes apart")
def silent_looks(knowledge: Knowledge) -> Iterator[Fault]:
    """A look, or one line of it, whose results say nothing about any cause."""
    for look in knowledge.looks.values():
        usual = look_row(look, OTHER, knowledge.scales)
        silent = [
            cause
            for cause in look.says
            if all(isclose(p, usual[r], abs_tol=1e-9) for r, p in look_row(look, cause, knowledge.scales).items())
        ]
        if len(silent) == len(look.says):
            yield fault(look.id, look.place, "whatever it shows, no cause becomes likelier than another")
        else:
            for cause in silent:
                what = "says of this cause just what it says of all others: leave the line out"
                yield fault(look.id, look.place, what, cause)


@check("dead-ends", "error", "a finding that no rule uses or concludes, or a remedy that can never be proposed")
def dead_ends(knowledge: Knowledge) -> Iterator[Fault]:
    """Findings that lead nowhere or come from nowhere, and remedies that can never be proposed."""
    needed = {f for rule in knowledge.rules.values() for f in findings_needed(rule.when)}
    made = {f for rule in knowledge.rules.values() for f in rule.then.findings}
    for finding in knowledge.findings.values():
        if finding.id not in needed and not finding.id.startswith(DISPUTED):
            yield fault(finding.id, finding.place, "no rule uses this finding")
        if finding.id not in made:
            yield fault(finding.id, finding.place, "no rule concludes this finding")
    reached = reached_causes(knowledge)
    for remedy in knowledge.remedies.values():
        fixes = [cause for cause, word in remedy.fixes.items() if word != "never"]
        if fixes and not any(cause in reached or cause == OTHER for cause in fixes):
            what = "can never be proposed: nothing gives evidence for any cause it fixes"
            yield fault(remedy.id, remedy.place, what, ", ".join(fixes))


@check("unused-cautions", "error", "a caution can never be shown")
def unused_cautions(knowledge: Knowledge) -> Iterator[Fault]:
    """A caution that is never shown."""
    shown = {c for rule in knowledge.rules.values() for c in rule.then.cautions}
    for things in (knowledge.materials, knowledge.laps, knowledge.compounds, knowledge.remedies, knowledge.looks):
        shown.update(c for thing in things.values() for c in thing.cautions)
    for caution in knowledge.cautions.values():
        if caution.id not in shown and not caution.general:
            yield fault(caution.id, caution.place, "nothing names this caution and it is not a general one")


@check("unused-traits", "warning", "no material or lap has a trait")
def unused_traits(knowledge: Knowledge) -> Iterator[Fault]:
    """A trait that nothing has."""
    for traits, things, what in (
        (knowledge.traits, knowledge.materials, "material"),
        (knowledge.lap_traits, knowledge.laps, "lap"),
    ):
        held = {t for thing in things.values() for t in thing.traits}
        for trait in traits:
            if trait not in held:
                yield fault(trait, None, f"no {what} has this trait")


@check("pairless-materials", "warning", "no lap or compound is known to polish a material")
def pairless_materials(knowledge: Knowledge) -> Iterator[Fault]:
    """A material for which no lap and compound is known."""
    for material in knowledge.materials.values():
        if not any(pair.stage == "polish" for pair in material.polishes_with):
            yield fault(material.id, material.place, "nothing is said of what polishes this material")


@check("uncarried-pairs", "error", "a pair names laps that carry none of its compounds")
def uncarried_pairs(knowledge: Knowledge) -> Iterator[Fault]:
    """A pair whose laps carry none of its compounds, so that no remedy can ever go to it."""
    seen: set[Pair] = set()
    for material in knowledge.materials.values():
        for number, pair in enumerate(material.polishes_with, 1):
            if pair in seen or not pair.laps or not pair.compounds:
                continue
            seen.add(pair)  # a variety inherits its pairs: say it once
            if not _carried(knowledge, pair):
                found = f"{', '.join(pair.laps)} with {', '.join(pair.compounds)}"
                what = f"pair {number}: none of these laps carries one of these compounds"
                yield fault(material.id, material.place, what, found)


def _carried(knowledge: Knowledge, pair: Pair) -> bool:
    for lap in pair.laps:
        carries = knowledge.laps[lap].carries if lap in knowledge.laps else ()
        for compound in pair.compounds:
            kind = knowledge.compounds[compound].kind if compound in knowledge.compounds else ""
            if compound in carries or kind in carries:
                return True
    return False
