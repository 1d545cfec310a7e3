"""Rules, habits and hunches as typed and frozen structures: what their conditions test, and what they conclude."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from lapwise.engine.knowledge.place import Place


@dataclass(frozen=True, slots=True)
class Test:
    """One slot against what is required. Exactly one of ``any_of``, a bound, or ``bind`` is set.

    ``any_of``: the slot holds one of these. ``at_least``/``above``/``at_most``/``below``: bounds on a number.
    ``bind``: a variable; all tests of the rule that bind the same name must hold the same value.
    """

    slot: str
    any_of: tuple[str, ...] = ()
    at_least: float | None = None
    above: float | None = None
    at_most: float | None = None
    below: float | None = None
    bind: str = ""


@dataclass(frozen=True, slots=True)
class AnyOf:
    """At least one of these conditions holds (each an And of its parts)."""

    options: tuple[AllOf, ...]


@dataclass(frozen=True, slots=True)
class Not:
    """None of it holds, and what it speaks of is known (in vetoes and cautions: or is not known)."""

    test: Test


@dataclass(frozen=True, slots=True)
class AllOf:
    """All of these hold."""

    parts: tuple[Test | AnyOf | Not, ...]


Condition = Test | AnyOf | Not | AllOf


@dataclass(frozen=True, slots=True)
class Then:
    """What a rule concludes. Words are those of the scales."""

    findings: tuple[str, ...] = ()
    evidence_for: Mapping[str, str] = field(default_factory=dict)
    evidence_against: Mapping[str, str] = field(default_factory=dict)
    rules_out: tuple[str, ...] = ()
    vetoes: tuple[str, ...] = ()
    not_applicable: tuple[str, ...] = ()
    favours: Mapping[str, str] = field(default_factory=dict)
    disfavours: Mapping[str, str] = field(default_factory=dict)
    looks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    first: tuple[str, ...] = ()
    """Remedies told to come first, since the fault they set right is plainly there. That counts much in a shipped rule;
    in one of the person's own it decides."""
    looks_first: tuple[str, ...] = ()
    """Looks told to come first."""


@dataclass(frozen=True, slots=True)
class Conclusion:
    """A kind of conclusion. ``field``: of :class:`Then`; ``key``: in the files; ``list``: whose ids it names.

    ``title``: in a list of conclusions; ``says``: of one thing, with room for how strongly where that is said.
    """

    field: str
    key: str
    list: str
    title: str
    says: str

    @property
    def weighed(self) -> bool:
        """Whether it says how strongly."""
        return "{}" in self.says


CONCLUSIONS = (
    Conclusion("findings", "finding", "findings", "finding", "finds it"),
    Conclusion("evidence_for", "for", "causes", "for", "speaks {} for it"),
    Conclusion("evidence_against", "against", "causes", "against", "speaks {} against it"),
    Conclusion("rules_out", "rules_out", "causes", "rules out", "rules it out"),
    Conclusion("vetoes", "veto", "remedies", "forbids", "forbids it"),
    Conclusion("not_applicable", "not_applicable", "remedies", "does not apply", "says it does not apply"),
    Conclusion("favours", "favours", "remedies", "makes likelier to work", "makes it {} likelier to work"),
    Conclusion("disfavours", "disfavours", "remedies", "makes less likely to work", "makes it {} less likely to work"),
    Conclusion("looks", "look", "looks", "worth a look", "asks for it"),
    Conclusion("cautions", "caution", "cautions", "caution", "warns of it"),
    Conclusion("first", "first", "remedies", "comes first", "puts it first"),
    Conclusion("looks_first", "look_first", "looks", "look that comes first", "asks for it before all else"),
)
_CAUTIOUS = frozenset({"veto", "caution", "first", "look_first"})


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule. ``tier``: 0 if it rests on raw facts only, else one more than the highest finding it needs."""

    id: str
    theme: str
    when: AllOf
    then: Then
    because: str
    source: str
    limits: str
    tier: int
    place: Place

    @property
    def cautious(self) -> bool:
        """A rule that only warns, forbids or says what comes first: in its ``not`` an unknown counts as the dangerous
        case, or as nothing that speaks against beginning so."""
        said = {c.key for c in CONCLUSIONS if getattr(self.then, c.field)}
        return bool(said) and said <= _CAUTIOUS


@dataclass(frozen=True, slots=True)
class Habit:
    """Where all of ``tests`` hold (none: always), the odds of each id are multiplied by exp(weight): of a remedy or
    look, to be what a cutter begins with; of a cause (then it is a hunch), to be what is the matter."""

    id: str
    tests: tuple[Test, ...]
    weights: Mapping[str, float]
    place: Place
