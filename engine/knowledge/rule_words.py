"""A rule's conditions and conclusions in words: for the reference, for why and why not, and for what a check finds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from lapwise.engine.knowledge.rule_model import CONCLUSIONS, AnyOf, Condition, Not, Test, Then
from lapwise.engine.slots import SLOTS

_BOUNDS = (("at_least", "at least"), ("above", "above"), ("at_most", "at most"), ("below", "below"))


def condition_words(condition: Condition) -> str:
    """A condition in plain words."""
    if isinstance(condition, Test):
        name = condition.slot.replace("_", " ")
        if condition.any_of:
            return f"{name} is {_or(condition.any_of)}"
        if condition.bind:
            return f"{name} is the same as the others marked “{condition.bind}”"
        unit = f" {SLOTS[condition.slot].unit}".rstrip()
        bounds = ((word, getattr(condition, bound)) for bound, word in _BOUNDS)
        return f"{name} is " + " and ".join(f"{word} {value:g}{unit}" for word, value in bounds if value is not None)
    if isinstance(condition, Not):
        return "not: " + condition_words(condition.test)
    if isinstance(condition, AnyOf):
        return "either " + ", or ".join(condition_words(option) for option in condition.options)
    return " and ".join(condition_words(part) for part in condition.parts)


def _or(words: Iterable[str]) -> str:
    items = list(words)
    return items[0] if len(items) == 1 else ", ".join(items[:-1]) + " or " + items[-1]


def conclusions(then: Then) -> Iterator[tuple[str, str]]:
    """(what it concludes, about what) for each kind of conclusion of a rule."""
    for kind in CONCLUSIONS:
        value = getattr(then, kind.field)
        about = [f"{key} {word}" for key, word in value.items()] if kind.weighed else value
        if about:
            yield kind.title, ", ".join(about)


def says_of(then: Then, target: str) -> str | None:
    """What a rule concludes of one cause or remedy, or None if nothing."""
    for kind in CONCLUSIONS:
        value = getattr(then, kind.field)
        if target in value:
            return kind.says.format(value[target]) if kind.weighed else kind.says
    return None
