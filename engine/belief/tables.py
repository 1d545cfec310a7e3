"""Words to probability tables: how often each cause is met, and what a look shows under each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import fsum

from lapwise.engine.conclusions import OTHER, Conclusions
from lapwise.engine.knowledge.model import Knowledge, Look, Scales


def priors(
    knowledge: Knowledge, conclusions: Conclusions, learned: Mapping[str, float] | None = None
) -> dict[str, float]:
    """P(cause) before the evidence, for every cause not ruled out and ``other``; by cause id, ``other`` last.

    The share of ``other`` is the scale's, whatever is ruled out: causes are ruled out by the setting (this lap, this
    stage), which says nothing of troubles nobody listed. The rest is shared by ``base`` frequency times the
    multiplier ``learned`` for the cause (1 where it has none). With no cause left ``other`` has it all.
    """
    gone = {r.cause for r in conclusions.ruled_out}
    factors = learned or {}
    scales = knowledge.scales
    shares = {
        cause.id: scales.frequency[cause.base] * factors.get(cause.id, 1.0)
        for _, cause in sorted(knowledge.causes.items())
        if cause.id not in gone and cause.id != OTHER
    }
    if any(share < 0 for share in shares.values()):
        raise ValueError("a cause cannot be less than impossible: negative multiplier")
    total = fsum(shares.values())
    if total <= 0:
        return {OTHER: 1.0}
    rest = 1.0 - scales.other_share
    table = {cause: rest * share / total for cause, share in shares.items() if share > 0}
    table[OTHER] = scales.other_share
    return table


def look_row(look: Look, cause: str, scales: Scales) -> dict[str, float]:
    """P(result | cause) of a look, every result, summing to 1. A result with no word is "never".

    A cause that the look does not speak of, and ``other``, show what ``otherwise`` says.
    """
    words = look.otherwise if cause == OTHER else look.says.get(cause, look.otherwise)
    chances = {result: scales.chance[words.get(result, "never")] for result in look.results}
    total = fsum(chances.values())
    return {result: chance / total for result, chance in chances.items()}


def look_table(look: Look, causes: Sequence[str], knowledge: Knowledge) -> tuple[tuple[float, ...], ...]:
    """A row for each result of ``look`` in its order, P(result | cause) for each of ``causes``; columns sum to 1."""
    columns = [look_row(look, cause, knowledge.scales) for cause in causes]
    return tuple(tuple(column[result] for column in columns) for result in look.results)
