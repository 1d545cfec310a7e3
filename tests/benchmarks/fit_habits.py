"""Fits the habits (knowledge/habits.yaml and the ``begin_`` scales) to what the panels would begin with.

The model is a conditional logit over the remedies and looks that stand (:mod:`lapwise.engine.diagnosis.begins`): what
the belief says of a move has a weight of its own, and each condition moves each move. A move is wanted as often as the
opinions of a situation name it first or second; one that they would avoid costs its probability. Each weight pays its
size (lasso, so that most are nothing) and a little its square; the minimum is found by FISTA (Beck and Teboulle 2009,
from memory) with restarts. Conditions: what is seen or known, alone, and with each symptom; the stone with what is on
the lap; lap and compound together, and with each symptom; what was tried with what is on the machine or was seen.

    python -m tests.benchmarks.fit_habits [--lasso 2.5] [--write]

Prints the rates of each fifth, answered by weights fitted to the other four, and of the panels that are only measured;
--write puts the weights, to a tenth, into the knowledge.
"""

from __future__ import annotations

import argparse
import random
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from tests.cases.panel.panel import Opinion, Rates, case_of, experts, rates, single_opinions, situations
from tests.unit.shipped import knowledge, session
from tests.unit.test_cases import ENTRIES, HELD_OUT
from tests.unit.test_rules_reach import DAYS

from lapwise.engine.case import Case
from lapwise.engine.conclusions import Fact
from lapwise.engine.diagnosis.begins import Numbers, believed_of
from lapwise.engine.knowledge.layout import laid_out
from lapwise.engine.slots import SLOTS

ROOT = Path(__file__).parents[2]
FOLDS, SEED, LASSO = 5, 20261129, 2.5
LEARN, MEASURE = ("learn", "later"), ("measure", "fresh", "natural")
PUBLISHED_WEIGHT = 10.0
"""The same for a published case that is told plainly."""
TYPICAL_WEIGHT = 4.0
"""The same for a situation that plainly calls for one remedy."""
THOUGHT_UP = 2.0
"""What a situation counts for that an expert thought up, against one that was drawn: they are what comes up at benches,
and cutters' troubles are nearer to them."""
THOUGHT_UP_IDS = ("W", "N")
"""How the ids of those begin."""
PANEL_WEIGHT = 2.0
"""What a situation that three experts answered counts for, against one that a single expert answered."""
VOTES = (0.6, 0.4)
"""How an opinion's vote is shared between its first and second move: either is accepted."""
UNWISE = 4.0
"""What the share of a move costs for each opinion that would avoid it, against one that wants it: with less, more that
is unwise is named and no more of the first moves are right."""
MET = 5
"""A condition that is met less often is left out."""
SQUARE, BIAS_SQUARE = 0.2, 0.3
ROUNDS = 200
MOHS = (5.5, 7.0, 8.0, 8.8)
"""Where hardness is cut into spans."""
NEVER = frozenset(
    (
        *("recorded_pair", "own_lap_state", "finding"),  # the record and the rules speak for themselves
        *("speed_rpm", "facet_mm", "cleavage_angle", "prior_kind", "compound_fit", "lap_fit"),  # said by another word
        *("acid", "toughness", "trait", "prior_lap", "prior_lap_trait"),  # nobody begins elsewhere because of it
    )
)
"""Slots that are no condition, beside all numbers but the hardness."""
TELLING = {
    "stage": ("cut", "prepolish"),
    "cleavage": ("good", "perfect"),
    "directional": ("marked", "extreme"),
    "heat": ("high", "extreme"),
    "lap_trait": (
        *("metal", "polymer", "film", "ceramic", "wax", "wood", "soft-body", "hard-body"),
        *("bonded-diamond", "bonded-oxide"),
    ),
}
"""Of these slots only what a cutter would give as a reason; that a stone does not cleave stands for what it is."""
ALONE = ("facet_part=",)
"""Never together with a symptom."""
TRIED = ("tried=", "made_worse=", "made_better=")
BESIDE: Mapping[tuple[str, ...], tuple[str, ...]] = {
    ("material=",): ("compound_kind=", "compound=", "pair="),
    TRIED: ("compound_kind=", "lap_trait=", "pair=", "saw=", *TRIED),
}
"""What is seen or known to what counts together with it."""
BELIEF = ("begin_chance", "begin_saving", "begin_told", "begin_order")
"""The scales that are fitted, in the order of :class:`Numbers`."""
Floats = NDArray[np.float64]
Condition = tuple[str, ...]
"""One to three of ``slot=value``; a span of a number is ``slot=low..high``."""


