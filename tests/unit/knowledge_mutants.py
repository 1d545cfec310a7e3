"""Faults of every kind, sown one at a time into the shipped knowledge."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from types import MappingProxyType
from typing import Any

from lapwise.engine.checks.reach import DISPUTED
from lapwise.engine.checks.trade import relied_on
from lapwise.engine.conclusions import OTHER
from lapwise.engine.knowledge import model
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.rule_model import AllOf, AnyOf, Not, Rule, Test, Then
from lapwise.engine.knowledge.rules import findings_needed
from lapwise.engine.slots import SLOTS

WRONG = "no-such-thing"
PLACE = Place("mutant", 1)


@dataclass(frozen=True)
class Mutant:
    """``make`` gives the knowledge with one fault; ``check`` must name ``id``."""

    kind: str
    check: str
    id: str
    make: Callable[[], Knowledge]


def put(knowledge: Knowledge, list_: str, entry: Any) -> Knowledge:
    """With one entry added or replaced."""
    return replace(knowledge, **{list_: MappingProxyType({**getattr(knowledge, list_), entry.id: entry})})


def without(knowledge: Knowledge, list_: str, *ids: str) -> Knowledge:
    """Without some entries."""
    left = {key: value for key, value in getattr(knowledge, list_).items() if key not in ids}
    return replace(knowledge, **{list_: MappingProxyType(left)})


def mapped(value: Any, change: Callable[[str, Any], Any], name: str = "") -> Any:
    """A copy in which ``change(field name, value)`` replaced every field's value, from the inside out."""
    if is_dataclass(value) and not isinstance(value, type):
        made = {f.name: mapped(getattr(value, f.name), change, f.name) for f in fields(value) if f.name != "place"}
        return change(name, replace(value, **made))
    if isinstance(value, Mapping):
        return change(name, MappingProxyType({k: mapped(v, change, name) for k, v in value.items()}))
    if isinstance(value, tuple):
        return change(name, tuple(mapped(v, change, name) for v in value))
    return change(name, value)


