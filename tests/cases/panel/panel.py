"""The panel: what independent experts would do first in everyday situations, and how far an adviser agrees with them.

``situations.yaml`` was drawn by script before anybody answered; each ``expert-N.yaml`` holds one expert's opinions,
given blind (the words of the vocabulary and the situation alone). It is practice from memory, never published. The
files named ``later-``, ``fresh-``, ``natural-``, ``final-``, ``bench-`` and ``round-`` hold more panels, each with
three experts of its own, and ``single-opinions.jsonl`` many more situations that one expert each answered; part of
those were thought up by the expert who answered them. ``more-opinions.jsonl`` holds what further experts, who thought
up none of them, would do first there and would bet is the matter; ``cause-opinions.jsonl`` such bets alone.
``measured-causes-N.jsonl``: what two experts would bet in the situations of ``natural``, ``final`` and ``round``.

The measure, the same for the tool and for an expert held against the others: over every pair of experts, a first move
is accepted if one of the pair names it first or second; a move is unwise if both would avoid it.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations
from math import log
from pathlib import Path
from typing import Any

import yaml

from lapwise.engine.case import Case
from lapwise.engine.diagnosis import begins
from lapwise.engine.diagnosis.model import Diagnosis

FOLDER = Path(__file__).parent
SETS = {
    **{"learn": "", "measure": "", "later": "later-", "fresh": "fresh-", "last": "fresh-"},
    **{"natural": "natural-", "final": "final-", "bench": "bench-", "round": "round-"},
}
"""Use to what its files are called by. ``learn`` and ``later`` (five panels) may be learnt from; the others are
only measured, ``last``, ``final``, ``bench`` and ``round`` at the end. From ``natural`` on they were thought up."""
FIRST = 3


@dataclass(frozen=True, slots=True)
class Opinion:
    """``moves``: remedies and looks, best first; ``avoid``: what would be unwise; ``because``: one sentence."""

    moves: tuple[str, ...]
    avoid: frozenset[str]
    because: str


@dataclass(frozen=True, slots=True)
class Rates:
    """Shares between 0 and 1: the first move accepted, one of the first three accepted, one of them unwise."""

    count: int
    first: float
    three: float
    unwise: float

    def __str__(self) -> str:
        return f"first {self.first:.1%}, three {self.three:.1%}, unwise {self.unwise:.1%} (n = {self.count})"


@cache
def situations(use: str) -> Mapping[str, Mapping[str, Any]]:
    """The situations of this use, by id."""
    entries = yaml.load((FOLDER / f"{SETS[use]}situations.yaml").read_text(encoding="utf-8"), yaml.CSafeLoader)["cases"]
    return {entry["id"]: entry["case"] for entry in entries if entry["use"] == use}


@cache
def experts(use: str = "learn") -> tuple[Mapping[str, Opinion], ...]:
    """Each expert's opinions by situation, those of the same files as ``use``."""
    found = []
    for path in sorted(FOLDER.glob(f"{SETS[use]}expert-*.yaml")):
        answers = yaml.load(path.read_text(encoding="utf-8"), yaml.CSafeLoader)["answers"]
        found.append({k: Opinion(tuple(a["moves"]), frozenset(a["avoid"]), a["because"]) for k, a in answers.items()})
    return tuple(found)


@cache
def single_opinions() -> Mapping[str, tuple[Mapping[str, Any], Opinion]]:
    """Situations that one expert each answered, with the answer, by id: many more of them, only to learn from."""
    return {e["id"]: (e["case"], _opinion(e)) for e in _lines("single-opinions.jsonl")}


@cache
def more_opinions() -> Mapping[str, tuple[Opinion, ...]]:
    """What further experts would do first in part of these situations, by id."""
    found: dict[str, tuple[Opinion, ...]] = {}
    for entry in _lines("more-opinions.jsonl"):
        found[entry["id"]] = (*found.get(entry["id"], ()), _opinion(entry))
    return found


def _opinion(entry: Mapping[str, Any]) -> Opinion:
    return Opinion(tuple(entry["moves"]), frozenset(entry["avoid"]), entry.get("because", ""))


def _lines(name: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (FOLDER / name).read_text(encoding="utf-8").splitlines()]


Shares = Mapping[str, float]
"""Cause to the share that somebody would bet on it; they sum to 1."""


