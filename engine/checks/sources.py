"""Checks on ids, sources and reasons."""

from __future__ import annotations

from collections.abc import Iterator

from lapwise.engine.abrasion.damage import RELATION
from lapwise.engine.abrasion.preston import COEFFICIENTS
from lapwise.engine.abrasion.tables import load_systems
from lapwise.engine.checks.model import Check, Finding
from lapwise.engine.errors import nearest
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.walk import allowed_ids, names, statements

_WORDS = 3
"""A rule's reason of fewer words than this explains nothing."""


class UnknownIds(Check):
    """An id, or a word of the scales, that no list holds."""

    name = "unknown-ids"
    severity = "error"
    about = "something names an id that does not exist"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        allowed = allowed_ids(knowledge)
        for named in names(knowledge):
            if named.id not in allowed[named.list]:
                what = f"'{named.key}' names something that is not among the {named.list.replace('_', ' ')}"
                near = nearest(named.id, allowed[named.list])
                yield self.finding(named.by, named.place, what, named.id, near)


class MissingSources(Check):
    """A statement without a source."""

    name = "missing-sources"
    severity = "error"
    about = "a statement has no source"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        for stated in statements(knowledge):
            if not stated.source.strip():
                what = f"'{stated.key}' has no source" if stated.key else "has no source"
                yield self.finding(stated.by, stated.place, f"{what}: name one, or 'practice', or 'memory'")


class MissingReasons(Check):
    """A rule or judgement that does not say why; a rule needs a sentence, a judged level may do with a word."""

    name = "missing-reasons"
    severity = "error"
    about = "a rule or a judgement does not say why"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        for stated in statements(knowledge):
            wanted = _WORDS if stated.by in knowledge.rules else 1
            if stated.because is not None and len(stated.because.split()) < wanted:
                what = f"'{stated.key}' does not say why" if stated.key else "does not say why"
                yield self.finding(stated.by, stated.place, f"{what}: write one sentence", stated.because)


class UnusedSources(Check):
    """A source that nothing names."""

    name = "unused-sources"
    severity = "warning"
    about = "nothing names a source"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        used = {stated.source for stated in statements(knowledge)} | set(_in_calculators())
        for source in knowledge.sources.values():
            if source.id not in used:
                yield self.finding(source.id, source.place, "nothing names this source")


def _in_calculators() -> Iterator[str]:
    """The sources of grain sizes, depths of damage and removal, which the calculators keep for themselves."""
    yield from (system.source for system in load_systems().values())
    yield RELATION.source
    yield from (coefficient.source for coefficient in COEFFICIENTS.values())
