"""Habits and hunches: which of them hold for the facts of a case, what they weigh, and the signs in words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from lapwise.engine.conclusions import Fact, Value
from lapwise.engine.inference.evaluator import WorkingMemory
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.rule_model import Habit
from lapwise.engine.slots import SLOTS
from lapwise.engine.wording import listing, plain_id, small

LEAST_SIGN = 0.25
"""What weighs less is not named as a sign."""
MOST_SIGNS = 2


class Holding(NamedTuple):
    """A habit that holds, with the facts that meet it."""

    habit: Habit
    met: tuple[Fact, ...]


class Habits:
    """The habits or hunches of one knowledge base, each found by the first thing it asks for."""

    def __init__(self, habits: Iterable[Habit]) -> None:
        self._always: list[Habit] = []
        self._by_value: dict[tuple[str, Value], list[Habit]] = defaultdict(list)
        self._by_number: dict[str, list[Habit]] = defaultdict(list)
        for habit in habits:
            if not habit.tests:
                self._always.append(habit)
            for test in habit.tests[:1]:
                for value in test.any_of:
                    self._by_value[test.slot, value].append(habit)
                if not test.any_of:
                    self._by_number[test.slot].append(habit)

    def holding(self, facts: Iterable[Fact]) -> list[Holding]:
        """Those that hold for these facts."""
        board = WorkingMemory(facts)
        found = {habit.id: Holding(habit, ()) for habit in self._always}
        for fact in facts:
            known = self._by_number.get(fact.slot, ()) if isinstance(fact.value, float) else ()
            for habit in known or self._by_value.get((fact.slot, fact.value), ()):
                met = [board.meeting(test) for test in habit.tests]
                if all(met):
                    found[habit.id] = Holding(habit, tuple(first for first, *_ in met))
        return list(found.values())


@dataclass(slots=True)
class Weighed:
    """What habits weigh together for one move or cause, and how much of it rests on each fact: each of a habit's facts
    has an equal part."""

    total: float = 0.0
    by_fact: dict[Fact, float] = field(default_factory=lambda: defaultdict(float))

    def signs(self, sign: float = 1.0) -> tuple[Fact, ...]:
        """The facts that speak most for it, strongest first; with ``sign`` -1 against it."""
        spoken = sorted((-sign * w, str(f), f) for f, w in self.by_fact.items() if sign * w >= LEAST_SIGN)
        return tuple(fact for _, _, fact in spoken[:MOST_SIGNS])


NOTHING = Weighed()
"""Of a move or cause that no habit speaks of."""


def weighed(holding: Iterable[Holding]) -> Mapping[str, Weighed]:
    """What those that hold weigh, by move or cause."""
    out: dict[str, Weighed] = defaultdict(Weighed)
    for habit, met in holding:
        for id_, weight in habit.weights.items():
            found = out[id_]
            found.total += weight
            for fact in met:
                found.by_fact[fact] += weight / len(met)
    return out


def signs_in_words(signs: Sequence[Fact], knowledge: Knowledge) -> str:
    """The signs as a list to stand behind "with", a thing named twice once; empty without signs."""
    said = (_sign(fact, knowledge) for fact in signs)
    return listing({words.removeprefix("a "): words for words in said}.values())


_TRIES = {
    "tried": "“{}” having brought no change",
    "made_worse": "“{}” having made it worse",
    "made_better": "“{}” having helped",
}
_HARDNESS = (
    (5.5, "so soft a stone"),
    (7.0, "a stone softer than quartz"),
    (8.0, "a stone about as hard as quartz"),
    (8.8, "a hard stone"),
)
_HARDEST = "a very hard stone"
_VALUES: Mapping[str, Mapping[str, str]] = {
    "pair": {
        "preferred": "the pair that suits this stone best",
        "listed": "a pair that suits this stone",
        "unlisted": "a pair not known for this stone",
        "avoided": "a pair to avoid on this stone",
        "disputed": "a pair in dispute for this stone",
    },
    "compound_kind": {
        "oxide": "an oxide on the lap",
        "carbide": "silicon carbide on the lap",
        "diamond": "diamond on the lap",
        "none": "nothing put on the lap",
    },
    "stage": {"cut": "a stone still being cut", "prepolish": "a pre-polish", "polish": "the polish"},
    "heat": {"high": "a stone that takes heat badly", "extreme": "a stone that heat soon ruins"},
    "lap_trait": {"film": "a film", "polymer": "a plastic lap", "wood": "a wooden lap", "soft-body": "a soft lap"}
    | {"hard-body": "a hard lap"},
    "facet_part": {"table": "the table", "girdle": "the girdle"}
    | {"crown": "a crown facet", "pavilion": "a pavilion facet"},
    "extent": {
        "one-facet": "one facet alone",
        "some-facets": "some of the facets",
        "one-side-of-stone": "one side of the stone",
        "all-facets": "every facet",
    },
    "onset": {
        "from-the-start": "trouble from the start",
        "gradual": "trouble that came on slowly",
        "sudden": "trouble that came on suddenly",
        "after-change": "trouble right after a change",
    },
    "wetness": {"dry": "a dry lap", "damp": "a damp lap", "wet": "a wet lap", "flooded": "a flooded lap"},
    "speed": {"slow": "a slow lap", "medium": "a middling speed", "fast": "a fast lap"},
    "pressure": {"light": "a light hand", "medium": "a steady hand", "heavy": "a heavy hand"},
    "lap_surface": {
        "fresh": "a fresh lap face",
        "worked-in": "a lap well worked in",
        "smooth": "a smooth lap face",
        "glazed": "a glazed lap",
        "caked": "a caked lap",
        "grooved": "a grooved lap",
        "torn": "a torn lap face",
        "bubbled": "bubbles under the film",
        "wrinkled": "a wrinkled film",
        "worn-out": "a lap worn out",
    },
    "lap_shared": {"yes": "a lap that has carried something else", "no": "a lap kept for one compound"},
    "worked_before": {
        "same-material": "a pair that has done well on this stone",
        "other-material": "a pair that has done well on other stones",
        "never": "a pair that has never worked yet",
    },
    "since": {
        "new-lap": "a new lap",
        "lap-change": "another lap",
        "new-stone": "another stone",
        "recharged": "a fresh charge",
        "transfer": "the stone just transferred",
        "long-break": "a long break before it",
        "none": "nothing changed before it",
    },
    "facet_size": {"small": "a small facet", "medium": "a facet of middling size", "large": "a large facet"},
    "scratch_form": {
        "dotted": "dotted scratches",
        "continuous": "unbroken scratches",
        "crooked": "crooked scratches",
        "curved": "curved scratches",
    },
    "scratch_place": {
        "whole-facet": "scratches all over the facet",
        "one-zone-of-lap": "scratches from one ring of the lap",
        "edges": "scratches along the edges",
        "centre": "scratches in the middle",
        "tip-end": "scratches at the tip end",
        "dop-end": "scratches at the dop end",
        "one-side": "scratches on one side",
    },
    "polished_before": {"yes": "a face that was polished before", "no": "a face never polished before"},
    "carrier": {"water": "water on the lap", "oil": "oil on the lap", "spray": "a sprayed lap", "none": "no liquid"},
    "included": {"yes": "flaws in the stone", "no": "a clean stone"},
    "in_setting": {"yes": "a stone in its setting", "no": "a loose stone"},
    "c_axis": {"along-facet": "the crystal axis along the facet", "across-facet": "the crystal axis across the facet"},
    "cleavage_near": {"yes": "a facet near a cleavage", "no": "a facet away from any cleavage"},
    "prior_clean": {"yes": "a clean pre-polish", "no": "a pre-polish that was not clean"},
    "step_verdict": {
        "polish-on": "a last step fine enough to polish from",
        "back-one": "a last step too coarse to polish from",
        "back-two": "a last step far too coarse to polish from",
    },
    "contact": {"even": "an even facet map", "sloped": "a facet map that slopes", "patchy": "a patchy facet map"},
    "contact_slope": {"side-to-side": "one side dull", "tip-to-dop": "one end dull", "both": "one corner dull"},
    "contact_centre": {"centre": "the middle dull", "edges": "the edges dull"},
    "correction_size": {"fine": "a small tilt", "large": "a large tilt"},
    "stone_pattern": {"constant": "every facet off alike", "one-wave": "facets off in a wave round the stone"},
}
_FORMS = {
    "material": "{}",
    "symptom": "“{}”",
    "prior": "{} before",
    "lap_trait": "a {} lap",
    "cleavage": "{} cleavage",
    "directional": "{} directional hardness",
}
"""How a value is put that has no words of its own and does not stand behind the name of its slot."""


def _sign(fact: Fact, knowledge: Knowledge) -> str:
    """One sign in words, to stand in a list."""
    slot, value = fact.slot, fact.value
    if isinstance(value, float):
        if slot == "mohs":
            return next((words for below, words in _HARDNESS if value < below), _HARDEST)
        return f"{slot.capitalize()} {value:g}"
    if slot in _TRIES:
        return _TRIES[slot].format(small(knowledge.label(value)))
    if slot == "saw":
        look, _, result = value.partition("=")
        return f"“{small(knowledge.looks[look].result_labels.get(result, plain_id(result)))}”"
    if value in _VALUES.get(slot, {}):
        return _VALUES[slot][value]
    named = SLOTS[slot].values[0].startswith("@") and slot != "lap_trait"
    words = small(knowledge.label(value)) if named else plain_id(value)
    return _FORMS.get(slot, "{}" if named else plain_id(slot) + " {}").format(words)
