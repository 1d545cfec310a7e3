"""The case at hand, and what may be stated of it."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple, cast

from lapwise.engine.case import Case, FacetSetting, Outcome

if TYPE_CHECKING:
    from lapwise.engine.record.model import Step


@dataclass(frozen=True, slots=True)
class OpenCase:
    """The case at hand. ``case_id`` is None until there is something worth keeping.

    ``resumed``: it was still open from last time. ``steps``: the rows of the record, oldest first.
    """

    case: Case
    case_id: str | None = None
    steps: tuple[Step, ...] = ()
    resumed: bool = False

    @property
    def newest(self) -> str | None:
        """Id of its newest row on disk."""
        return self.steps[-1].id if self.steps else self.case_id

    @property
    def last(self) -> Step | None:
        """The newest remedy or look that still counts."""
        counted = [s for s in self.steps if s.kind in ("try", "look") and not s.withdrawn]
        return counted[-1] if counted else None

    @property
    def following(self) -> Case:
        """The next case with the same machine; that is what it was changed to, where such a change fixed this case."""
        case = fresh(self.case)
        last = self.last
        if last is None or last.outcome != "fixed" or last.shown is None:
            return case
        pair = {key: value for key, value in last.shown.get("to", {}).items() if key in ("lap", "compound") and value}
        return replace(case, own_lap=None, **pair) if any(getattr(case, k) != v for k, v in pair.items()) else case


class Hand:
    """One case being worked on: as it is stated now, and as it was last read from disk.

    A write belongs to the hand it was asked for, so that nothing of one case ever comes into another.
    """

    def __init__(self, open_case: OpenCase, *, kept: bool = False) -> None:
        self.open_case = open_case
        self.kept = open_case if kept else None

    @property
    def next_try(self) -> Try:
        """The try to come, of the case as it stands."""
        return Try(self, self.open_case.case.tried)


class Try(NamedTuple):
    """One try of a case: the case it is of, and all that was tried before it."""

    hand: Hand
    tried: tuple[tuple[str, Outcome], ...]


def fresh(case: Case) -> Case:
    """A new case with the same things on the machine: stone, lap, compound, stage and gear."""
    return Case(
        material=case.material,
        lap=case.lap,
        compound=case.compound,
        stage=case.stage,
        prior=case.prior,
        own_lap=case.own_lap,
        facet=FacetSetting(gear=case.facet.gear),
    )


def merged(base: Case, mine: Case, theirs: Case) -> Case:
    """``theirs``, with all that was stated from ``base`` to ``mine``; remedies and looks are those of ``theirs``.

    If anything was stated, what brought no change before may be tried again.
    """
    changed = _stated(base, mine)
    if "facet" in changed:
        changed["facet"] = replace(theirs.facet, **_stated(base.facet, mine.facet))
    if "facts" in changed:
        facts = {key: value for key, value in theirs.facts.items() if key in mine.facts or key not in base.facts}
        facts |= {key: value for key, value in mine.facts.items() if base.facts.get(key) != value}
        changed["facts"] = MappingProxyType(facts)
    return restated(replace(theirs, **changed)) if changed else theirs


def _stated(base: Case | FacetSetting, mine: Case | FacetSetting) -> dict[str, Any]:
    logged = ("tried", "saw", "settled")
    both = {f.name: (getattr(base, f.name), getattr(mine, f.name)) for f in fields(base) if f.name not in logged}
    return {name: now for name, (before, now) in both.items() if now != before}


def worth_keeping(case: Case) -> bool:
    """True once something was said of the trouble, not only of the machine."""
    return worth_ranking(case) or bool(case.corrections)


def worth_ranking(case: Case) -> bool:
    """True once there is a trouble to give advice on; corrections of other facets alone are none."""
    return bool(case.symptoms or case.facts or case.facet.trials or case.tried or case.saw)


def with_fact(case: Case, key: str, value: str | None) -> Case:
    """The case with one thing stated, or left open (None). Keys: those of the conditions and of the machine."""
    if key in ("material", "lap", "compound", "prior"):
        changed: dict[str, Any] = {key: value}
        if key == "lap":
            changed["own_lap"] = None
        return replace(case, **changed)
    if key == "stage":
        return replace(case, stage=value or "polish")
    if key == "facet_part":
        return replace(case, facet=replace(case.facet, part=value))
    facts = {k: v for k, v in case.facts.items() if k != key}
    if value is not None:
        facts[key] = value
    return replace(case, facts=MappingProxyType(facts))


def with_told(case: Case, key: str, value: str) -> Case:
    """The case with one more thing told; keys and values as in :class:`lapwise.engine.words.Heard`."""
    first, _, second = value.partition("=")
    if key == "symptoms":
        return case if value in case.symptoms else replace(case, symptoms=(*case.symptoms, value))
    if key == "tried":
        return case.with_tried(first, cast("Outcome", second))
    if key == "saw":
        return case.with_saw(first, second)
    return case if stated(case, key) == value else with_fact(case, key, value)


def ended(case: Case) -> bool:
    """True if the case came out well and only waits to be followed by another."""
    return bool(case.tried and case.tried[-1][1] == "fixed")


def restated(case: Case) -> Case:
    """The case after something else was stated of it: what brought no change before may be tried again."""
    return replace(case, settled=len(case.tried))


def stated(case: Case, key: str) -> str | None:
    """What the case says of this key."""
    if key in ("material", "lap", "compound", "prior", "stage"):
        value: str | None = getattr(case, key)
        return value
    if key == "facet_part":
        return case.facet.part
    return case.facts.get(key)
