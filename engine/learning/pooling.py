"""How trials of near and far groups are put together: pure numbers, no record and no knowledge.

A chance is a Beta: the shipped judgement counts as ``PSEUDO_TRIALS`` trials, and what was logged is added from the
farthest group inwards (other families, the family, the species, the stone itself). On the way in to a nearer group
all that was gathered so far can count for no more than ``KAPPA`` trials: groups differ, so a far one never drowns a
near one. Each trial is counted once, in the nearest group it belongs to.

What a guild's benches found stands between the two: it moves the shipped judgement in the same way, and the outcome
counts for no more than ``KAPPA_BENCH`` trials of the person's own, since benches differ.

The frequency of a cause is learned as a factor on the shipped one: (seen + pseudo) / (expected + pseudo), where
``expected`` sums what the symptoms alone said of the cause and ``seen`` what was believed at the end. With the shipped
share q as ``PSEUDO_CASES``·q it is the Dirichlet mean over q whenever the symptoms say nothing; and logging only cases
of one symptom does not by itself make its causes look frequent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log

PSEUDO_TRIALS = 4.0
KAPPA = 60.0
PSEUDO_CASES = 10.0
KAPPA_CASES = 120.0
"""Judgement. The first and third were set by the simulation bench on worlds of their own, not those it reports on."""
KAPPA_BENCH = 20.0
KAPPA_BENCH_CASES = 120.0
"""What any number of trials, or cases of all causes together, at other benches is worth at this one: judgement, the
middle of what made little difference in simulated guilds."""
FACTOR_LOW, FACTOR_HIGH = 0.02, 50.0
CHANCE_LOW, CHANCE_HIGH = 0.003, 0.997


@dataclass(frozen=True, slots=True)
class GroupCounts:
    """What was logged in one group and in no nearer one: trials and successes, or expected and seen cases."""

    trials: float
    hits: float


@dataclass(frozen=True, slots=True)
class Pooled:
    """A mean and how many trials it is worth."""

    mean: float
    size: float


def disjoint(groups: Sequence[GroupCounts]) -> list[GroupCounts]:
    """Groups from the widest to the nearest, each holding the next, each without the next: nothing counts twice."""
    out = []
    for i, group in enumerate(groups):
        inner = groups[i + 1] if i + 1 < len(groups) else GroupCounts(0.0, 0.0)
        out.append(GroupCounts(max(group.trials - inner.trials, 0.0), group.hits - inner.hits))
    return out


def capped(size: float, kappa: float) -> float:
    """What ``size`` trials elsewhere are worth in a group that differs like ``kappa`` trials' worth of chance."""
    return size * kappa / (size + kappa) if size + kappa > 0 else 0.0


def pooled(mean: float, size: float, groups: Sequence[GroupCounts], kappa: float) -> Pooled:
    """The shipped mean, worth ``size`` trials, with nested groups (widest first) added inwards."""
    layers = disjoint(groups)
    for i, layer in enumerate(layers):
        total = size + layer.trials
        if total > 0:
            mean = (mean * size + layer.hits) / total
        size = total if i + 1 == len(layers) else capped(total, kappa)
    return Pooled(max(mean, 0.0), size)


def _logit(p: float) -> float:
    p = min(max(p, CHANCE_LOW), CHANCE_HIGH)
    return log(p / (1.0 - p))


def elsewhere(found: Pooled, kappa: float) -> Pooled:
    """What other benches found, as this one may begin with it: no more than ``kappa`` trials' worth."""
    return Pooled(found.mean, capped(found.size, kappa))


def chance(
    shipped: float,
    by_material: Sequence[GroupCounts],
    by_lap: Sequence[GroupCounts] = (),
    size: float = PSEUDO_TRIALS,
) -> Pooled:
    """P(a remedy fixes a cause): the stone's groups, then moved by what the lap's groups say beyond the whole.

    Both sequences begin with everything logged. ``size``: what ``shipped`` is worth, in trials. Means lie from
    CHANCE_LOW to CHANCE_HIGH.
    """
    stone = pooled(shipped, size, by_material, KAPPA)
    mean = stone.mean
    if len(by_lap) > 1:
        whole = pooled(shipped, size, by_lap[:1], KAPPA)
        lap = pooled(shipped, size, by_lap, KAPPA)
        shifted = _logit(stone.mean) + _logit(lap.mean) - _logit(whole.mean)
        mean = 1.0 / (1.0 + exp(-shifted))
    return Pooled(min(max(mean, CHANCE_LOW), CHANCE_HIGH), stone.size)


def factor(
    share: float,
    by_material: Sequence[GroupCounts],
    others: Sequence[Sequence[GroupCounts]] = (),
    leaf: GroupCounts | None = None,
    begin: Pooled | None = None,
) -> Pooled:
    """The factor on the shipped frequency of a cause whose shipped share is ``share``.

    ``by_material`` and each of ``others`` (by lap, by compound) are nested groups beginning with everything logged,
    ``leaf`` the cases of just this stone, lap and compound: these are taken out of the others and added last.
    ``begin``: a factor to start from and what it is worth in cases, in place of 1 worth ``PSEUDO_CASES``·share.
    """
    first, start = (begin.mean, begin.size) if begin else (1.0, PSEUDO_CASES * share)
    kappa = KAPPA_CASES * share
    own = leaf or GroupCounts(0.0, 0.0)

    def without(groups: Sequence[GroupCounts]) -> list[GroupCounts]:
        return [GroupCounts(max(g.trials - own.trials, 0.0), max(g.hits - own.hits, 0.0)) for g in groups]

    stone = pooled(first, start, without(by_material), kappa)
    mean, size = stone.mean, stone.size
    for groups in others:
        if len(groups) > 1:
            whole = pooled(first, start, without(groups[:1]), kappa)
            near = pooled(first, start, without(groups), kappa)
            if whole.mean > 0 and near.mean > 0:
                mean *= near.mean / whole.mean
    if leaf is not None:
        size = capped(size, kappa)
        total = size + own.trials
        mean = (mean * size + own.hits) / total if total > 0 else mean
        size = total
    return Pooled(min(max(mean, FACTOR_LOW), FACTOR_HIGH), size)