@dataclass(frozen=True)
class Sample:
    """A situation. ``belief``: move to the numbers of :data:`BELIEF`; a move that is not there cannot be chosen.
    ``wanted``: move to its share of the votes; ``bad``: move to the share of opinions that would avoid it."""

    id: str
    belief: Mapping[str, Numbers]
    met: tuple[Condition, ...]
    wanted: Mapping[str, float]
    bad: Mapping[str, float]
    weight: float
    opinions: tuple[Opinion, ...] = ()


def atoms(facts: Iterable[Fact]) -> Iterator[str]:
    for fact in facts:
        if isinstance(fact.value, float):
            if fact.slot == "mohs":
                at = sum(fact.value >= edge for edge in MOHS)
                low, high = ("" if i < 0 or i >= len(MOHS) else f"{MOHS[i]:g}" for i in (at - 1, at))
                yield f"mohs={low}..{high}"
        elif fact.slot not in NEVER and fact.value in TELLING.get(fact.slot, (fact.value,)):
            yield f"{fact.slot}={fact.value}"


def conditions(facts: Iterable[Fact]) -> tuple[Condition, ...]:
    single = sorted(set(atoms(facts)))
    seen = [a for a in single if a.startswith("symptom=")]
    beside = [a for a in single if not a.startswith(ALONE)]
    pairs = {tuple(sorted((s, a), key=lambda x: (x not in seen, x))) for s in seen for a in beside if a != s}
    for first, others in BESIDE.items():
        ours = [a for a in single if a.startswith(first)]
        pairs |= {tuple(sorted((a, b))) for a in ours for b in single if b.startswith(others) and a != b}
    carried = [
        (kind, lap)
        for kind in single
        for lap in single
        if kind.startswith("compound_kind=") and lap.startswith("lap_trait=")
    ]
    on_the_lap = {*carried, *((s, *both) for s in seen for both in carried)}
    return (*((a,) for a in single), *sorted(pairs), *sorted(on_the_lap))


def sample(id_: str, case: Case, wanted: Mapping[str, float], bad: Mapping[str, float], weight: float) -> Sample:
    prepared = session().prepare(case)
    belief = believed_of(prepared.case, prepared.problem, prepared.by_belief, prepared.conclusions, knowledge())
    stands, avoided = ({move: n for move, n in told.items() if move in belief} for told in (wanted, bad))
    return Sample(id_, belief, conditions(prepared.facts), stands, avoided, weight)


def asked(id_: str, case: Case, opinions: Sequence[Opinion], weight: float) -> Sample:
    wanted: Counter[str] = Counter()
    bad: Counter[str] = Counter()
    for opinion in opinions:
        wanted.update({move: vote / len(opinions) for move, vote in zip(opinion.moves, VOTES, strict=False)})
        bad.update(dict.fromkeys(opinion.avoid, 1 / len(opinions)))
    return replace(sample(id_, case, wanted, bad, weight), opinions=tuple(opinions))


def panel_samples(use: str) -> list[Sample]:
    judges = experts(use)
    return [asked(k, case_of(c), [j[k] for j in judges], PANEL_WEIGHT) for k, c in situations(use).items()]


def single_samples() -> list[Sample]:
    return [
        asked(id_, case_of(told), [opinion], THOUGHT_UP if id_.startswith(THOUGHT_UP_IDS) else 1.0)
        for id_, (told, opinion) in single_opinions().items()
    ]


def typical_samples() -> list[Sample]:
    """For most remedies a situation, of our own, that plainly calls for it."""
    return [sample(f"typical {r}", told, {r: 1.0}, {}, TYPICAL_WEIGHT) for r, told in DAYS.items()]


def published_samples() -> list[Sample]:
    """The plain texts among the cases: what cured it is what is wanted."""
    out = []
    for entry in (*ENTRIES, *HELD_OUT):
        cures = entry.get("cured_by", [])
        if entry["firm"] and cures:
            wanted, bad = dict.fromkeys(cures, 1 / len(cures)), dict.fromkeys(entry.get("not_advised", []), 1.0)
            out.append(sample(entry["id"], case_of(entry["case"]), wanted, bad, PUBLISHED_WEIGHT))
    return out


