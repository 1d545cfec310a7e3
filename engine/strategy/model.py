"""The order problem: causes with their probabilities, remedies, looks, the last resort; and the plan that answers it.

One cause is at work. A remedy shows at once whether it fixed the facet; given the cause its outcome is independent
of everything else. A look shows one of its results and changes nothing. The search ends when the facet is fixed.
All times are minutes at the machine.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Remedy:
    """Something to do: costs ``minutes``, and ``setup_minutes`` once for all remedies of its ``group``.

    ``fix``: P(fixes | cause), one number per cause of the problem. ``worse``: chance that it makes things worse, which
    then costs ``worse_minutes`` on top.
    """

    id: str
    minutes: float
    group: str | None
    setup_minutes: float
    fix: tuple[float, ...]
    worse: float = 0.0
    worse_minutes: float = 0.0


@dataclass(frozen=True, slots=True)
class Look:
    """A test that cures nothing. ``likelihood``: a row per result, P(result | cause) per cause; columns sum to 1."""

    id: str
    minutes: float
    likelihood: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class LastResort:
    """The dear end of the search: may be taken at any time, ends the trouble for sure, and nothing comes after it."""

    id: str
    minutes: float


@dataclass(frozen=True, slots=True)
class DecisionProblem:
    """What is to be put in order. ``p`` need not sum to 1: it is normalised.

    Without a ``last_resort`` a trouble that nothing cures costs ten times all remedies together, so that whatever
    can be cured is cured first. ``paid_groups``: lap changes already made. Raises ``ValueError`` on lengths or
    numbers that do not fit together.
    """

    causes: tuple[str, ...]
    p: tuple[float, ...]
    remedies: tuple[Remedy, ...]
    looks: tuple[Look, ...] = ()
    last_resort: LastResort | None = None
    paid_groups: frozenset[str] = field(default_factory=frozenset)

    def __post_init__(self) -> None:
        n = len(self.causes)
        if n == 0 or len(self.p) != n or min(self.p) < 0 or not math.isfinite(sum(self.p)) or sum(self.p) <= 0:
            raise ValueError("a probability of 0 or more for each cause is required, not all 0")
        for remedy in self.remedies:
            chances = (*remedy.fix, remedy.worse)
            if len(remedy.fix) != n or min(chances) < 0 or max(chances) > 1:
                raise ValueError(f"{remedy.id}: a chance from 0 to 1 for each cause is required")
            if not remedy.minutes > 0 or remedy.setup_minutes < 0 or remedy.worse_minutes < 0:
                raise ValueError(f"{remedy.id}: minutes above 0 are required")
        for look in self.looks:
            if not look.likelihood or any(len(row) != n or min(row) < 0 for row in look.likelihood) or look.minutes < 0:
                raise ValueError(f"{look.id}: a chance of each result for each cause is required")
            if any(abs(sum(column) - 1.0) > 1e-6 for column in zip(*look.likelihood, strict=True)):
                raise ValueError(f"{look.id}: the chances of the results must sum to 1 for each cause")
        if self.last_resort is not None and self.last_resort.minutes <= 0:
            raise ValueError(f"{self.last_resort.id}: minutes above 0 are required")


@dataclass(frozen=True, slots=True)
class Step:
    """One remedy in order. ``chance``: P(fixes here | the earlier ones did nothing). ``cumulative``: fixed by here.

    ``minutes``: with the set-up if it is due here. A step after the last resort is for someone who will not take
    that: its chance is what it would be without it. ``saves``: minutes that the order would cost more without it; told
    only up to where a list ends (:func:`lapwise.engine.strategy.lead.ended`).
    """

    remedy: str
    chance: float
    cumulative: float
    minutes: float
    saves: float = 0.0


@dataclass(frozen=True, slots=True)
class LookValue:
    """A look. ``value_minutes``: expected minutes saved by having it to hand, its own minutes paid, against no look
    at all. ``before``: the 1-based place in the order it should precede."""

    id: str
    minutes: float
    value_minutes: float
    before: int


@dataclass(frozen=True, slots=True)
class RunnerUp:
    """The best order that begins with another remedy: that remedy and the expected minutes it costs more."""

    remedy: str
    extra_minutes: float


@dataclass(frozen=True, slots=True)
class Plan:
    """The answer. ``order``: what to do while each remedy brings no change and no look is taken.

    ``look``: the look to take first, None if none is worth its minutes. ``expected_minutes``: to a good facet,
    looks taken where they pay.
    """

    order: tuple[Step, ...]
    look: LookValue | None
    looks: tuple[LookValue, ...]
    expected_minutes: float
    runner_up: RunnerUp | None

    def before(self, last: LastResort | None) -> tuple[Step, ...]:
        """What is done before the last resort: all of it where there is none."""
        at = next((n for n, s in enumerate(self.order) if last is not None and s.remedy == last.id), len(self.order))
        return self.order[:at]
