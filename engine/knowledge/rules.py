"""Reads rules, habits and hunches: conditions into tests, conclusions into a :class:`Then`, the tier of each rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType

from lapwise.engine.errors import Issue
from lapwise.engine.knowledge.fields import Fields, Value
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.reader import Mapping as Group
from lapwise.engine.knowledge.rule_model import CONCLUSIONS, AllOf, AnyOf, Conclusion, Habit, Not, Rule, Test, Then
from lapwise.engine.knowledge.scales import STRENGTHS
from lapwise.engine.knowledge.ways import too_much
from lapwise.engine.slots import DERIVED, SLOTS, Slot

BOUNDS = ("at_least", "above", "at_most", "below")
_LOW, _HIGH = BOUNDS[:2], BOUNDS[2:]
Part = Test | AnyOf | Not


def read_rule(name: str, keys: Fields, place: Place, theme: str) -> Rule:
    """One entry of ``rules``; its tier is set later, when all rules are known."""
    parts: list[Part] = []
    if when := keys.need("when"):
        for item in when.items():
            parts.extend(_parts(item, top=True))
        if not parts and not when.out.problems:
            when.refuse("a rule needs at least one condition")
        if problem := too_much(AllOf(tuple(parts))):
            when.refuse(f"the rule {problem}")
        _check_variables(parts, when)
    then = _then(keys.need("then"))
    conditions = AllOf(tuple(parts))
    return Rule(
        id=name,
        theme=theme,
        when=conditions,
        then=then,
        because=keys.text("because"),
        source=keys.source(),
        limits=keys.text("limits", must=False),
        tier=0,
        place=place,
    )


# --- conditions ----------------------------------------------------------------------------------------------


def _parts(item: Value, *, top: bool = False) -> list[Part]:
    """The tests of one group of conditions; all of them must hold."""
    if not isinstance(item.node, Group):
        item.refuse("a condition is required, such as 'lap: tin-lap'", item.kind())
        return []
    parts: list[Part] = []
    for key, value in item.fields().each():
        if key == "any":
            if not top:
                value.refuse("'any' belongs in the list under 'when', not inside another 'any'")
                continue
            options = tuple(AllOf(tuple(_parts(option))) for option in value.items())
            if len(options) < 2:
                value.refuse("'any' needs at least two choices")
            parts.append(AnyOf(options))
        elif key == "not":
            parts.extend(_not(value))
        else:
            parts.extend(tests_of(key, value, bind=top))
    if not parts and not item.out.problems:
        item.refuse("a condition is empty")
    return parts


def _not(value: Value) -> list[Part]:
    if not isinstance(value.node, Group):
        value.refuse("a condition is required after 'not', such as 'carrier: oil'", value.kind())
        return []
    tests: list[Test] = []
    for key, inner in value.fields().each():
        slot = SLOTS.get(key)
        if slot and (slot.name in DERIVED or (slot.kind == "many" and slot.known_by is None)):
            what = f"'not' cannot be used with '{key}': nobody can know that the list of them is complete"
            inner.refuse(what)
            continue
        tests.extend(tests_of(key, inner, bind=False))
    if len(tests) > 1:
        value.refuse("only one test after 'not': write a 'not' for each")
    return [Not(test) for test in tests[:1]]


def tests_of(key: str, value: Value, *, bind: bool) -> list[Test]:
    """What one key of a condition asks for. ``bind``: whether a variable may stand there."""
    slot = SLOTS.get(key)
    if slot is None:
        value.refuse("no such thing to test", key, (*SLOTS, "any", "not"))
        return []
    if isinstance(value.node, Group):
        return _bounds_or_variable(slot, value, bind=bind)
    if slot.kind == "number":
        value.refuse(f"a bound is required for '{key}', such as {{at_least: 7}}", value.kind(), BOUNDS)
        return []
    words = _words(slot, value)
    if not words:
        if not value.out.problems:
            value.refuse("a value is required")
        return []
    return [Test(slot.name, any_of=words)]


def _words(slot: Slot, value: Value) -> tuple[str, ...]:
    if slot.closed:
        words = tuple(w for item in value.items() if (w := item.word(slot.values)))
        for item, word in zip(value.items(), words, strict=False):
            if words.count(word) > 1:
                item.refuse("this value is there twice", word)
                break
        return words
    return value.ids(slot.values[0].removeprefix("@"))


def _bounds_or_variable(slot: Slot, value: Value, *, bind: bool) -> list[Test]:
    keys = value.fields()
    if "same" in keys.entries:
        name = keys.text("same")
        keys.done()
        if not bind:
            value.refuse("'same' belongs only in the list under 'when', not in 'any' or 'not'")
            return []
        return [Test(slot.name, bind=name)] if name else []
    if slot.kind != "number":
        value.refuse(f"'{slot.name}' holds words: write one, or a list of them", ", ".join(keys.entries))
        return []
    found = {bound: given.number() for bound in BOUNDS if (given := keys.get(bound))}
    keys.done()
    if not found:
        value.refuse("a bound is required", "", BOUNDS)
    if all(b in found for b in _LOW) or all(b in found for b in _HIGH):
        value.refuse("at most one lower and one upper bound", ", ".join(found))
    return [Test(slot.name, **{bound: number}) for bound, number in found.items()]  # type: ignore[arg-type]


def _check_variables(parts: Iterable[Part], when: Value) -> None:
    slots: dict[str, list[str]] = {}
    for part in parts:
        if isinstance(part, Test) and part.bind:
            slots.setdefault(part.bind, []).append(part.slot)
    for name, used in slots.items():
        if len(used) < 2:
            when.refuse(f"'same: {name}' is there only once: there is nothing for it to match", name)
        elif len({SLOTS[slot].values for slot in used}) > 1:
            when.refuse(f"'same: {name}' compares things that can never be equal", ", ".join(used))


# --- conclusions ---------------------------------------------------------------------------------------------


def _then(value: Value | None) -> Then:
    if value is None:
        return Then()
    keys = value.fields()

    def concluded(kind: Conclusion) -> Mapping[str, str] | tuple[str, ...]:
        if not kind.weighed:
            return keys.ids(kind.key, kind.list)
        found = keys.get(kind.key)
        return found.mapping(lambda v: v.word(STRENGTHS), kind.list) if found else MappingProxyType({})

    then = Then(**{kind.field: concluded(kind) for kind in CONCLUSIONS})  # type: ignore[arg-type]
    if then == Then():
        value.refuse("the rule concludes nothing", "", tuple(sorted(keys.asked)))
    keys.done()
    return then


# --- habits and hunches --------------------------------------------------------------------------------------

MOST_WEIGHT = 10.0
"""The largest weight allowed, either way: with it the odds are 22,000 times as high."""
WEIGHED_APART = ("tried", "made_better", "made_worse", "saw")
"""What is weighed by the chances of remedies and the tables of looks alone, so that what a plan foresees of a step is
what is believed after it: no condition of a hunch."""


def read_habit(name: str, keys: Fields, place: Place) -> Habit:
    """One entry of ``habits``: ``{when: [symptom: haze], begins: {clean-lap: 0.6}}``; none: it always holds."""
    return _weighed(name, keys, place, "begins", ("remedies", "looks"))


def read_hunch(name: str, keys: Fields, place: Place) -> Habit:
    """One entry of ``hunches``: ``{when: [symptom: haze], suspects: {residue: 0.6}}``."""
    return _weighed(name, keys, place, "suspects", ("causes",), apart=WEIGHED_APART)


def _weighed(
    name: str, keys: Fields, place: Place, says: str, lists: Sequence[str], apart: Sequence[str] = ()
) -> Habit:
    tests: list[Test] = []
    if when := keys.get("when"):
        for item in when.items():
            for key, asked in item.fields().each():
                if key in apart:
                    asked.refuse("a hunch rests on what is stated, not on what was done", key)
                tests += tests_of(key, asked, bind=False)
    weights: Mapping[str, float] = MappingProxyType({})
    if value := keys.need(says):
        weights = value.mapping(lambda v: v.number(-MOST_WEIGHT, MOST_WEIGHT), *lists)
    return Habit(name, tuple(tests), weights, place)


# --- tiers ---------------------------------------------------------------------------------------------------


def findings_needed(when: AllOf) -> frozenset[str]:
    """The findings a rule's conditions speak of."""
    out: set[str] = set()
    for part in when.parts:
        if isinstance(part, Test) and part.slot == "finding":
            out.update(part.any_of)
        elif isinstance(part, AnyOf):
            for option in part.options:
                out |= findings_needed(option)
    return frozenset(out)