def drop_key(mapping: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    """The mapping without one key."""
    return MappingProxyType({k: v for k, v in mapping.items() if k != key})


def every_rule(knowledge: Knowledge, change: Callable[[Then], Then]) -> Knowledge:
    """With the conclusions of every rule changed."""
    changed = {r.id: replace(r, then=change(r.then)) for r in knowledge.rules.values()}
    return replace(knowledge, rules=MappingProxyType(changed))


def copy_of(rule: Rule, **changes: Any) -> Rule:
    """A second rule made of one."""
    return replace(rule, id=f"{rule.id}-copy", place=PLACE, **changes)


# --- ids, sources, reasons -----------------------------------------------------------------------------------


def wrong_ids(k: Knowledge) -> Iterator[Mutant]:
    def mutant(kind: str, list_: str, entry: Any) -> Mutant:
        return Mutant(f"wrong id: {kind}", "unknown-ids", entry.id, lambda: put(k, list_, entry))

    weighed = ("evidence_for", "evidence_against", "favours", "disfavours")
    listed = ("findings", "rules_out", "vetoes", "not_applicable", "looks", "cautions", "first", "looks_first")
    for rule in k.rules.values():
        for name in weighed:
            if found := getattr(rule.then, name):
                key = next(iter(found))
                renamed = MappingProxyType({WRONG: found[key], **drop_key(found, key)})
                yield mutant(name, "rules", replace(rule, then=replace(rule.then, **{name: renamed})))
                reworded = MappingProxyType({**found, key: "perhaps"})
                yield mutant(f"{name} word", "rules", replace(rule, then=replace(rule.then, **{name: reworded})))
        for name in listed:
            if found := getattr(rule.then, name):
                then = replace(rule.then, **{name: (WRONG, *found[1:])})
                yield mutant(name, "rules", replace(rule, then=then))
        for i, part in enumerate(rule.when.parts):
            if isinstance(part, Test) and part.any_of:
                parts = (*rule.when.parts[:i], replace(part, any_of=(WRONG,)), *rule.when.parts[i + 1 :])
                yield mutant(f"when {part.slot}", "rules", replace(rule, when=AllOf(parts)))
                break
    for material in k.materials.values():
        yield mutant("trait", "materials", replace(material, traits=material.traits | {WRONG}))
        yield mutant("caution", "materials", replace(material, cautions=(WRONG,)))
        if material.polishes_with:
            pair = replace(material.polishes_with[0], laps=(WRONG,))
            yield mutant("pair", "materials", replace(material, polishes_with=(pair,)))
    for remedy in k.remedies.values():
        yield mutant("fixes", "remedies", replace(remedy, fixes=MappingProxyType({**remedy.fixes, WRONG: "often"})))
        if remedy.to:
            yield mutant("to", "remedies", replace(remedy, to=replace(remedy.to, laps=(WRONG,))))
    for symptom in k.symptoms.values():
        says = MappingProxyType({**symptom.says, WRONG: "often"})
        yield mutant("symptom says", "symptoms", replace(symptom, says=says))
        reworded = MappingProxyType({**symptom.says, "stray-grit": "perhaps"})
        yield mutant("symptom word", "symptoms", replace(symptom, says=reworded))
    for look in k.looks.values():
        says = MappingProxyType({**look.says, WRONG: look.otherwise})
        yield mutant("says", "looks", replace(look, says=says))
        odd = MappingProxyType({**look.otherwise, WRONG: "often"})
        yield mutant("result", "looks", replace(look, otherwise=odd))
    for lap in k.laps.values():
        yield mutant("carries", "laps", replace(lap, carries=(*lap.carries, WRONG)))
    for cause in k.causes.values():
        yield mutant("base", "causes", replace(cause, base="daily"))


def trade_ids(k: Knowledge) -> Iterator[Mutant]:
    lists, look_results = relied_on()
    for list_, ids in lists.items():
        for name in ids:
            yield Mutant("trade id lost", "missing-words", name, lambda a=list_, b=name: without(k, a, b))
    for name, results in look_results.items():
        less = replace(k.looks[name], results=tuple(r for r in k.looks[name].results if r != results[0]))
        yield Mutant("result lost", "missing-words", name, lambda e=less: put(k, "looks", e))


SOURCED = ("laps", "compounds", "symptoms", "causes", "remedies", "looks", "cautions", "rules")


def lost_sources(k: Knowledge) -> Iterator[Mutant]:
    for list_ in SOURCED:
        for entry in getattr(k, list_).values():
            bare = replace(entry, source=" ")
            yield Mutant(f"source: {list_}", "missing-sources", entry.id, lambda a=list_, e=bare: put(k, a, e))
    for material in k.materials.values():
        bare = mapped(material, lambda name, value: "" if name == "source" else value)
        if bare != material:
            yield Mutant("source: materials", "missing-sources", material.id, lambda e=bare: put(k, "materials", e))


def lost_reasons(k: Knowledge) -> Iterator[Mutant]:
    for rule in k.rules.values():
        for text in ("", "Because."):
            bare = replace(rule, because=text)
            yield Mutant("reason of a rule", "missing-reasons", rule.id, lambda e=bare: put(k, "rules", e))
    for symptom in k.symptoms.values():
        bare = replace(symptom, because=" ")
        yield Mutant("reason of a symptom", "missing-reasons", symptom.id, lambda e=bare: put(k, "symptoms", e))
    for material in k.materials.values():
        for name in ("toughness", "heat", "acid", "water", "directional"):
            if (level := getattr(material, name)) is not None:
                bare = replace(material, **{name: replace(level, because=" ")})
                yield Mutant("reason of a level", "missing-reasons", material.id, lambda e=bare: put(k, "materials", e))


def unread_sources(k: Knowledge) -> Iterator[Mutant]:
    added = model.Source("unread", "Never named", "memory")
    yield Mutant("source added", "unused-sources", "unread", lambda: put(k, "sources", added))


# --- rules against rules -------------------------------------------------------------------------------------


def turned(when: AllOf) -> AllOf:
    """The same conditions written the other way round."""
    parts: list[Any] = []
    for part in reversed(when.parts):
        if isinstance(part, Test):
            parts.append(replace(part, any_of=tuple(reversed(part.any_of))))
        elif isinstance(part, AnyOf):
            parts.append(AnyOf(tuple(turned(o) for o in reversed(part.options))))
        else:
            parts.append(part)
    return AllOf(tuple(parts))


def slots_of(when: AllOf) -> set[str]:
    out: set[str] = set()
    for part in when.parts:
        if isinstance(part, AnyOf):
            out |= {s for option in part.options for s in slots_of(option)}
        else:
            out.add(part.test.slot if isinstance(part, Not) else part.slot)
    return out


def doubles(k: Knowledge) -> Iterator[Mutant]:
    for rule in k.rules.values():
        same, other_way = copy_of(rule), copy_of(rule, when=turned(rule.when))
        yield Mutant("rule doubled", "redundant-rules", same.id, lambda e=same: put(k, "rules", e))
        yield Mutant("rule doubled, turned", "redundant-rules", same.id, lambda e=other_way: put(k, "rules", e))


def narrowed(k: Knowledge) -> Iterator[Mutant]:
    for rule in k.rules.values():
        extra = next(
            Test(slot, any_of=(value,))
            for slot, value in (("in_setting", "yes"), ("c_axis", "along-facet"), ("own_lap_state", "clean"))
            if slot not in slots_of(rule.when)
        )
        narrow = copy_of(rule, when=AllOf((*rule.when.parts, extra)))
        yield Mutant("rule narrowed", "subsumed-rules", narrow.id, lambda e=narrow: put(k, "rules", e))


_SWAPS = {"evidence_for": "evidence_against", "favours": "disfavours"}


def opposites(k: Knowledge) -> Iterator[Mutant]:
    for rule in k.rules.values():
        for one, two in _SWAPS.items():
            found = getattr(rule.then, one)
            if not found:
                continue
            swapped = copy_of(rule, then=Then(**{two: found}), source="practice")
            yield Mutant(f"{one} turned round", "conflicting-rules", swapped.id, lambda e=swapped: put(k, "rules", e))
            both = replace(rule, then=replace(rule.then, **{two: found}))
            yield Mutant(f"{one} and {two}", "conflicting-rules", rule.id, lambda e=both: put(k, "rules", e))
        if rule.then.evidence_for:
            cause = next(iter(rule.then.evidence_for))
            gone = copy_of(rule, then=Then(rules_out=(cause,)), source="practice")
            yield Mutant("for and ruled out", "conflicting-rules", gone.id, lambda e=gone: put(k, "rules", e))
        # With a "not", the copy no longer takes the unknown for the dangerous case: another rule, no contradiction.
        if rule.then.vetoes and not any(isinstance(part, Not) for part in rule.when.parts):
            liked = copy_of(rule, then=Then(favours={rule.then.vetoes[0]: "slightly"}), source="practice")
            yield Mutant("vetoed and favoured", "conflicting-rules", liked.id, lambda e=liked: put(k, "rules", e))


def circles(k: Knowledge) -> Iterator[Mutant]:
    for rule in k.rules.values():
        if needed := sorted(findings_needed(rule.when)):
            then = replace(rule.then, findings=(*rule.then.findings, needed[0]))
            itself = replace(rule, then=then)
            yield Mutant("rule feeds itself", "circular-rules", rule.id, lambda e=itself: put(k, "rules", e))
    for finding in k.findings:
        makers = [r for r in k.rules.values() if finding in r.then.findings and not findings_needed(r.when)]
        users = [r for r in k.rules.values() if finding in findings_needed(r.when)]
        if makers and users:
            user = replace(users[0], then=replace(users[0].then, findings=("loop",)))
            maker = replace(makers[0], when=AllOf((*makers[0].when.parts, Test("finding", any_of=("loop",)))))
            loop = model.Finding("loop", "loop", PLACE)
            yield Mutant(
                "two rules in a circle",
                "circular-rules",
                maker.id,
                lambda a=user, b=maker, c=loop: put(put(put(k, "rules", a), "rules", b), "findings", c),
            )


# --- conditions ----------------------------------------------------------------------------------------------


def contradictions(k: Knowledge) -> Iterator[Mutant]:
    for rule in k.rules.values():
        for part in rule.when.parts:
            if not (isinstance(part, Test) and part.any_of) or SLOTS[part.slot].kind != "one":
                continue
            never = replace(rule, when=AllOf((*rule.when.parts, Not(part))))
            yield Mutant("and not", "impossible-conditions", rule.id, lambda e=never: put(k, "rules", e))
            others = [v for v in SLOTS[part.slot].values if v not in part.any_of and not v.startswith("@")]
            if others:
                clash = replace(rule, when=AllOf((*rule.when.parts, Test(part.slot, any_of=(others[0],)))))
                yield Mutant("two values", "impossible-conditions", rule.id, lambda e=clash: put(k, "rules", e))
    for rule in k.rules.values():
        for part in rule.when.parts:
            if isinstance(part, Test) and part.slot == "lap" and part.any_of:
                traits = set().union(*(k.laps[lap].traits for lap in part.any_of))
                if strange := sorted(set(k.lap_traits) - traits):
                    test = Test("lap_trait", any_of=(strange[0],))
                    clash = replace(rule, when=AllOf((*rule.when.parts, test)))
                    yield Mutant(
                        "lap of another kind", "impossible-conditions", rule.id, lambda e=clash: put(k, "rules", e)
                    )


def surplus(k: Knowledge) -> Iterator[Mutant]:
    def mutant(kind: str, rule: Rule, extra: Any) -> Mutant:
        more = replace(rule, when=AllOf((*rule.when.parts, extra)))
        return Mutant(kind, "unnecessary-conditions", rule.id, lambda: put(k, "rules", more))

    for rule in k.rules.values():
        yield mutant("condition twice", rule, rule.when.parts[0])
        for part in rule.when.parts:
            if not isinstance(part, Test) or not part.any_of:
                continue
            if part.slot == "material" and all(len(k.materials[m].line) > 1 for m in part.any_of):
                parents = tuple(dict.fromkeys(k.materials[m].line[1] for m in part.any_of))
                yield mutant("parent asked as well", rule, Test("material", any_of=parents))
            if part.slot == "compound":
                kinds = tuple(sorted({k.compounds[c].kind for c in part.any_of}))
                yield mutant("kind asked as well", rule, Test("compound_kind", any_of=kinds))
        if "in_setting" not in slots_of(rule.when):
            yes = replace(rule, when=AllOf((*rule.when.parts, Test("in_setting", any_of=("yes",)))))
            no = copy_of(rule, when=AllOf((*rule.when.parts, Test("in_setting", any_of=("no",)))))
            yield Mutant(
                "split in two", "unnecessary-conditions", no.id, lambda a=yes, b=no: put(put(k, "rules", a), "rules", b)
            )


# --- what leads nowhere --------------------------------------------------------------------------------------


def lost_ways(k: Knowledge) -> Iterator[Mutant]:
    for cause in k.causes:
        if cause == OTHER:
            continue

        def silent(then: Then, c: str = cause) -> Then:
            return replace(then, evidence_for=drop_key(then.evidence_for, c))

        def uncured(c: str = cause) -> Knowledge:
            less = {r.id: replace(r, fixes=drop_key(r.fixes, c)) for r in k.remedies.values()}
            return replace(k, remedies=MappingProxyType(less))

        def unseen(c: str = cause, f: Callable[[Then], Then] = silent) -> Knowledge:
            mute = {s.id: replace(s, says=drop_key(s.says, c)) for s in k.symptoms.values()}
            return replace(every_rule(k, f), symptoms=MappingProxyType(mute))

        yield Mutant("no evidence", "unreached-causes", cause, unseen)
        yield Mutant("no cure", "uncured-causes", cause, uncured)
    for remedy in k.remedies.values():
        for fixes in ({}, dict.fromkeys(remedy.fixes, "never")):
            idle = replace(remedy, fixes=MappingProxyType(fixes))
            yield Mutant("fixes nothing", "idle-remedies", remedy.id, lambda e=idle: put(k, "remedies", e))
        lonely = replace(remedy, fixes=MappingProxyType({"lonely": "often"}))
        yield Mutant("fixes what is never found", "dead-ends", remedy.id, lambda e=lonely: put(k, "remedies", e))
    for symptom in k.symptoms.values():
        for says in ({}, dict.fromkeys(symptom.says, "never")):
            mute = replace(symptom, says=MappingProxyType(says))
            yield Mutant(
                "symptom unexplained", "unexplained-symptoms", symptom.id, lambda e=mute: put(k, "symptoms", e)
            )
    for finding in k.findings:

        def unmade(then: Then, f: str = finding) -> Then:
            return replace(then, findings=tuple(x for x in then.findings if x != f))

        yield Mutant("finding never made", "dead-ends", finding, lambda f=unmade: every_rule(k, f))
        if not finding.startswith(DISPUTED):
            users = [r.id for r in k.rules.values() if finding in findings_needed(r.when)]
            yield Mutant("finding never used", "dead-ends", finding, lambda u=users: without(k, "rules", *u))


def mute_looks(k: Knowledge) -> Iterator[Mutant]:
    for look in k.looks.values():
        mute = replace(look, says=MappingProxyType(dict.fromkeys(look.says, look.otherwise)))
        yield Mutant("look says nothing", "silent-looks", look.id, lambda e=mute: put(k, "looks", e))
        for cause in look.says:
            one = replace(look, says=MappingProxyType({**look.says, cause: look.otherwise}))
            yield Mutant("line says nothing", "silent-looks", look.id, lambda e=one: put(k, "looks", e))


def looks_again(k: Knowledge) -> Iterator[Mutant]:
    for look in k.looks.values():
        for cause in look.says:
            shown = Test("saw", any_of=(f"{look.id}={look.results[0]}",))
            again = Rule(
                "again", "x", AllOf((shown,)), Then(evidence_for={cause: "slightly"}), "So.", "practice", "", 0, PLACE
            )
            yield Mutant("look weighed again", "looks-counted-twice", "again", lambda e=again: put(k, "rules", e))


def favoured_again(k: Knowledge) -> Iterator[Mutant]:
    for rule in k.rules.values():
        for cause in rule.then.evidence_for:
            cure = next((r.id for r in k.remedies.values() if r.fixes.get(cause, "never") != "never"), None)
            if cure is not None:
                both = replace(rule, then=replace(rule.then, favours={**rule.then.favours, cure: "slightly"}))
                yield Mutant("cause and its cure", "remedies-counted-twice", rule.id, lambda e=both: put(k, "rules", e))


def found_again(k: Knowledge) -> Iterator[Mutant]:
    for rule in k.rules.values():
        for found in rule.then.findings:
            for cause, word in rule.then.evidence_for.items():
                shown = Test("finding", any_of=(found,))
                again = Rule(
                    "again", "x", AllOf((shown,)), Then(evidence_for={cause: word}), "So.", "practice", "", 1, PLACE
                )
                yield Mutant(
                    "finding weighed again", "findings-counted-twice", "again", lambda e=again: put(k, "rules", e)
                )


def forgotten(k: Knowledge) -> Iterator[Mutant]:
    for caution in k.cautions.values():

        def dropped(c: str = caution.id) -> Knowledge:
            def change(name: str, value: Any) -> Any:
                return tuple(x for x in value if x != c) if name == "cautions" and isinstance(value, tuple) else value

            lists = ("materials", "laps", "compounds", "remedies", "looks", "rules")
            plain = put(k, "cautions", replace(k.cautions[c], general=False))
            return replace(plain, **{name: mapped(getattr(plain, name), change) for name in lists})

        yield Mutant("caution named nowhere", "unused-cautions", caution.id, dropped)
    for trait in k.traits:
        less = {m.id: replace(m, traits=m.traits - {trait}) for m in k.materials.values()}
        yield Mutant(
            "trait of nothing", "unused-traits", trait, lambda m=less: replace(k, materials=MappingProxyType(m))
        )
    for material in k.materials.values():
        if any(p.stage == "polish" for p in material.polishes_with):
            bare = replace(material, polishes_with=())
            yield Mutant("no pair", "pairless-materials", material.id, lambda e=bare: put(k, "materials", e))
            first = material.polishes_with[0]
            if first.laps and first.compounds:
                odd = replace(first, compounds=("silicon-carbide",), laps=("acrylic-lap",))
                strange = replace(material, polishes_with=(odd, *material.polishes_with[1:]))
                yield Mutant(
                    "pair not carried", "uncarried-pairs", material.id, lambda e=strange: put(k, "materials", e)
                )


def strange_experience(k: Knowledge) -> Iterator[Mutant]:
    """A guild's numbers of a cause, or a group, that is not known."""
    found = model.Found(0.5, 0.4, 0.6, 12.0)
    for remedy in k.remedies.values():
        rows = {remedy.id: {WRONG: found}}
        entry = model.Experience("all", "all", "", rows, {}, 3, "", PLACE)
        yield Mutant("cause of experience", "unknown-experience", "all", lambda e=entry: put(k, "experience", e))
    for level in ("material", "lap", "compound"):
        entry = model.Experience(f"{level}.{WRONG}", level, WRONG, {}, {}, 3, "", PLACE)
        yield Mutant("group of experience", "unknown-experience", entry.id, lambda e=entry: put(k, "experience", e))


KINDS: tuple[Callable[[Knowledge], Iterator[Mutant]], ...] = (
    wrong_ids,
    trade_ids,
    lost_sources,
    lost_reasons,
    unread_sources,
    doubles,
    narrowed,
    opposites,
    circles,
    contradictions,
    surplus,
    lost_ways,
    mute_looks,
    looks_again,
    favoured_again,
    found_again,
    forgotten,
    strange_experience,
)


def mutants(knowledge: Knowledge) -> dict[str, list[Mutant]]:
    """Kind to every mutant of that kind."""
    out: dict[str, list[Mutant]] = {}
    for kind in KINDS:
        for mutant in kind(knowledge):
            out.setdefault(mutant.kind, []).append(mutant)
    return out
