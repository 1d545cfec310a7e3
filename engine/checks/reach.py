"""Checks that everything leads somewhere: causes, remedies, symptoms, findings, looks and cautions."""

from __future__ import annotations

from collections.abc import Iterator

from lapwise.engine.checks.model import Check, Finding
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


class UnreachedCauses(Check):
    """A cause that nothing ever gives evidence for (``other`` stands for what is not listed and needs none)."""

    name = "unreached-causes"
    severity = "error"
    about = "no evidence ever speaks for a cause"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        reached = reached_causes(knowledge)
        for cause in knowledge.causes.values():
            if cause.id not in reached and cause.id != OTHER:
                yield self.finding(cause.id, cause.place, "no symptom and no rule gives evidence for this cause")


class UncuredCauses(Check):
    """A cause that no remedy fixes."""

    name = "uncured-causes"
    severity = "error"
    about = "nothing that is known cures a cause"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        cured = cured_causes(knowledge)
        for cause in knowledge.causes.values():
            if cause.id not in cured and cause.id != OTHER:
                yield self.finding(cause.id, cause.place, "no remedy fixes this cause")


class IdleRemedies(Check):
    """A remedy that fixes nothing."""

    name = "idle-remedies"
    severity = "error"
    about = "a remedy fixes nothing"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        for remedy in knowledge.remedies.values():
            if all(word == "never" for word in remedy.fixes.values()):
                yield self.finding(remedy.id, remedy.place, "this remedy fixes no cause")


class UnexplainedSymptoms(Check):
    """A symptom that no cause explains."""

    name = "unexplained-symptoms"
    severity = "error"
    about = "nothing says which causes explain a symptom"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        for symptom in knowledge.symptoms.values():
            if all(word == "never" for word in symptom.says.values()):
                yield self.finding(symptom.id, symptom.place, "'says' names no cause that shows itself this way")


class DeadEnds(Check):
    """Findings that lead nowhere or come from nowhere, and remedies that can never be proposed."""

    name = "dead-ends"
    severity = "error"
    about = "a finding that no rule uses or concludes, or a remedy that can never be proposed"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        needed = {f for rule in knowledge.rules.values() for f in findings_needed(rule.when)}
        made = {f for rule in knowledge.rules.values() for f in rule.then.findings}
        for finding in knowledge.findings.values():
            if finding.id not in needed and not finding.id.startswith(DISPUTED):
                yield self.finding(finding.id, finding.place, "no rule uses this finding")
            if finding.id not in made:
                yield self.finding(finding.id, finding.place, "no rule concludes this finding")
        reached = reached_causes(knowledge)
        for remedy in knowledge.remedies.values():
            fixes = [cause for cause, word in remedy.fixes.items() if word != "never"]
            if fixes and not any(cause in reached or cause == OTHER for cause in fixes):
                what = "can never be proposed: nothing gives evidence for any cause it fixes"
                yield self.finding(remedy.id, remedy.place, what, ", ".join(fixes))


class UnusedCautions(Check):
    """A caution that is never shown."""

    name = "unused-cautions"
    severity = "error"
    about = "a caution can never be shown"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        shown = {c for rule in knowledge.rules.values() for c in rule.then.cautions}
        for things in (knowledge.materials, knowledge.laps, knowledge.compounds, knowledge.remedies, knowledge.looks):
            shown.update(c for thing in things.values() for c in thing.cautions)
        for caution in knowledge.cautions.values():
            if caution.id not in shown and not caution.general:
                yield self.finding(caution.id, caution.place, "nothing names this caution and it is not a general one")


class UnusedTraits(Check):
    """A trait that nothing has."""

    name = "unused-traits"
    severity = "warning"
    about = "no material or lap has a trait"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        for traits, things, what in (
            (knowledge.traits, knowledge.materials, "material"),
            (knowledge.lap_traits, knowledge.laps, "lap"),
        ):
            held = {t for thing in things.values() for t in thing.traits}
            for trait in traits:
                if trait not in held:
                    yield self.finding(trait, None, f"no {what} has this trait")


class PairlessMaterials(Check):
    """A material for which no lap and compound is known."""

    name = "pairless-materials"
    severity = "warning"
    about = "no lap or compound is known to polish a material"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        for material in knowledge.materials.values():
            if not any(pair.stage == "polish" for pair in material.polishes_with):
                yield self.finding(material.id, material.place, "nothing is said of what polishes this material")


class UncarriedPairs(Check):
    """A pair whose laps carry none of its compounds, so that no remedy can ever go to it."""

    name = "uncarried-pairs"
    severity = "error"
    about = "a pair names laps that carry none of its compounds"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        seen: set[Pair] = set()
        for material in knowledge.materials.values():
            for number, pair in enumerate(material.polishes_with, 1):
                if pair in seen or not pair.laps or not pair.compounds:
                    continue
                seen.add(pair)  # a variety inherits its pairs: say it once
                if not _carried(knowledge, pair):
                    found = f"{', '.join(pair.laps)} with {', '.join(pair.compounds)}"
                    what = f"pair {number}: none of these laps carries one of these compounds"
                    yield self.finding(material.id, material.place, what, found)


def _carried(knowledge: Knowledge, pair: Pair) -> bool:
    for lap in pair.laps:
        carries = knowledge.laps[lap].carries if lap in knowledge.laps else ()
        for compound in pair.compounds:
            kind = knowledge.compounds[compound].kind if compound in knowledge.compounds else ""
            if compound in carries or kind in carries:
                return True
    return False
