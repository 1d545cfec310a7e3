"""Checks on ids of the trade and of a guild, reasons, and sources nobody names."""

from __future__ import annotations

from collections.abc import Iterator

from lapwise.engine.abrasion.damage import RELATION
from lapwise.engine.abrasion.preston import OXIDE
from lapwise.engine.abrasion.tables import load_systems
from lapwise.engine.checks.model import Fault, check, fault
from lapwise.engine.checks.trade import relied_on
from lapwise.engine.knowledge.model import Experience, Knowledge
from lapwise.engine.knowledge.walk import statements

_WORDS = 3
"""A rule's reason of fewer words than this explains nothing."""


@check("missing-words", "error", "an id that cases and records rely on is not there")
def missing_words(knowledge: Knowledge) -> Iterator[Fault]:
    """An id of the trade lists that the knowledge no longer holds."""
    lists, look_results = relied_on()
    for list_, ids in lists.items():
        there = getattr(knowledge, list_)
        for name in ids:
            if name not in there:
                yield fault(name, None, f"is missing from the {list_}; cases and records rely on it")
    for name, results in look_results.items():
        look = knowledge.looks.get(name)
        for result in results if look else ():
            if look is not None and result not in look.results:
                yield fault(name, look.place, "this look lacks a result that cases rely on", result)


@check("unknown-experience", "warning", "a guild's file speaks of something that is not known here")
def unknown_experience(knowledge: Knowledge) -> Iterator[Fault]:
    """Experience of a stone, lap, compound, cause or remedy that is not known here."""
    for entry in knowledge.experience.values():
        groups = {"material": knowledge.materials, "lap": knowledge.laps, "compound": knowledge.compounds}
        if entry.level in groups and entry.name not in groups[entry.level]:
            yield fault(entry.id, entry.place, "this group is not known here and does not count")
            continue
        if unknown := _unknown(entry, knowledge):
            what = f"{len(unknown)} rows do not count: no such cause here, or no remedy said to cure it"
            yield fault(entry.id, entry.place, what, ", ".join(unknown[:5]))


def _unknown(entry: Experience, knowledge: Knowledge) -> list[str]:
    remedies = knowledge.remedies
    out = [c for c in entry.causes if c not in knowledge.causes]
    for remedy, row in entry.fixes.items():
        out += [f"{remedy} {c}" for c in row if remedy not in remedies or c not in remedies[remedy].fixes]
    return out


@check("missing-reasons", "error", "a rule or a judgement does not say why")
def missing_reasons(knowledge: Knowledge) -> Iterator[Fault]:
    """A rule or judgement that does not say why; a rule needs a sentence, a judged level may do with a word."""
    for stated in statements(knowledge):
        wanted = _WORDS if stated.by in knowledge.rules else 1
        if stated.because is not None and len(stated.because.split()) < wanted:
            what = f"'{stated.key}' does not say why" if stated.key else "does not say why"
            yield fault(stated.by, stated.place, f"{what}: write one sentence", stated.because)


@check("unused-sources", "warning", "nothing names a source")
def unused_sources(knowledge: Knowledge) -> Iterator[Fault]:
    """A source that nothing names."""
    used = {stated.source for stated in statements(knowledge)} | set(_in_calculators())
    for source in knowledge.sources.values():
        if source.id not in used:
            yield fault(source.id, source.place, "nothing names this source")


def _in_calculators() -> Iterator[str]:
    """The sources of grain sizes, depths of damage and removal, which the calculators keep for themselves."""
    yield from (system.source for system in load_systems().values())
    yield RELATION.source
    yield OXIDE.source
