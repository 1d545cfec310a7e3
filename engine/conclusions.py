"""What the rules concluded from a case: the hand-over from inference to belief and strategy."""

from __future__ import annotations

from dataclasses import dataclass

Value = str | float

OTHER = "other"
"""The cause "none of the above": never ruled out, never pointed to; every weight of evidence is against it."""
OTHER_LABEL = "something else"


@dataclass(frozen=True, slots=True, order=True)
class Fact:
    """One raw fact: a slot of :data:`lapwise.engine.slots.SLOTS` and its value."""

    slot: str
    value: Value

    def __str__(self) -> str:
        return f"{self.slot}: {self.value:g}" if isinstance(self.value, float) else f"{self.slot}: {self.value}"


@dataclass(frozen=True, slots=True)
class Provenance:
    """Where a conclusion comes from: the rule, its sentence, its source."""

    rule: str
    because: str
    source: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """A weight of evidence, natural log against ``other``, from one finding on one cause."""

    finding: str
    """The fact or finding it rests on, as ``slot: value`` text."""
    cause: str
    log_likelihood_ratio: float
    said: Provenance


@dataclass(frozen=True, slots=True)
class RuledOut:
    """A cause that cannot be at work here."""

    cause: str
    said: Provenance


@dataclass(frozen=True, slots=True)
class Veto:
    """A remedy that must not be done (``harm`` true) or that does not apply here (``harm`` false)."""

    remedy: str
    harm: bool
    said: Provenance


@dataclass(frozen=True, slots=True)
class Favour:
    """A remedy made likelier (positive) or less likely to work: natural log of the factor on its odds to fix."""

    remedy: str
    log_likelihood_ratio: float
    said: Provenance


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A look worth doing, or a caution to show."""

    id: str
    said: Provenance


@dataclass(frozen=True, slots=True)
class Firing:
    """One rule that fired and the facts (raw or findings) it fired on."""

    rule: str
    on: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class Conclusions:
    """All that the rules said, each list in a fixed order (by rule id), whatever the order of the facts."""

    findings: tuple[str, ...]
    evidence: tuple[Evidence, ...]
    unexplained: tuple[str, ...]
    """Symptoms that no cause still standing explains; they raise ``other``."""
    ruled_out: tuple[RuledOut, ...]
    vetoes: tuple[Veto, ...]
    favours: tuple[Favour, ...]
    looks: tuple[Suggestion, ...]
    cautions: tuple[Suggestion, ...]
    trace: tuple[Firing, ...]
    first: tuple[Suggestion, ...] = ()
    """Remedies and looks told to come first."""

    @property
    def told_first(self) -> frozenset[str]:
        """The ids of ``first``."""
        return frozenset(suggestion.id for suggestion in self.first)
