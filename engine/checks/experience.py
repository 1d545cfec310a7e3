"""The check on what a guild's file speaks of."""

from __future__ import annotations

from collections.abc import Iterator

from lapwise.engine.checks.model import Check, Finding
from lapwise.engine.knowledge.model import Experience, Knowledge


class UnknownExperience(Check):
    """Experience of a stone, lap, compound, cause or remedy that is not known here."""

    name = "unknown-experience"
    severity = "warning"
    about = "a guild's file speaks of something that is not known here"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        for entry in knowledge.experience.values():
            groups = {"material": knowledge.materials, "lap": knowledge.laps, "compound": knowledge.compounds}
            if entry.level in groups and entry.name not in groups[entry.level]:
                yield self.finding(entry.id, entry.place, "this group is not known here and does not count")
                continue
            if unknown := _unknown(entry, knowledge):
                what = f"{len(unknown)} rows do not count: no such cause here, or no remedy said to cure it"
                yield self.finding(entry.id, entry.place, what, ", ".join(unknown[:5]))


def _unknown(entry: Experience, knowledge: Knowledge) -> list[str]:
    remedies = knowledge.remedies
    out = [c for c in entry.causes if c not in knowledge.causes]
    for remedy, row in entry.fixes.items():
        out += [f"{remedy} {c}" for c in row if remedy not in remedies or c not in remedies[remedy].fixes]
    return out
