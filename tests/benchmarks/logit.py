"""The conditional logit behind habits and hunches: situations with the odds they begin from, and the weights fitted.

Each weight pays its size (lasso, so that most are nothing) and a little its square; the minimum is found by FISTA
(Beck and Teboulle 2009, from memory) with restarts. Conditions: what is seen or known, alone, and with each symptom;
the stone with what is on the lap; lap and compound together, and with each symptom; what was tried with what is on the
machine or was seen.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from lapwise.engine.conclusions import Fact
from lapwise.engine.slots import SLOTS

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
Floats = NDArray[np.float64]
Condition = tuple[str, ...]
"""One to three of ``slot=value``; a span of a number is ``slot=low..high``."""


@dataclass(frozen=True)
class Sample:
    """A situation. ``belief``: choice to what is known of it already; one that is not there cannot be chosen.
    ``wanted``: choice to its share of the votes; ``bad``: choice to the share of opinions that would avoid it."""

    id: str
    belief: Mapping[str, Sequence[float]]
    met: tuple[Condition, ...]
    wanted: Mapping[str, float]
    bad: Mapping[str, float]
    weight: float


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
    """All conditions that these facts meet."""
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


@dataclass
class Fit:
    """Weights (conditions, choices), of each choice always (choices,), and of the belief's numbers (numbers,), which
    are fitted only where ``scaled``. ``base``: a choice that no condition moves; the others are weighed against it."""

    lasso: float
    belief: Floats
    scaled: bool = True
    base: str = ""
    moves: list[str] = field(default_factory=list)
    place: dict[Condition, int] = field(default_factory=dict)
    weights: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    always: Floats = field(default_factory=lambda: np.zeros(0))

    def arrays(self, samples: Sequence[Sample]) -> tuple[csr_matrix, Floats, Floats]:
        """Conditions met (samples, conditions); belief (samples, choices, numbers); 0 or minus a billion (samples,
        choices)."""
        at = {m: i for i, m in enumerate(self.moves)}
        rows, columns = [], []
        belief = np.zeros((len(samples), len(self.moves), len(self.belief)))
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
            across_all = (across @ d + SQUARE * w) * moved
            return across_all, d.sum(0) + BIAS_SQUARE * b, self.scaled * np.einsum("nm,nmk->k", d, belief)

        moved = np.array([move != self.base for move in self.moves], dtype=float)
        w, b, g = np.zeros((len(self.place), len(self.moves))), np.zeros(len(self.moves)), self.belief
        yw, yb, yg, t, step = w, b, g, 1.0, 50.0
        relative = np.array([1.0, 20.0, 60.0])
        for _ in range(rounds):
            loss, d = value(yw, yb, yg)
            dw, db, dg = slopes(yw, yb, yg, d)
            while True:
                nw = yw - dw / step
                nw = np.sign(nw) * np.maximum(np.abs(nw) - self.lasso / step, 0.0)
                nb, ng = yb - db / (step * relative[1]), yg - dg / (step * relative[2])
                went = [nw - yw, nb - yb, ng - yg]
                bound = sum(float((g_ * m).sum()) for g_, m in zip((dw, db, dg), went, strict=True))
                bound += 0.5 * step * sum(r * float((m * m).sum()) for r, m in zip(relative, went, strict=True))
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
        at_base = b[self.moves.index(self.base)] if self.base else 0.0
        self.weights, self.always, self.belief = w, b - at_base, g
        return self

    def rounded(self) -> Fit:
        """The same with weights to a tenth, as they are written."""
        rounded = (np.round(self.weights, 1), np.round(self.always, 1))
        return Fit(self.lasso, np.round(self.belief, 2), self.scaled, self.base, self.moves, self.place, *rounded)

    def shares(self, samples: Sequence[Sample]) -> Floats:
        """(samples, moves) how likely each choice is."""
        x, belief, barred = self.arrays(samples)
        scores = x @ self.weights + self.always + belief @ self.belief + barred
        odds = np.exp(scores - scores.max(1, keepdims=True))
        found: Floats = odds / odds.sum(1, keepdims=True)
        return found

    def moves_for(self, samples: Sequence[Sample]) -> dict[str, tuple[str, ...]]:
        """The likeliest three of each sample."""
        best = np.argsort(-self.shares(samples), axis=1)[:, :3]
        return {s.id: tuple(self.moves[j] for j in row) for s, row in zip(samples, best, strict=True)}


def entries(fit: Fit, says: str) -> list[str]:
    """The weights as entries of a knowledge file; ``says``: the key that they stand under."""
    lines = _entry("always", (), fit.always, fit.moves, says)
    for condition, at in fit.place.items():
        if fit.weights[at].any():
            lines += _entry(_name(condition), condition, fit.weights[at], fit.moves, says)
    return lines


def _entry(name: str, condition: Condition, row: Floats, moves: Sequence[str], says: str) -> list[str]:
    ordered = sorted((-w, m) for w, m in zip(row, moves, strict=True) if w)
    weights = ", ".join(f"{move}: {-w:g}" for w, move in ordered)
    when = ["    when:", *(f"      - {_test(part)}" for part in condition)] if condition else []
    return [f"  {name}:", *when, f"    {says}: {{{weights}}}"]


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
