"""Fits the cues (knowledge/cues.yaml): how likely each symptom is by all that a text says.

A logistic regression for each symptom (scikit-learn's, ``pip install scikit-learn``; ridge, weights that come out small
left out), over the cues of :mod:`lapwise.engine.words.cues`, from the stories that may be learnt from
(``tests/cases/stories``) and, counting little, the plain words that the knowledge gives each symptom.

    python -m tests.benchmarks.fit_words [--strength 1] [--folds 5] [--write]

Prints what is found in each fifth, by weights fitted to the other four.
"""

from __future__ import annotations

import argparse
import json
import random
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.sparse import csr_matrix
from sklearn.linear_model import LogisticRegression
from tests.unit.shipped import knowledge
from tests.unit.test_words_stories import CASES, STORIES

from lapwise.engine.knowledge.layout import laid_out
from lapwise.engine.words.cues import ALWAYS, Cues, Span, likely
from lapwise.engine.words.hear import said_in
from lapwise.engine.words.lexicon import lexicon

MANY = CASES / "stories" / "many.jsonl"
PATH = Path(__file__).parents[2] / "knowledge" / "cues.yaml"
STRENGTH, SEED = 1.0, 20261129
PHRASE_WEIGHT = 0.1
"""What a phrase of the knowledge counts for, against a story."""
MET = 3
"""A cue that is met less often is left out."""
LEAST = 0.1
"""A weight smaller than this is left out."""
SAID = 0.5
"""The chance from which the printed rates take a symptom as said."""
HEAD = """\
# How likely each symptom is by all that a text says: log odds of words, of pairs of words, and of what phrases told.
# Fitted by tests/benchmarks/fit_words.py to invented stories (tests/cases/stories), not written by hand."""


@dataclass(frozen=True)
class Sample:
    """A text. ``said``: its cues; ``told``: the symptoms that it tells."""

    said: Mapping[str, Span]
    told: frozenset[str]
    weight: float


def stories() -> list[Sample]:
    words = lexicon(knowledge())
    learnt = [s for s in STORIES if s["use"].startswith("learn")]
    learnt += [json.loads(line) for line in MANY.read_text(encoding="utf-8").splitlines()]
    return [Sample(said_in(s["text"], knowledge(), words), frozenset(s["case"]["symptoms"]), 1.0) for s in learnt]


def phrases() -> list[Sample]:
    words = lexicon(knowledge())
    said = {(phrase, id_) for id_, s in knowledge().symptoms.items() for phrase in (s.label, *s.also)}
    plain = [(phrase, id_) for phrase, id_ in sorted(said) if "/" not in phrase]
    return [Sample(said_in(p, knowledge(), words), frozenset((id_,)), PHRASE_WEIGHT) for p, id_ in plain]


def fitted(samples: Sequence[Sample], strength: float) -> Cues:
    often = Counter(cue for s in samples for cue in s.said)
    kept = sorted(cue for cue, n in often.items() if n >= MET)
    place = {cue: at for at, cue in enumerate(kept)}
    rows = [(n, place[cue]) for n, s in enumerate(samples) for cue in s.said if cue in place]
    x = csr_matrix((np.ones(len(rows)), tuple(zip(*rows, strict=True))), shape=(len(samples), len(place)))
    weight = np.array([s.weight for s in samples])
    out: dict[str, dict[str, float]] = defaultdict(dict)
    for symptom in knowledge().symptoms:
        told = np.array([symptom in s.told for s in samples])
        if told.any():
            model = LogisticRegression(C=strength, max_iter=500).fit(x, told, weight)
            row = np.round(model.coef_[0], 1)
            out[ALWAYS][symptom] = round(float(model.intercept_[0]), 1)
            for at in np.flatnonzero(np.abs(row) >= LEAST):
                out[kept[at]][symptom] = round(float(row[at]), 1)
    return out


def rated(read: Iterable[tuple[Sample, Cues]]) -> str:
    """Symptoms found among those told; of those said, right; found among the likeliest three."""
    told = found = said = three = 0
    for sample, cues in read:
        by_chance = likely(sample.said, cues)
        got = {f.symptom for f in by_chance[:2] if f.chance >= SAID}
        told, found, said = told + len(sample.told), found + len(sample.told & got), said + len(got)
        three += len(sample.told & {f.symptom for f in by_chance[:3]})
    return f"found {found / told:.1%}, right {found / max(said, 1):.1%}, among three {three / told:.1%}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--strength", type=float, default=STRENGTH, help="inverse of the ridge's")
    parser.add_argument("--folds", type=int, default=5)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    told, named = stories(), phrases()
    random.Random(SEED).shuffle(told)
    print(f"{len(told)} stories, {len(named)} phrases")
    read: list[tuple[Sample, Cues]] = []
    for fold in range(options.folds):
        cues = fitted([*(s for n, s in enumerate(told) if n % options.folds != fold), *named], options.strength)
        read += [(s, cues) for s in told[fold :: options.folds]]
    if read:
        print(f"cross-validated: {rated(read)}", flush=True)
    cues = fitted([*told, *named], options.strength)
    print(f"all: {sum(map(len, cues.values()))} weights of {len(cues)} cues; {rated((s, cues) for s in told)}")
    if options.write:
        PATH.write_text(laid_out("\n".join((HEAD, "cues:", *_entries(cues))) + "\n", PATH.name), encoding="utf-8")


def _entries(cues: Cues) -> Iterable[str]:
    for cue in sorted(cues, key=lambda c: (c != ALWAYS, c)):
        weights = sorted(cues[cue].items(), key=lambda item: (-item[1], item[0]))
        yield f"  {cue!r}: {{{', '.join(f'{symptom}: {weight:g}' for symptom, weight in weights)}}}"


if __name__ == "__main__":
    main()