@dataclass
class Fit:
    """Weights (conditions, moves), of each move always (moves,), and of the belief's numbers (4,)."""

    lasso: float
    moves: list[str] = field(default_factory=list)
    place: dict[Condition, int] = field(default_factory=dict)
    weights: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    always: Floats = field(default_factory=lambda: np.zeros(0))
    belief: Floats = field(default_factory=lambda: np.zeros(4))

    def arrays(self, samples: Sequence[Sample]) -> tuple[csr_matrix, Floats, Floats]:
        """Conditions met (samples, conditions); belief (samples, moves, 4); 0 or minus a billion (samples, moves)."""
        at = {m: i for i, m in enumerate(self.moves)}
        rows, columns = [], []
        belief = np.zeros((len(samples), len(self.moves), 4))
        barred = np.full((len(samples), len(self.moves)), -1e9)
        for n, s in enumerate(samples):
            for c in s.met:
                if c in self.place:
                    rows.append(n)
                    columns.append(self.place[c])
            for move, numbers in s.belief.items():
                if move in at:
                    belief[n, at[move]] = numbers
                    barred[n, at[move]] = 0.0
        shape = (len(samples), len(self.place))
        return csr_matrix((np.ones(len(rows)), (rows, columns)), shape=shape), belief, barred

    def on(self, samples: Sequence[Sample], rounds: int = ROUNDS) -> Fit:
        self.moves = sorted({m for s in samples for m in s.belief})
        often = Counter(c for s in samples for c in s.met)
        self.place = {c: i for i, c in enumerate(sorted(c for c, n in often.items() if n >= MET))}
        x, belief, barred = self.arrays(samples)
        at = {m: i for i, m in enumerate(self.moves)}
        wanted, bad = np.zeros(barred.shape), np.zeros(barred.shape)
        for n, s in enumerate(samples):
            for table, shares in ((wanted, s.wanted), (bad, s.bad)):
                for move, share in shares.items():
                    table[n, at[move]] = share
        each = np.array([s.weight for s in samples])[:, None]
        votes = wanted.sum(1, keepdims=True)
        across = x.T.tocsr()

        def value(w: Floats, b: Floats, g: Floats) -> tuple[float, Floats]:
            s = x @ w + b + belief @ g + barred
            s -= s.max(1, keepdims=True)
            e = np.exp(s)
            z = e.sum(1, keepdims=True)
            q = e / z
            named = (wanted * np.where(barred < 0, 0.0, s)).sum(1, keepdims=True)
            loss = float((each * (votes * np.log(z) - named)).sum())
            loss += UNWISE * float((each * bad * q).sum())
            loss += 0.5 * SQUARE * float((w * w).sum()) + 0.5 * BIAS_SQUARE * float((b * b).sum())
            d = each * (q * votes - wanted + UNWISE * (bad * q - q * (bad * q).sum(1, keepdims=True)))
            return loss, d

        def slopes(w: Floats, b: Floats, g: Floats, d: Floats) -> tuple[Floats, Floats, Floats]:
            return across @ d + SQUARE * w, d.sum(0) + BIAS_SQUARE * b, np.einsum("nm,nmk->k", d, belief)

        w, b, g = (
            np.zeros((len(self.place), len(self.moves))),
            np.zeros(len(self.moves)),
            np.array([0.8, 0.4, 1.0, 0.5]),
        )
        yw, yb, yg, t, step = w, b, g, 1.0, 50.0
        relative = np.array([1.0, 20.0, 60.0])
        for _ in range(rounds):
            loss, d = value(yw, yb, yg)
            dw, db, dg = slopes(yw, yb, yg, d)
            while True:
                nw = yw - dw / step
                nw = np.sign(nw) * np.maximum(np.abs(nw) - self.lasso / step, 0.0)
                nb, ng = yb - db / (step * relative[1]), yg - dg / (step * relative[2])
                moved = [nw - yw, nb - yb, ng - yg]
                bound = sum(float((g_ * m).sum()) for g_, m in zip((dw, db, dg), moved, strict=True))
                bound += 0.5 * step * sum(r * float((m * m).sum()) for r, m in zip(relative, moved, strict=True))
                if value(nw, nb, ng)[0] <= loss + bound + 1e-6:
                    break
                step *= 1.5
            nt = (1.0 + np.sqrt(1.0 + 4.0 * t * t)) / 2.0
            if float(((yw - nw) * (nw - w)).sum() + ((yb - nb) * (nb - b)).sum()) > 0:
                nt = 1.0
                yw, yb, yg = nw, nb, ng
            else:
                yw, yb, yg = (n + (t - 1.0) / nt * (n - o) for n, o in ((nw, w), (nb, b), (ng, g)))
            w, b, g, t = nw, nb, ng, nt
        self.weights, self.always, self.belief = w, b, g
        return self

    def rounded(self) -> Fit:
        return Fit(
            self.lasso,
            self.moves,
            self.place,
            np.round(self.weights, 1),
            np.round(self.always, 1),
            np.round(self.belief, 2),
        )

    def shares(self, samples: Sequence[Sample]) -> Floats:
        """(samples, moves) how likely each move is to be the first."""
        x, belief, barred = self.arrays(samples)
        scores = x @ self.weights + self.always + belief @ self.belief + barred
        odds = np.exp(scores - scores.max(1, keepdims=True))
        found: Floats = odds / odds.sum(1, keepdims=True)
        return found

    def moves_for(self, samples: Sequence[Sample]) -> dict[str, tuple[str, ...]]:
        """The first three moves of each sample."""
        best = np.argsort(-self.shares(samples), axis=1)[:, :3]
        return {s.id: tuple(self.moves[j] for j in row) for s, row in zip(samples, best, strict=True)}