@cache
def bets() -> Mapping[str, tuple[Mapping[str, Any], tuple[Shares, ...]]]:
    """Situations of those to learn from, with what each expert asked would bet is the matter, by id."""
    told = {id_: case for id_, (case, _) in single_opinions().items()}
    told |= situations("learn") | situations("later")
    found: dict[str, tuple[Shares, ...]] = {}
    for name in ("cause-opinions.jsonl", "more-opinions.jsonl", "single-opinions.jsonl"):
        for entry in filter(lambda e: "causes" in e, _lines(name)):
            found[entry["id"]] = (*found.get(entry["id"], ()), _shares(entry))
    return {id_: (told[id_], shares) for id_, shares in found.items()}


@cache
def judged_causes() -> tuple[Mapping[str, Mapping[str, Any]], tuple[Mapping[str, Shares], ...]]:
    """The situations of ``natural``, ``final`` and ``round``, and what two experts each would bet is the matter."""
    judges = ({e["id"]: _shares(e) for e in _lines(f"measured-causes-{n}.jsonl")} for n in (1, 2))
    return situations("natural") | situations("final") | situations("round"), tuple(judges)


def _shares(entry: Mapping[str, Any]) -> Shares:
    return {cause: share / sum(entry["causes"].values()) for cause, share in entry["causes"].items()}


@dataclass(frozen=True, slots=True)
class CauseRates:
    """Shares between 0 and 1: the likeliest cause is the expert's; it is one of the expert's likeliest two; the
    expert's is one of the likeliest three. ``surprise``: cross entropy against the expert's shares, in natural
    logarithms."""

    count: int
    first: float
    two: float
    three: float
    surprise: float

    def __str__(self) -> str:
        rates = (
            f"likeliest {self.first:.1%}, one of the expert's two {self.two:.1%}, expert's in three {self.three:.1%}"
        )
        return f"{rates}, cross entropy {self.surprise:.2f} (n = {self.count})"


LEAST_BET = 1e-3
"""A cause believed less than this counts as this in the cross entropy."""


def cause_rates(believed: Mapping[str, Shares], judges: Sequence[Mapping[str, Shares]]) -> CauseRates:
    """``believed``: P(cause) by situation, held against what each of ``judges`` would bet."""
    first = two = three = 0
    surprise = 0.0
    for id_, p in believed.items():
        ours = sorted(p, key=lambda c: (-p[c], c))
        for judge in judges:
            theirs = sorted(judge[id_], key=lambda c, of=judge[id_]: (-of[c], c))  # type: ignore[misc]
            first += ours[0] == theirs[0]
            two += ours[0] in theirs[:2]
            three += theirs[0] in ours[:3]
            surprise -= sum(q * log(max(p.get(c, 0.0), LEAST_BET)) for c, q in judge[id_].items())
    count = len(believed) * len(judges)
    return CauseRates(len(believed), first / count, two / count, three / count, surprise / count)


def case_of(told: Mapping[str, Any]) -> Case:
    """The case of a situation, as a person would state it."""
    return Case.from_json(told)


def moves_of(answer: Diagnosis) -> tuple[str, ...]:
    """What an answer says to do, in order: the look stands before the remedy it should precede."""
    return tuple(begins.moves_of((step.remedy for step in answer.listed), answer.look))


def rates(answers: Mapping[str, Sequence[str]], judges: Sequence[Mapping[str, Opinion]]) -> Rates:
    """``answers``: moves in order by situation, held against every pair of ``judges``."""
    first = three = unwise = 0
    pairs = list(combinations(judges, 2))
    for key, moves in answers.items():
        for one, two in pairs:
            accepted = {*one[key].moves[:2], *two[key].moves[:2]}
            first += moves[0] in accepted if moves else False
            three += any(m in accepted for m in moves[:FIRST])
            unwise += any(m in one[key].avoid & two[key].avoid for m in moves[:FIRST])
    count = len(answers) * len(pairs)
    return Rates(len(answers), first / count, three / count, unwise / count)


def panel_against_panel(use: str) -> Rates:
    """Each expert held against the other two, together: the ceiling."""
    keys, judges = list(situations(use)), experts(use)
    each = [rates({k: own[k].moves for k in keys}, [other for other in judges if other is not own]) for own in judges]
    share = 1.0 / len(each)
    return Rates(
        len(keys),
        sum(r.first for r in each) * share,
        sum(r.three for r in each) * share,
        sum(r.unwise for r in each) * share,
    )
