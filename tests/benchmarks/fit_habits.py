"""Fits the habits (knowledge/habits.yaml and the ``begin_`` scales) to what the panels would begin with.

The model is a conditional logit over the remedies and looks that stand (:mod:`lapwise.engine.diagnosis.begins`): what
the belief says of a move has a weight of its own, and each condition moves each move. A move is wanted as often as the
opinions of a situation name it first or second; one that they would avoid costs its probability. How it is fitted:
:mod:`tests.benchmarks.logit`.

    python -m tests.benchmarks.fit_habits [--lasso 3.0] [--write]

Prints the rates of each fifth, answered by weights fitted to the other four, and of the panels that are only measured;
--write puts the weights, to a tenth, into the knowledge.
"""

from __future__ import annotations

import argparse
import random
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from tests.benchmarks.logit import ROUNDS, Fit, Sample, conditions, entries
from tests.cases.panel.panel import Opinion, Rates, case_of, experts, more_opinions, rates, single_opinions, situations
from tests.unit.shipped import knowledge, session
from tests.unit.test_cases import ENTRIES, HELD_OUT
from tests.unit.test_rules_reach import DAYS

from lapwise.engine.case import Case
from lapwise.engine.diagnosis.begins import believed_of
from lapwise.engine.knowledge.layout import laid_out

ROOT = Path(__file__).parents[2]
FOLDS, SEED, LASSO = 5, 20261129, 3.0
LEARN, MEASURE = ("learn", "later"), ("measure", "fresh", "natural")
PUBLISHED_WEIGHT = 20.0
"""What a published case that is told plainly counts for, against one opinion on a drawn situation."""
TYPICAL_WEIGHT = 4.0
"""The same for a situation that plainly calls for one remedy."""
THOUGHT_UP = 2.0
"""What an opinion counts for on a situation that an expert thought up, against one on a drawn situation: they are what
comes up at benches, and cutters' troubles are nearer to them."""
THOUGHT_UP_IDS = ("W", "N", "V")
"""How the ids of those begin; those that begin with Q were thought up around a stone and a trouble that were drawn."""
EXPERTS = 3
"""How many answered each situation of a panel."""
VOTES = (0.6, 0.4)
"""How an opinion's vote is shared between its first and second move: either is accepted."""
BELIEF = ("begin_chance", "begin_saving", "begin_told", "begin_order")
"""The scales that are fitted, in the order of :class:`Numbers`."""
START = (0.8, 0.4, 1.0, 0.5)
"""Where their fit starts."""


@dataclass(frozen=True)
class Asked(Sample):
    """A situation that experts answered."""

    opinions: tuple[Opinion, ...] = ()


def sample(id_: str, case: Case, wanted: Mapping[str, float], bad: Mapping[str, float], weight: float) -> Asked:
    prepared = session().prepare(case)
    belief = believed_of(prepared.case, prepared.problem, prepared.by_belief, prepared.conclusions, knowledge())
    stands, avoided = ({move: n for move, n in told.items() if move in belief} for told in (wanted, bad))
    return Asked(id_, belief, conditions(prepared.facts), stands, avoided, weight)


def asked(id_: str, case: Case, opinions: Sequence[Opinion]) -> Asked:
    """Every opinion counts alike, twice where the situation was thought up."""
    wanted: Counter[str] = Counter()
    bad: Counter[str] = Counter()
    for opinion in opinions:
        wanted.update({move: vote / len(opinions) for move, vote in zip(opinion.moves, VOTES, strict=False)})
        bad.update(dict.fromkeys(opinion.avoid, 1 / len(opinions)))
    weight = len(opinions) * (THOUGHT_UP if id_.startswith(THOUGHT_UP_IDS) else 1.0)
    return replace(sample(id_, case, wanted, bad, weight), opinions=tuple(opinions))


def panel_samples(use: str) -> list[Asked]:
    judges = experts(use)
    return [asked(k, case_of(c), [j[k] for j in judges]) for k, c in situations(use).items()]


def single_samples() -> list[Asked]:
    more = more_opinions()
    return [asked(i, case_of(told), (first, *more.get(i, ()))) for i, (told, first) in single_opinions().items()]


def typical_samples() -> list[Asked]:
    """For most remedies a situation, of our own, that plainly calls for it."""
    return [sample(f"typical {r}", told, {r: 1.0}, {}, TYPICAL_WEIGHT) for r, told in DAYS.items()]