def tiers(rules: Mapping[str, Rule]) -> tuple[dict[str, int], tuple[str, ...]]:
    """The tier of every rule by id, and the rules that wait for each other in a circle (they get no tier).

    A rule waits for every rule that concludes a finding it speaks of.
    """
    makers: dict[str, list[str]] = {}
    for rule in rules.values():
        for finding in rule.then.findings:
            makers.setdefault(finding, []).append(rule.id)
    waits = {
        rule.id: frozenset(maker for finding in findings_needed(rule.when) for maker in makers.get(finding, ()))
        for rule in rules.values()
    }
    needs = {rule.id: bool(findings_needed(rule.when)) for rule in rules.values()}
    out: dict[str, int] = {}
    left = dict(waits)
    while ready := [name for name, before in left.items() if all(b in out for b in before)]:
        for name in ready:
            before = left.pop(name)
            out[name] = 1 + max((out[b] for b in before), default=0) if needs[name] else 0
    return out, tuple(sorted(left))


def circle_problem(rule: Rule, circle: Iterable[str]) -> Issue:
    """What to say of a rule that waits for itself."""
    others = ", ".join(name for name in circle if name != rule.id) or rule.id
    return Issue(
        f"rules wait for each other's findings in a circle ({others})", rule.place.of(f"rules.{rule.id}"), rule.id
    )
