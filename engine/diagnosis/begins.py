"""What to begin with: what the belief says of each move, and what cutters do where the same is seen.

A conditional logit (McFadden 1974): each remedy and look has log odds of being what an experienced cutter would do
first, a sum of its chance, of what a look saves, of what the rules put first, and of the habits that hold
(``knowledge/habits.yaml``). Chance alone leaves out what no table says: what is reversible, what spoils the
next step, what everybody tries first because it so often is that. The order by belief takes over from habit as
what the record and a guild taught grows.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from operator import mul
from typing import NamedTuple

from lapwise.engine.case import Case
from lapwise.engine.conclusions import Conclusions, Fact
from lapwise.engine.diagnosis.habits import NOTHING, Habits, weighed
from lapwise.engine.diagnosis.listing import Chances, open_looks, repeats
from lapwise.engine.diagnosis.model import LookView
from lapwise.engine.diagnosis.options import Option, helped
from lapwise.engine.knowledge.model import Knowledge, Scales
from lapwise.engine.strategy import DecisionProblem, LookValue, Plan

LEAST_CHANCE = 0.003
"""Added to every chance, so that none has a logarithm without end."""
MOST_SAVED = 20.0
"""Minutes: what a look saves beyond them makes it no likelier to be taken first."""
LONG_MINUTES = 20.0
"""What takes as long is worth the few minutes of a look first. Judgement."""
LEADING = 3
"""Moves that stand in front of the order by belief at most."""
LEAST_SHARE = 0.04
"""A move less likely than this to be the first stays where the belief puts it."""
OWN_VOTES = (3.0, 2.0, 1.0)
"""How the order by belief shares its vote among its first moves; judgement."""


class Beginning(NamedTuple):
    """A remedy or look. ``share``: how likely it is to be the first move."""

    move: str
    share: float


class Numbers(NamedTuple):
    """What the belief says of a move, each with a scale of its own (``begin_``): the logarithm of its chance; tens of
    minutes that a look saves; 1 if it is told to come first; and one over its place in the order by belief alone."""

    chance: float
    saving: float
    told: float
    order: float


def believed(
    problem: DecisionProblem, order: Sequence[str], looks: Mapping[str, float], told: Collection[str]
) -> dict[str, Numbers]:
    """What the belief says of each move. ``order``: the remedies by belief alone. ``looks``: look to the minutes it
    saves. ``told``: what is told to come first."""
    places = {remedy: 1.0 / place for place, remedy in enumerate(order, 1)}
    total = sum(problem.p)
    out = {}
    for r in problem.remedies:
        chance = math.log(sum(map(mul, r.fix, problem.p)) / total + LEAST_CHANCE)
        out[r.id] = Numbers(chance, 0.0, float(r.id in told), places.get(r.id, 0.0))
    for look, saves in looks.items():
        out[look] = Numbers(0.0, min(max(saves, 0.0), MOST_SAVED) / 10.0, float(look in told), 0.0)
    return out


def believed_of(
    case: Case, problem: DecisionProblem, by_belief: Plan, conclusions: Conclusions, knowledge: Knowledge
) -> dict[str, Numbers]:
    """:func:`believed` of a case: all looks not taken yet; told is what a rule puts first, and what helped before."""
    saved = {v.id: v.value_minutes for v in by_belief.looks}
    looks = {look.id: saved.get(look.id, 0.0) for look in open_looks(case, knowledge)}
    told = conclusions.told_first.union(helped(case, knowledge))
    return believed(problem, [s.remedy for s in by_belief.order], looks, told)


def beginnings(
    belief: Mapping[str, Numbers],
    facts: Iterable[Fact],
    habits: Habits,
    scales: Scales,
    own_order: Sequence[str],
    evidence: float,
) -> tuple[Beginning, ...]:
    """Every move that the belief speaks of (:func:`believed`), likeliest first.

    ``own_order``: the moves as the belief alone would have them; it takes over from habit as ``evidence`` grows, the
    tries on this stone behind what record and guild taught.
    """
    weights = weighed(habits.holding(facts))
    scale = Numbers(scales.begin_chance, scales.begin_saving, scales.begin_told, scales.begin_order)
    scores = {
        move: sum(map(mul, scale, numbers)) + weights.get(move, NOTHING).total for move, numbers in belief.items()
    }
    top = max(scores.values(), default=0.0)
    odds = {move: math.exp(score - top) for move, score in scores.items()}
    by_habit, total = scales.begin_tries / (scales.begin_tries + evidence), sum(odds.values())
    shares = {move: by_habit * o / total for move, o in odds.items()}
    own = dict(zip((move for move in own_order if move in shares), OWN_VOTES, strict=False))
    for move, vote in own.items():
        shares[move] += (1.0 - by_habit) * vote / sum(own.values())
    ordered = sorted(shares, key=lambda move: (-shares[move], move))
    return tuple(Beginning(move, shares[move]) for move in ordered)


def moves_of(remedies: Iterable[str], look: LookValue | LookView | None) -> list[str]:
    """The moves of an order: its remedies, and its look before the one that it should precede."""
    moves = list(remedies)
    if look is not None:
        moves.insert(look.before - 1, look.id)
    return moves


def in_front(
    own: Sequence[str],
    begins: Iterable[Beginning],
    asked: Collection[str],
    options: Mapping[str, Option],
    chances: Chances,
    knowledge: Knowledge,
) -> list[str]:
    """The moves in front of the order: what the person's ``own`` rules put first, then the likeliest beginnings, one
    look among them; without fillers and what an earlier one does too. ``asked``: looks that a rule puts
    first and that are worth it: the likeliest stands before anything heavy."""
    likely = [b.move for b in begins if b.share >= LEAST_SHARE and b.move not in own]
    look = next((move for move in likely if move in knowledge.looks), None)
    front = [*own, *(move for move in likely if move == look or move in knowledge.remedies)][:LEADING]
    again = repeats(front, options, knowledge)
    front = [move for move in front if move not in again and not chances.idle(move)]
    return looked_first(front, next((b.move for b in begins if b.move in asked), None), knowledge)


def looked_first(front: Sequence[str], asked: str | None, knowledge: Knowledge) -> list[str]:
    """``front`` with the look that a rule asks for before the first remedy that takes long; then no other look stays.
    Without such a remedy, or where the look stands before it, ``front`` as it is."""
    known = (knowledge.remedies.get(move) for move in front)
    heavy = next((n for n, r in enumerate(known) if r and r.minutes >= LONG_MINUTES), len(front))
    if asked is None or heavy == len(front) or asked in front[:heavy]:
        return list(front)
    cures = [move for move in front if move in knowledge.remedies]
    at = cures.index(front[heavy])
    return [*cures[:at], asked, *cures[at:]][:LEADING]