def published_samples() -> list[Asked]:
    """The plain texts among the cases: what cured it is what is wanted."""
    out = []
    for entry in (*ENTRIES, *HELD_OUT):
        cures = entry.get("cured_by", [])
        if entry["firm"] and cures:
            wanted, bad = dict.fromkeys(cures, 1 / len(cures)), dict.fromkeys(entry.get("not_advised", []), 1.0)
            out.append(sample(entry["id"], case_of(entry["case"]), wanted, bad, PUBLISHED_WEIGHT))
    return out


def calibration(fit: Fit, samples: Sequence[Asked]) -> str:
    """How the share shown for the first move agrees with the votes that it gets, by fifths of the samples, and the
    Brier score over all moves."""
    shares = fit.shares(samples)
    first = shares.argmax(1)
    votes = np.array([[s.wanted.get(m, 0.0) for m in fit.moves] for s in samples])
    said, got = shares.max(1), votes[np.arange(len(samples)), first]
    order = np.array_split(np.argsort(said), 5)
    rows = ", ".join(f"{said[part].mean():.0%} said {got[part].mean():.0%} got" for part in order)
    return f"{rows}; Brier {((shares - votes) ** 2).sum(1).mean():.3f}"


def rated(answers: Mapping[str, Sequence[str]], samples: Sequence[Asked]) -> Rates:
    """The rates of these answers; where not three experts were asked, held against the newest opinion alone."""
    judged = {s.id: s.opinions if len(s.opinions) == EXPERTS else s.opinions[-1:] * EXPERTS for s in samples}
    judges = [{id_: opinions[n] for id_, opinions in judged.items()} for n in range(EXPERTS)]
    return rates({s.id: answers[s.id] for s in samples}, judges)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--lasso", type=float, default=LASSO)
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    parser.add_argument("--folds", type=int, default=FOLDS)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    panels = [s for use in LEARN for s in panel_samples(use)]
    single = single_samples()
    kept = {use: panel_samples(use) for use in MEASURE}
    told = sum(len(s.opinions) for s in single)
    print(f"{len(panels)} situations of panels, {len(single)} more with {told} opinions")
    published = published_samples()
    print(f"{len(published)} published")
    samples = [*panels, *single, *published, *typical_samples()]
    random.Random(SEED).shuffle(samples)
    answered: dict[str, tuple[str, ...]] = {}
    for fold in range(options.folds):
        fit = (
            Fit(options.lasso, np.array(START))
            .on([s for n, s in enumerate(samples) if n % FOLDS != fold], options.rounds)
            .rounded()
        )
        left = [s for n, s in enumerate(samples) if n % FOLDS == fold]
        answered |= fit.moves_for(left)
    for name, part in (("panels", panels), ("single", single)) if answered else ():
        print(f"cross-validated, {name}: {rated(answered, part)}", flush=True)
    if answered:
        passed = sum(bool({*s.wanted} & {*answered[s.id]}) for s in published if s.id in answered)
        print(f"cross-validated, published: {passed} in three", flush=True)
    fit = Fit(options.lasso, np.array(START)).on(samples, options.rounds).rounded()
    count = int((fit.weights != 0).sum())
    print(f"all: {count} weights of {int((fit.weights != 0).any(1).sum())} conditions, belief {fit.belief}")
    for use, held in kept.items():
        print(f"{use}: {rated(fit.moves_for(held), held)}")
        print(f"{use}, first move: {calibration(fit, held)}")
    if options.write:
        write(fit)


def write(fit: Fit) -> None:
    """Puts the weights into ``knowledge/habits.yaml`` and the belief's into ``knowledge/scales.yaml``."""
    lines = [HEAD, "habits:", *entries(fit, "begins")]
    path = ROOT / "knowledge" / "habits.yaml"
    path.write_text(laid_out("\n".join(lines) + "\n", path.name), encoding="utf-8")
    path = ROOT / "knowledge" / "scales.yaml"
    text = path.read_text(encoding="utf-8")
    for key, number in zip(BELIEF, fit.belief, strict=True):
        text = re.sub(rf"(  {key}:\n.*?number: )[0-9.]+", rf"\g<1>{number:g}", text, count=1, flags=re.S)
    path.write_text(text, encoding="utf-8")


HEAD = """\
# What cutters begin with: where a condition holds, the weight (log odds) that it gives each remedy and look. Fitted by
# tests/benchmarks/fit_habits.py to blind opinions (practice from memory, tests/cases/panel), not written by hand."""


if __name__ == "__main__":
    main()
