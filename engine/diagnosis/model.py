"""The answer to a case, as the screens and the command line show it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from lapwise.engine.case import Case
from lapwise.engine.conclusions import Conclusions
from lapwise.engine.flat import flat


@dataclass(frozen=True, slots=True)
class Reason:
    """One shown weight of evidence, natural log against ``other``."""

    finding: str
    log_likelihood_ratio: float
    because: str
    source: str
    rule: str

    def as_json(self) -> dict[str, Any]:
        """Flat JSON."""
        return flat(self, log_likelihood_ratio="weight")


@dataclass(frozen=True, slots=True)
class CauseView:
    """A cause with its probability. ``prior_log_odds`` plus all weights is ln P(c | e) / P(other | e)."""

    id: str
    label: str
    probability: float
    prior_log_odds: float
    reasons_for: tuple[Reason, ...]
    reasons_against: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One remedy in order. ``chance``: P(fixes here | the earlier ones did nothing); ``cumulative``: fixed by here.

    ``now``: P(fixes here) if it were tried first, so that the figures of different steps compare. ``ends``: it ends the
    work without a cure; its chance is that it is the right end, and none of it is in ``cumulative``.
    """

    remedy: str
    label: str
    to: dict[str, str | None] | None
    amount: dict[str, Any] | None
    chance: float
    cumulative: float
    minutes: float
    because: tuple[str, ...]
    source: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    price: dict[str, Any] | None = None
    """For stepping back: µm to remove and what that does to girdle and meets."""
    fix: Mapping[str, float] = field(default_factory=dict)
    """P(fixes | cause), as the plan was made with."""
    wait_minutes: float = 0.0
    """What passes by itself after the work, in no other figure."""
    wait_for: str = ""
    now: float = 0.0
    ends: bool = False
    saves: float = 0.0
    """Minutes that the order would cost more without it; 0 for what is not worth trying."""
    usual: float = 0.0
    """How likely it is to be an experienced cutter's first move here (:mod:`lapwise.engine.diagnosis.begins`)."""
    part_of: str = ""
    """Of what is not listed: the label of the listed step that does the same too; empty where there is none."""
    one_go: int | None = None
    """The 1-based place of an earlier step that is done in one go with it."""
    beside: tuple[str, ...] = ()
    """Labels of what is not listed, costs nothing, and may be done with the first."""
    how: tuple[str, ...] = ()
    """The steps of doing it, on this lap with this compound."""
    then: tuple[str, ...] = ()
    """Labels of what is done straight after it here."""


@dataclass(frozen=True, slots=True)
class LookView:
    """A look: its minutes and those it saves on average; ``before``: 1-based place in the plan it should precede."""

    id: str
    label: str
    minutes: float
    value_minutes: float
    before: int
    because: str = ""


@dataclass(frozen=True, slots=True)
class CautionView:
    """A caution as shown."""

    id: str
    text: str


TEMPTING = 0.02
"""What must not be done is said unasked where it would have this chance to cure."""


@dataclass(frozen=True, slots=True)
class VetoView:
    """A remedy that must not be done here. ``chance``: that it would cure, were it harmless."""

    remedy: str
    label: str
    because: str
    rule: str
    chance: float


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A remedy that is not in the plan, and why. ``kind``: veto, not-applicable, tried or no-pair. Of a veto ``rule``
    and ``fix``, cause to the chance that it would cure it, were it harmless."""

    remedy: str
    kind: str
    because: str
    rule: str = ""
    fix: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class RunnerUp:
    """The best order that begins with another remedy, and what it costs more in expected minutes."""

    remedy: str
    label: str
    extra_minutes: float


@dataclass(frozen=True, slots=True)
class UnknownView:
    """A fact that is not known and would move the ranking, with the minutes it would save on average."""

    key: str
    question: str
    value_minutes: float


Lead = Literal["helped", "in-the-way", "usual", "likely", "quick", "set-up", "opens"]
"""Why a remedy stands first: it helped before; it cures what plainly hides the rest; it is the usual
first move; nothing is likelier; the likelier
ones take longer; its set-up serves others; what it shows makes the rest shorter."""


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """The whole answer. ``causes`` include ``other`` and sum to 1, likeliest first.

    ``plan``: every remedy with any chance, in order. The first ``worth`` of it are worth trying; each of the rest saves
    less than a look or a question would have to. ``lead``: why the first stands first.
    """

    case: Case
    cautions: tuple[CautionView, ...]
    causes: tuple[CauseView, ...]
    plan: tuple[PlanStep, ...]
    look: LookView | None
    looks: tuple[LookView, ...]
    vetoed: tuple[VetoView, ...]
    """All that must not be done, the most tempting first."""
    expected_minutes: float
    runner_up: RunnerUp | None
    unknown_that_would_help: tuple[UnknownView, ...]
    unexplained: tuple[str, ...]
    """Symptoms that fit no known cause (a second fault is common)."""
    stop: str | None
    """Set when advice stops (fumes, trouble breathing, nothing left that is safe): what to do instead."""
    disagreements: tuple[str, ...]
    """Where published experts disagree on what stands in the plan."""
    record: dict[str, Any] | None
    """What the person's record says of this material, lap and compound."""
    conclusions: Conclusions
    knowledge_digest: str = ""
    notes: tuple[str, ...] = field(default=())
    gone_worse: tuple[str, ...] = ()
    """Tries that made it worse: what to do about each, the latest first."""
    remains: tuple[str, ...] = ()
    """What is there already and stays when the cause is cured: what takes it away; none where the first does so."""
    replaced: tuple[str, ...] = ()
    """Own entries that touch this answer and stand where something shipped protects."""
    began: str = ""
    """What to do about a change after which it began."""
    not_as_named: str = ""
    """That the stone was found to be something else than stated."""
    left_out: tuple[LeftOut, ...] = ()
    """What is not in the plan, whatever the reason; what must not be done stands in ``vetoed`` too."""
    worth: int = 0
    lead: Lead | None = None

    @property
    def listed(self) -> tuple[PlanStep, ...]:
        """What is worth trying."""
        return self.plan[: self.worth]

    @property
    def tempting(self) -> tuple[VetoView, ...]:
        """What must not be done though it might cure: what a person may well think of."""
        return tuple(veto for veto in self.vetoed if veto.chance >= TEMPTING)

    @property
    def rest(self) -> tuple[PlanStep, ...]:
        """What is not, with what is known now."""
        return self.plan[self.worth :]