def calibration(fit: Fit, samples: Sequence[Sample]) -> str:
    """How the share shown for the first move agrees with the votes that it gets, by fifths of the samples, and the
    Brier score over all moves."""
    shares = fit.shares(samples)
    first = shares.argmax(1)
    votes = np.array([[s.wanted.get(m, 0.0) for m in fit.moves] for s in samples])
    said, got = shares.max(1), votes[np.arange(len(samples)), first]
    order = np.array_split(np.argsort(said), 5)
    rows = ", ".join(f"{said[part].mean():.0%} said {got[part].mean():.0%} got" for part in order)
    return f"{rows}; Brier {((shares - votes) ** 2).sum(1).mean():.3f}"


def rated(answers: Mapping[str, Sequence[str]], samples: Sequence[Sample]) -> Rates:
    """The rates of these answers; where only one expert was asked, held against that one."""
    most = max(len(s.opinions) for s in samples)
    judges = [{s.id: s.opinions[i % len(s.opinions)] for s in samples} for i in range(max(most, 2))]
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
    print(f"{len(panels)} situations with three opinions, {len(single)} with one")
    published = published_samples()
    print(f"{len(published)} published")
    samples = [*panels, *single, *published, *typical_samples()]
    random.Random(SEED).shuffle(samples)
    answered: dict[str, tuple[str, ...]] = {}
    for fold in range(options.folds):
        fit = Fit(options.lasso).on([s for n, s in enumerate(samples) if n % FOLDS != fold], options.rounds).rounded()
        left = [s for n, s in enumerate(samples) if n % FOLDS == fold]
        answered |= fit.moves_for(left)
    left = [s for s in samples if s.id in answered]
    for count in (3, 1) if answered else ():
        part = [s for s in left if len(s.opinions) == count]
        print(f"cross-validated, experts asked {count}: {rated(answered, part)}", flush=True)
    if answered:
        passed = sum(bool({*s.wanted} & {*answered[s.id]}) for s in published if s.id in answered)
        print(f"cross-validated, published: {passed} in three", flush=True)
    fit = Fit(options.lasso).on(samples, options.rounds).rounded()
    count = int((fit.weights != 0).sum())
    print(f"all: {count} weights of {int((fit.weights != 0).any(1).sum())} conditions, belief {fit.belief}")
    for use, held in kept.items():
        print(f"{use}: {rated(fit.moves_for(held), held)}")
        print(f"{use}, first move: {calibration(fit, held)}")
    if options.write:
        write(fit)


def write(fit: Fit) -> None:
    """Puts the weights into ``knowledge/habits.yaml`` and the belief's into ``knowledge/scales.yaml``."""
    lines = [HEAD, "habits:", *_entry("always", (), fit.always, fit.moves)]
    for condition, at in fit.place.items():
        if fit.weights[at].any():
            lines += _entry(_name(condition), condition, fit.weights[at], fit.moves)
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


def _entry(name: str, condition: Condition, row: Floats, moves: Sequence[str]) -> list[str]:
    ordered = sorted((-w, m) for w, m in zip(row, moves, strict=True) if w)
    begins = ", ".join(f"{move}: {-w:g}" for w, move in ordered)
    when = ["    when:", *(f"      - {_test(part)}" for part in condition)] if condition else []
    return [f"  {name}:", *when, f"    begins: {{{begins}}}"]


def _test(part: str) -> str:
    slot, _, value = part.partition("=")
    if SLOTS[slot].kind != "number":
        return f"{slot}: '{value}'" if value in ("yes", "no") else f"{slot}: {value}"
    low, _, high = value.partition("..")
    bounds = [f"{word}: {edge}" for word, edge in (("at_least", low), ("below", high)) if edge]
    return f"{slot}: {{{', '.join(bounds)}}}"


def _name(condition: Condition) -> str:
    """An id: the values, each after its slot but for symptoms and stones; a polish on a kind of lap is so called."""
    slots = [part.partition("=")[0] for part in condition]
    if slots[-2:] == ["compound_kind", "lap_trait"]:
        on_the_lap = "-on-".join(part.partition("=")[2] for part in condition[-2:])
        return "-with-".join((*map(_part, condition[:-2]), on_the_lap))
    return "-with-".join(map(_part, condition))


def _part(part: str) -> str:
    slot, _, value = part.partition("=")
    words = value if slot in ("symptom", "material") else f"{slot}-{value}"
    return re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-")


if __name__ == "__main__":
    main()
