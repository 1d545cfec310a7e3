"""Fits the hunches (knowledge/hunches.yaml) to what experts would bet is the matter.

The model is a conditional logit over the causes (:mod:`tests.benchmarks.logit`) that begins from what rules and tables
believe: a situation wants each cause by the share that its expert gave it. What was tried or seen by a look is no
condition (:mod:`lapwise.engine.diagnosis.hunches`).

    python -m tests.benchmarks.fit_hunches [--lasso 0.8] [--write]

Prints how each fifth is answered by weights fitted to the other four, and the panel that is only measured; --write puts
the weights, to a tenth, into the knowledge.
"""

from __future__ import annotations

import argparse
import random
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np
from tests.benchmarks.fit_habits import FOLDS, ROOT, SEED
from tests.benchmarks.logit import ROUNDS, Fit, Sample, conditions, entries
from tests.cases.panel.panel import Shares, bets, case_of, cause_rates, judged_causes
from tests.unit.shipped import knowledge

from lapwise.engine.conclusions import OTHER
from lapwise.engine.diagnosis.session import Session
from lapwise.engine.knowledge.layout import laid_out
from lapwise.engine.knowledge.rules import WEIGHED_APART

LASSO = 0.8
LEAST = 1e-4
"""Below this the chance of a cause counts as this, or no hunch could ever raise it."""
HEAD = """\
# What cutters suspect: where a condition holds, the weight (log odds) that it gives each cause beside what rules and
# tables say. Fitted by tests/benchmarks/fit_hunches.py to blind opinions (practice from memory, tests/cases/panel), not
# written by hand."""

_APART = tuple(f"{slot}=" for slot in WEIGHED_APART)


def samples(told: Mapping[str, tuple[Mapping[str, object], Sequence[Shares]]]) -> list[Sample]:
    """The situations with what is believed without any hunch; each bet counts alike."""
    plain = Session(replace(knowledge(), hunches={}))
    out = []
    for id_, (case, bets_on_it) in told.items():
        prepared = plain.prepare(case_of(case))
        offset = {cause: (float(np.log(max(p, LEAST))),) for cause, p in prepared.belief.p.items()}
        met = tuple(c for c in conditions(prepared.facts) if not any(part.startswith(_APART) for part in c))
        out.append(Sample(id_, offset, met, _mean(bets_on_it, offset), {}, float(len(bets_on_it))))
    return out


def _mean(told: Sequence[Shares], causes: Collection[str]) -> Shares:
    """The mean bet on each of these causes."""
    total: Counter[str] = Counter()
    for shares in told:
        total.update({cause: share / len(told) for cause, share in shares.items() if cause in causes})
    return total


def believed(fit: Fit, held: list[Sample]) -> dict[str, Shares]:
    """P(cause) by situation, with the hunches of this fit."""
    rows = zip(held, fit.shares(held), strict=True)
    return {s.id: dict(zip(fit.moves, map(float, row), strict=True)) for s, row in rows}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--lasso", type=float, default=LASSO)
    parser.add_argument("--folds", type=int, default=FOLDS)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    told = bets()
    taught = samples(told)
    random.Random(SEED).shuffle(taught)
    print(f"{len(taught)} situations")

    def fitted(part: list[Sample]) -> Fit:
        return Fit(options.lasso, np.ones(1), scaled=False, base=OTHER).on(part, ROUNDS).rounded()

    answered: dict[str, Shares] = {}
    for fold in range(options.folds):
        fit = fitted([s for n, s in enumerate(taught) if n % FOLDS != fold])
        answered |= believed(fit, [s for n, s in enumerate(taught) if n % FOLDS == fold])
    if answered:
        print(f"cross-validated: {cause_rates(answered, [{i: shares[-1] for i, (_, shares) in told.items()}])}")
    fit = fitted(taught)
    count = int((fit.weights != 0).sum())
    print(f"all: {count} weights of {int((fit.weights != 0).any(1).sum())} conditions")
    cases, judges = judged_causes()
    held = samples({i: (case, ()) for i, case in cases.items()})
    without = {s.id: {c: float(np.exp(n[0])) for c, n in s.belief.items()} for s in held}
    print(f"measured, without hunches: {cause_rates(without, judges)}")
    print(f"measured, with them: {cause_rates(believed(fit, held), judges)}")
    for judge, *others in (judges, judges[::-1]):
        print(f"an expert against the other: {cause_rates(judge, others)}")
    if options.write:
        path = ROOT / "knowledge" / "hunches.yaml"
        text = "\n".join([HEAD, "hunches:", *entries(fit, "suspects")]) + "\n"
        path.write_text(laid_out(text, path.name), encoding="utf-8")


if __name__ == "__main__":
    main()
