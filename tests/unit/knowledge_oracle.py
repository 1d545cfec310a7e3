"""What the loader promises of all it lets through, looked for anew: ids that exist, sources, rules in no circle."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from lapwise.engine.checks import CHECKS
from lapwise.engine.checks.model import Check, Fault, check, fault
from lapwise.engine.knowledge.model import KINDS, Knowledge
from lapwise.engine.knowledge.rule_model import CONCLUSIONS
from lapwise.engine.knowledge.rules import tiers
from lapwise.engine.knowledge.walk import names, statements
from lapwise.engine.slots import SLOTS


def allowed_ids(knowledge: Knowledge) -> dict[str, frozenset[str]]:
    """List to its ids, for every list that :func:`names` speaks of."""
    lists = {name: frozenset(getattr(knowledge, name)) for name in KINDS if name not in ("sources", "rules")}
    lists["look_results"] = frozenset(f"{k.id}={r}" for k in knowledge.looks.values() for r in k.results)
    lists["sources"] = frozenset(knowledge.sources) | {"practice", "memory"}
    lists["moves"] = lists["remedies"] | lists["looks"]
    lists["carried"] = lists["compounds"] | {"oxide", "carbide", "diamond", "none"}
    for slot in SLOTS.values():
        if slot.closed:
            lists[f"values of {slot.name}"] = frozenset(slot.values)
    return lists


def scale_words(knowledge: Knowledge) -> Iterator[tuple[Any, str, Iterable[str]]]:
    """(entry, scale, words of that scale it uses)."""
    for symptom in knowledge.symptoms.values():
        yield symptom, "chance", symptom.says.values()
    for cause in knowledge.causes.values():
        yield cause, "frequency", (cause.base,)
    for remedy in knowledge.remedies.values():
        yield remedy, "chance", (*remedy.fixes.values(), remedy.worse_chance)
    for look in knowledge.looks.values():
        for row in (look.otherwise, *look.says.values()):
            yield look, "chance", row.values()
    for rule in knowledge.rules.values():
        for kind in CONCLUSIONS:
            if kind.weighed:
                yield rule, "strength", getattr(rule.then, kind.field).values()


@check("unknown-ids", "error", "something names an id that does not exist")
def unknown_ids(knowledge: Knowledge) -> Iterator[Fault]:
    """An id, or a word of the scales, that no list holds."""
    allowed = allowed_ids(knowledge)
    for named in names(knowledge):
        if named.id not in allowed[named.list]:
            yield fault(named.by, named.place, f"'{named.key}' names what is not among the {named.list}", named.id)
    for entry, scale, words in scale_words(knowledge):
        for word in words:
            if word not in getattr(knowledge.scales, scale):
                yield fault(entry.id, entry.place, f"not a word of the scale {scale}", word)


@check("missing-sources", "error", "a statement has no source")
def missing_sources(knowledge: Knowledge) -> Iterator[Fault]:
    """A statement without a source."""
    for stated in statements(knowledge):
        if not stated.source.strip():
            yield fault(stated.by, stated.place, f"'{stated.key}' has no source")


@check("circular-rules", "error", "rules wait for each other's findings in a circle")
def circular_rules(knowledge: Knowledge) -> Iterator[Fault]:
    """Rules that wait for each other's findings."""
    for name in tiers(knowledge.rules)[1]:
        yield fault(name, knowledge.rules[name].place, "in a circle")


ORACLE: tuple[Check, ...] = (unknown_ids, missing_sources, circular_rules)
_BY_NAME = {c.name: c for c in (*CHECKS, *ORACLE)}


def found(knowledge: Knowledge, *names_: str) -> set[tuple[str, str]]:
    """(check, id) of what the checks of these names find, of the package and of the oracle; all if none is named."""
    return {(f.check, f.id) for name in names_ or _BY_NAME for f in _BY_NAME[name].find(knowledge)}
