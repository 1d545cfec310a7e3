"""The posterior against pyAgrum's exact inference in a naive Bayes network with the same tables.

pyAgrum (https://pyagrum.gitlab.io) is a reference library for Bayesian networks. Every piece of evidence becomes a
yes/no child of the cause with P(yes | cause) = k · LR, scaled to lie within 0 to 1; every remedy tried a child with
P(no change | cause); every look a child with all its results.
"""

from __future__ import annotations

import math
import random
from typing import Any

import pytest

from lapwise.engine.belief import Observation, posterior
from lapwise.engine.conclusions import Evidence, Provenance

gum: Any = pytest.importorskip(
    "pyagrum",
    reason="check of the posterior against pyAgrum: pyagrum is not installed (pip install --no-deps pyagrum)",
)
SAID = Provenance("made-up", "Made up.", "practice")


def by_agrum(
    priors: dict[str, float], evidence: list[Evidence], looks: list[tuple[list[list[float]], int]]
) -> list[float]:
    """P(cause | evidence) in the order of ``priors``. ``looks``: (P(result | cause) per cause, the result seen)."""
    names = list(priors)
    net = gum.BayesNet()
    cause = net.add(gum.LabelizedVariable("cause", "", names))
    net.cpt(cause).fillWith(list(priors.values()))
    seen: dict[str, int] = {}
    for finding in sorted({e.finding for e in evidence}):
        ratio = dict.fromkeys(names, 1.0)
        for item in evidence:
            if item.finding == finding:
                ratio[item.cause] *= math.exp(item.log_likelihood_ratio)
        k = 0.9 / max(ratio.values())
        child = f"e{len(seen)}"
        net.add(gum.LabelizedVariable(child, "", 2))
        net.addArc("cause", child)
        net.cpt(child).fillWith([x for n in names for x in (1 - k * ratio[n], k * ratio[n])])
        seen[child] = 1
    for table, result in looks:
        child = f"e{len(seen)}"
        net.add(gum.LabelizedVariable(child, "", len(table[0])))
        net.addArc("cause", child)
        net.cpt(child).fillWith([x for row in table for x in row])
        seen[child] = result
    inference = gum.LazyPropagation(net)
    inference.setEvidence(seen)
    inference.makeInference()
    return [float(x) for x in inference.posterior("cause").toarray()]


@pytest.mark.parametrize("seed", range(25))
def test_the_posterior_is_that_of_a_naive_bayes_network(seed: int) -> None:
    rng = random.Random(seed)
    names = [f"cause-{n}" for n in range(rng.randint(2, 40))] + ["other"]
    raw = [rng.uniform(0.05, 4) for _ in names]
    priors = {n: x / math.fsum(raw) for n, x in zip(names, raw, strict=True)}
    evidence = [
        Evidence(f"symptom: {s}", cause, rng.uniform(-3, 3), SAID)
        for s in range(rng.randint(1, 8))
        for cause in rng.sample(names[:-1], rng.randint(1, len(names) - 1))
    ]
    done, looks = [], []
    for number in range(rng.randint(0, 4)):
        fix = {n: rng.uniform(0, 0.98) for n in names[:-1]} | {"other": 0.0}
        done.append(Observation(f"tried: {number}", {n: 1 - p for n, p in fix.items()}, SAID))
        looks.append(([[fix[n], 1 - fix[n]] for n in names], 1))
    for number in range(rng.randint(0, 3)):
        rows = [[rng.uniform(0.02, 1) for _ in range(4)] for _ in names]
        table = [[x / math.fsum(row) for x in row] for row in rows]
        result = rng.randrange(4)
        done.append(Observation(f"saw: {number}", {n: row[result] for n, row in zip(names, table, strict=True)}, SAID))
        looks.append((table, result))
    ours = posterior(priors, evidence, done).p
    theirs = by_agrum(priors, evidence, looks)
    assert list(ours.values()) == pytest.approx(theirs, abs=1e-12)
