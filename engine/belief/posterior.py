"""P(cause | everything so far), exactly, and the balance of weights that makes it up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, fsum, inf, log

from lapwise.engine.belief.done import Observation
from lapwise.engine.conclusions import OTHER, Evidence


@dataclass(frozen=True, slots=True)
class Belief:
    """``p``: cause to probability, ``other`` included, summing to 1, in the order of the priors.

    ``prior_log_odds[c]`` is ln P(c)/P(other) before; ``weights[c]`` what was added, in natural logarithms against
    ``other``; together they are ln P(c | e)/P(other | e). A weight of zero is not listed. ``other`` has none.
    """

    p: Mapping[str, float]
    prior_log_odds: Mapping[str, float]
    weights: Mapping[str, tuple[Evidence, ...]]


def posterior(
    priors: Mapping[str, float], evidence: Sequence[Evidence] = (), done: Sequence[Observation] = ()
) -> Belief:
    """One cause is at work, or ``other``: P(c | e) ∝ P(c) · Π LR(e | c), whatever the order of the evidence.

    ``priors`` sum to 1 and hold ``other`` above 0; a cause not among them counts as ruled out, and evidence on it is
    passed over. The same thing done twice with the same outcome counts once: the second time is hardly news. Raises
    ``ValueError`` for other priors, and for something done that cannot be under ``other``.
    """
    _check(priors)
    listed: dict[str, list[Evidence]] = {cause: [] for cause in priors}
    for item in evidence:
        if item.cause == OTHER:
            raise ValueError(f"{item.finding}: evidence is weighed against 'other', never on it")
        if item.cause in listed:
            listed[item.cause].append(item)
    for thing in {d.finding: d for d in reversed(done)}.values():
        base = thing.of(OTHER)
        if base <= 0:
            raise ValueError(f"{thing.finding}: impossible under 'other'")
        for cause in priors:
            if cause != OTHER:
                likelihood = thing.of(cause)
                log_likelihood_ratio = log(likelihood / base) if likelihood > 0 else -inf
                listed[cause].append(Evidence(thing.finding, cause, log_likelihood_ratio, thing.said))
    weights = {cause: tuple(e for e in items if e.log_likelihood_ratio != 0) for cause, items in listed.items()}
    prior_log_odds = {cause: log(p / priors[OTHER]) if p > 0 else -inf for cause, p in priors.items()}
    # fsum is exact before its one rounding, so the order of the evidence cannot show even in the last digit
    totals = {c: fsum((prior_log_odds[c], *(e.log_likelihood_ratio for e in weights[c]))) for c in priors}
    highest = max(totals.values())
    mass = {c: exp(total - highest) for c, total in totals.items()}
    whole = fsum(mass.values())
    return Belief({c: m / whole for c, m in mass.items()}, prior_log_odds, weights)


def _check(priors: Mapping[str, float]) -> None:
    if priors.get(OTHER, 0.0) <= 0:
        raise ValueError("the priors need a share above 0 for 'other'")
    if any(p < 0 for p in priors.values()) or abs(fsum(priors.values()) - 1.0) > 1e-9:
        raise ValueError("the priors must be chances that sum to 1")
