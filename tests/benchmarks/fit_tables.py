"""Fits the words of tables and rules (base rates, P(symptom | cause), P(remedy fixes | cause), strengths) to what the
panel would do first and to what cured published cases, as far as they speak, around today's judgement.

The model: with the case's conclusions as they are, P(cause) moves by the offsets of its base rate, symptoms and rules,
P(fix | remedy, cause) by those of its table and of the rules that favour it, and a move is chosen in proportion to
(chance / minutes) to the power of a temperature. Penalised likelihood: each offset (natural logarithm) costs its square
over twice SPREAD squared; a move that two experts would avoid costs as well. A word is changed, by one step at most,
where the offset passes half the way to the next one, and is kept if at least four of five fits, each without a fifth of
the learning part, change it too. Cross-validated: each fifth is answered by the tool with words fitted to the others.

    python tests/benchmarks/fit_tables.py [--spread 0.5] [--write]

Prints rates before and after, fold by fold and on the whole, how well chances of first moves are calibrated against the
panel (Brier score, reliability), and the words that would change; --write puts them into the knowledge files.
"""

from __future__ import annotations

import argparse
import math
import random
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from tests.cases.panel.panel import Opinion, Rates, case_of, experts, moves_of, rates, situations
from tests.unit.test_cases import ENTRIES, SETS
from tests.unit.test_cases import case_of as published_case

from lapwise.engine.case import Case
from lapwise.engine.conclusions import OTHER, Conclusions, Fact
from lapwise.engine.diagnosis import Session
from lapwise.engine.diagnosis.options import helped
from lapwise.engine.diagnosis.prepared import Prepared
from lapwise.engine.inference.conclude import conclude
from lapwise.engine.knowledge.loader import load
from lapwise.engine.knowledge.model import Knowledge

SIDES = {"against": "for", "disfavours": "favours"}
ROOT = Path(__file__).parents[2]
FOLDS = 5
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
SEED = 20261129
UNWISE = 0.5
"""How much a move that two experts would avoid weighs against one that they want."""
Key = tuple[str, str, str]
"""("base", "", cause), ("says", symptom, cause), ("fixes", remedy, cause), ("for", rule, cause) or ("favours", rule,
remedy)."""


@dataclass
class Kept:
    """Rules that have fired once and fire no more: only the words behind them change."""

    knowledge: Knowledge
    seen: Mapping[tuple[Fact, ...], Conclusions]

    def run(self, facts: Iterable[Fact]) -> Conclusions:
        facts = tuple(facts)
        return conclude(self.knowledge, self.seen[facts].trace, facts)


@dataclass
class Row:
    """One case as the model sees it: C causes, R remedies that may be chosen.

    ``log_p`` and ``left``: (C,), what leading remedies leave of each cause; ``cost``, ``wanted`` and ``bad`` (1 where
    two experts would avoid it): (R,). Flat lists:
    ``logit`` at ``fix`` (remedy, cause, offset); ``on`` (cause, offset); ``favour`` (remedy, offset).
    """

    log_p: Floats
    left: Floats
    cost: Floats
    wanted: Floats
    bad: Floats
    logit: Floats
    fix: Ints
    on: Ints
    favour: Ints


@dataclass
class Rows:
    """Cases laid end to end: causes and remedies are numbered through all of them."""

    log_p: Floats
    left: Floats
    cost: Floats
    wanted: Floats
    bad: Floats
    logit: Floats
    fix: Ints
    on: Ints
    favour: Ints
    case_of_cause: Ints
    case_of_remedy: Ints


def joined(rows: Sequence[Row]) -> Rows:
    """The rows end to end."""
    causes = np.cumsum([0, *(r.log_p.size for r in rows)])
    remedies = np.cumsum([0, *(r.cost.size for r in rows)])
    flat = [
        np.concatenate([getattr(r, name) for r in rows]) for name in ("log_p", "left", "cost", "wanted", "bad", "logit")
    ]
    return Rows(
        *flat,
        np.concatenate([r.fix + np.array((remedies[i], causes[i], 0)) for i, r in enumerate(rows)]),
        np.concatenate([r.on + np.array((causes[i], 0)) for i, r in enumerate(rows)]),
        np.concatenate([r.favour + np.array((remedies[i], 0)) for i, r in enumerate(rows)]),
        np.repeat(np.arange(len(rows)), [r.log_p.size for r in rows]),
        np.repeat(np.arange(len(rows)), [r.cost.size for r in rows]),
    )


class Keys:
    """Offsets by name, in the order they were met."""

    def __init__(self) -> None:
        self.place: dict[Key, int] = {}

    def __call__(self, *key: str) -> int:
        kind, first, second = key
        return self.place.setdefault((kind, first, second), len(self.place))


def row_of(
    prepared: Prepared, knowledge: Knowledge, wanted: Mapping[str, float], bad: frozenset[str], keys: Keys
) -> Row | None:
    """The row of a case, None where nothing that is wanted could be chosen."""
    problem = prepared.problem
    leads = {s.id for s in prepared.conclusions.first} | set(helped(prepared.case, knowledge))
    standing = [i for i, r in enumerate(problem.remedies) if r.id not in leads]
    weights = np.array([wanted.get(problem.remedies[i].id, 0.0) for i in standing])
    if not weights.sum():
        return None
    causes = list(problem.causes)
    table = np.array([r.fix for r in problem.remedies])
    leading = [i for i, r in enumerate(problem.remedies) if r.id in leads]
    on: list[tuple[int, int]] = []
    for j, cause in enumerate(causes):
        if cause != OTHER:
            on.append((j, keys("base", "", cause)))
            on += [(j, keys("says", s, cause)) for s in prepared.case.symptoms if cause in knowledge.symptoms[s].says]
    for e in prepared.conclusions.evidence:
        if e.said.rule and e.cause in causes:
            on.append((causes.index(e.cause), keys("for", e.said.rule, e.cause)))
    fix: list[tuple[int, int, int]] = []
    favour: list[tuple[int, int]] = []
    for row, i in enumerate(standing):
        remedy = problem.remedies[i].id
        fix += [(row, j, keys("fixes", remedy, c)) for j, c in enumerate(causes) if table[i, j] > 0]
        favour += [
            (row, keys("favours", f.said.rule, remedy)) for f in prepared.conclusions.favours if f.remedy == remedy
        ]
    kept = np.array([table[standing[row], j] for row, j, _ in fix])
    return Row(
        np.log(np.array(problem.p)),
        np.prod(1.0 - table[leading], axis=0),
        np.array([problem.remedies[i].minutes + problem.remedies[i].setup_minutes for i in standing]),
        weights / weights.sum(),
        np.array([float(problem.remedies[i].id in bad) for i in standing]),
        np.log(kept / (1.0 - kept)),
        np.array(fix, dtype=np.int64).reshape(-1, 3),
        np.array(on, dtype=np.int64).reshape(-1, 2),
        np.array(favour, dtype=np.int64).reshape(-1, 2),
    )


def loss(theta: Floats, rows: Rows, spread: float) -> tuple[float, Floats]:
    """Minus the penalised log likelihood and its gradient; the last of ``theta`` is the temperature's logarithm."""
    size, remedies = theta.size, rows.cost.size
    beta = math.exp(theta[-1])
    log_p = rows.log_p + _sums(rows.on[:, 0], theta[rows.on[:, 1]], rows.log_p.size)
    p = np.exp(log_p - _tops(log_p, rows.case_of_cause)) * rows.left
    p /= _sums(rows.case_of_cause, p)[rows.case_of_cause]
    at, of, key = rows.fix.T
    shift = _sums(rows.favour[:, 0], theta[rows.favour[:, 1]], remedies)
    fix = 1.0 / (1.0 + np.exp(-(rows.logit + theta[key] + shift[at])))
    chance = _sums(at, fix * p[of], remedies) + 1e-6
    score = beta * (np.log(chance) - np.log(rows.cost))
    q = np.exp(score - _tops(score, rows.case_of_remedy))
    q /= _sums(rows.case_of_remedy, q)[rows.case_of_remedy]
    worst = np.minimum(_sums(rows.case_of_remedy, q * rows.bad), 0.999)
    pull = UNWISE * q / (1.0 - worst[rows.case_of_remedy])
    d_score = q - rows.wanted + pull * (rows.bad - worst[rows.case_of_remedy])
    d_chance = beta * d_score / chance
    d_logit = d_chance[at] * p[of] * fix * (1.0 - fix)
    d_p = _sums(of, d_chance[at] * fix, p.size)
    d_log_p = p * (d_p - _sums(rows.case_of_cause, d_p * p)[rows.case_of_cause])
    grad = _sums(key, d_logit, size) + _sums(rows.on[:, 1], d_log_p[rows.on[:, 0]], size)
    grad += _sums(rows.favour[:, 1], _sums(at, d_logit, remedies)[rows.favour[:, 0]], size)
    grad[:-1] += theta[:-1] / spread**2
    grad[-1] = float(d_score @ score)
    total = -float(rows.wanted @ np.log(q + 1e-12)) - UNWISE * float(np.log1p(-worst).sum())
    total += float(theta[:-1] @ theta[:-1]) / (2 * spread**2)
    return total, grad


def _sums(place: Ints, values: Floats, size: int = 0) -> Floats:
    return np.bincount(place, values, size)


def _tops(values: Floats, group: Ints) -> Floats:
    """The largest value of each one's group (groups lie end to end)."""
    return np.maximum.reduceat(values, np.flatnonzero(np.diff(group, prepend=-1)))[group]


def fitted(rows: Sequence[Row], keys: Keys, spread: float) -> dict[Key, float]:
    """The offset of each key in natural logarithms (odds for chances)."""
    found = minimize(
        loss,
        np.zeros(len(keys.place) + 1),
        (joined(rows), spread),
        jac=True,
        method="L-BFGS-B",
        options={"maxiter": 60},
    )
    return {key: float(found.x[i]) for key, i in keys.place.items()}


def stepped(word: str, offset: float, scale: Mapping[str, float]) -> str:
    """The word one step nearer to ``offset`` where it passes half the way, else ``word``. ``scale``: as logarithms."""
    order = sorted(scale, key=scale.__getitem__)
    place = order.index(word)
    to = place + (1 if offset > 0 else -1)
    if not 0 <= to < len(order):
        return word
    return order[to] if abs(offset) > abs(scale[order[to]] - scale[word]) / 2 else word


def changed(knowledge: Knowledge, offsets: Mapping[Key, float]) -> tuple[Knowledge, dict[Key, tuple[str, str]]]:
    """The knowledge with words one step nearer to the fit, and those words: key to (before, after)."""
    scales = knowledge.scales
    chance = {w: math.log(v) for w, v in scales.chance.items()}
    odds = {w: math.log(v / (1 - v)) for w, v in scales.chance.items()}
    often = {w: math.log(v) for w, v in scales.frequency.items()}
    causes, symptoms = dict(knowledge.causes), dict(knowledge.symptoms)
    remedies, rules = dict(knowledge.remedies), dict(knowledge.rules)
    words: dict[Key, tuple[str, str]] = {}
    for key, offset in offsets.items():
        kind, first, second = key
        if kind == "base":
            old = causes[second].base
            new = stepped(old, offset, often)
            causes[second] = replace(causes[second], base=new)
        elif kind == "says":
            said = symptoms[first].says
            old, new = said[second], stepped(said[second], offset, chance)
            symptoms[first] = replace(symptoms[first], says={**said, second: new})
        elif kind == "fixes":
            fixes = remedies[first].fixes
            old, new = fixes[second], stepped(fixes[second], offset, odds)
            remedies[first] = replace(remedies[first], fixes={**fixes, second: new})
        else:
            then = rules[first].then
            sides = ("evidence_for", "evidence_against") if kind == "for" else ("favours", "disfavours")
            side = sides[0] if second in getattr(then, sides[0]) else sides[1]
            table = getattr(then, side)
            old = table[second]
            new = stepped(old, offset if side == sides[0] else -offset, scales.strength)
            rules[first] = replace(rules[first], then=replace(then, **{side: {**table, second: new}}))
        if new != old:
            words[key] = (old, new)
    return replace(knowledge, causes=causes, symptoms=symptoms, remedies=remedies, rules=rules), words


def wanted_of(key: str) -> dict[str, float]:
    """Remedy to weight: a whole for each expert's first move, half for the second."""
    out: dict[str, float] = {}
    for expert in experts():
        for move, weight in zip(expert[key].moves, (1.0, 0.5), strict=False):
            out[move] = out.get(move, 0.0) + weight
    return out


def unwise_of(key: str) -> frozenset[str]:
    """What two experts or more would avoid."""
    return frozenset().union(*(a[key].avoid & b[key].avoid for a, b in combinations(experts(), 2)))


def told() -> dict[str, tuple[Case, dict[str, float], frozenset[str]]]:
    """Id to case, what is wanted and what would be unwise: the panel's learning part, and the firm published cases."""
    out = {key: (case_of(entry), wanted_of(key), unwise_of(key)) for key, entry in situations("learn").items()}
    for entry in (*ENTRIES, *(e for _, entries in SETS.values() for e in entries)):
        if entry["firm"] and entry["kind"] == "published":
            out[entry["id"]] = (
                published_case(entry),
                dict.fromkeys(entry["cured_by"], 1.0),
                frozenset(entry.get("not_advised", ())),
            )
    return out


def answers(
    knowledge: Knowledge, seen: Mapping[tuple[Fact, ...], Conclusions], keys: Iterable[str], use: str
) -> dict[str, tuple[str, ...]]:
    """Moves in order by situation, with the words of ``knowledge``."""
    session = Session(knowledge, engine=Kept(knowledge, seen))  # type: ignore[arg-type]
    return {key: moves_of(session.quick(case_of(situations(use)[key]))) for key in keys}


def calibration(prepared: Mapping[str, Prepared], judges: Sequence[Mapping[str, Opinion]]) -> tuple[float, list[str]]:
    """(Brier score, table): the chance shown for the first remedy against how often a pair of experts accepts it."""
    pairs = list(combinations(judges, 2))
    shown: list[tuple[float, float]] = []
    for key, p in prepared.items():
        if p.plan.order:
            step = p.plan.order[0]
            shown += [(step.chance, float(step.remedy in {*a[key].moves[:2], *b[key].moves[:2]})) for a, b in pairs]
    brier = sum((c - y) ** 2 for c, y in shown) / len(shown)
    lines = []
    for low, high in zip((0, 0.1, 0.2, 0.3, 0.45, 0.6), (0.1, 0.2, 0.3, 0.45, 0.6, 1.01), strict=True):
        inside = [(c, y) for c, y in shown if low <= c < high]
        if inside:
            mean = [sum(x) / len(inside) for x in zip(*inside, strict=True)]
            lines.append(f"  shown {low:.2f} to {high:.2f}: mean {mean[0]:.2f}, accepted {mean[1]:.2f} ({len(inside)})")
    return brier, lines


def reached(found: Mapping[str, Sequence[str]]) -> Rates:
    return rates(found, experts())


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--spread", type=float, default=0.5, help="how far judgement may be out, natural logarithm")
    parser.add_argument("--write", action="store_true", help="put the words into the knowledge files")
    args = parser.parse_args()
    knowledge = load().knowledge
    session = Session(knowledge)
    cases = told()
    prepared = {key: session.prepare(case) for key, (case, _, _) in cases.items()}
    measured = {key: session.prepare(case_of(entry)) for key, entry in situations("measure").items()}
    seen = {p.facts: p.conclusions for p in (*prepared.values(), *measured.values())}
    keys = Keys()
    rows = {
        key: row
        for key, (_, wanted, bad) in cases.items()
        if (row := row_of(prepared[key], knowledge, wanted, bad, keys)) is not None
    }
    panel = sorted(situations("learn"))
    random.Random(SEED).shuffle(panel)
    before = answers(knowledge, seen, panel, "learn")
    after: dict[str, tuple[str, ...]] = {}
    votes: Counter[tuple[Key, tuple[str, str]]] = Counter()
    for fold in range(FOLDS):
        held = panel[fold::FOLDS]
        offsets = fitted([row for key, row in rows.items() if key not in held], keys, args.spread)
        new, words = changed(knowledge, offsets)
        votes.update(words.items())
        found = answers(new, seen, held, "learn")
        after |= found
        print(f"fold {fold + 1}: before {reached({k: before[k] for k in held})}; after {reached(found)}")
    print(f"cross-validated: before {reached(before)}; after {reached(after)}")
    offsets = fitted(list(rows.values()), keys, args.spread)
    _, words = changed(knowledge, offsets)
    words = {key: pair for key, pair in words.items() if votes[key, pair] >= FOLDS - 1}
    new, _ = changed(knowledge, {key: offsets[key] for key in words})
    for use in ("learn", "measure"):
        for name, base in (("before", knowledge), ("after", new)):
            tool = Session(base, engine=Kept(base, seen))  # type: ignore[arg-type]
            ready = {key: tool.prepare(case_of(entry)) for key, entry in situations(use).items()}
            brier, table = calibration(ready, experts())
            got = reached(answers(base, seen, ready, use))
            print(f"{use}, {name}: {got}; Brier score of the first chance {brier:.3f}")
            print(*table, sep="\n")
    for key, (old, word) in sorted(words.items()):
        print(" ".join(filter(None, key)), f"{old} -> {word}")
    if args.write:
        write(words)


def write(words: Mapping[Key, tuple[str, str]]) -> None:
    """Puts each word into its line of the shipped files; raises ``LookupError`` for one that has no line."""
    left: dict[tuple[str, ...], tuple[str, str]] = {}
    for (kind, first, second), pair in words.items():
        left[(second, "base") if kind == "base" else (first, kind, second)] = pair
    for folder in ("knowledge", "rules"):
        for file in sorted((ROOT / folder).rglob("*.yaml")):
            lines = file.read_text(encoding="utf-8").split("\n")
            path: list[str] = []
            for number, line in enumerate(lines):
                found = re.fullmatch(r"( *)([\w-]+):(?: +([\w-]+))?", line)
                if not found:
                    continue
                path = [*path[: len(found[1]) // 2], found[2]]
                name = tuple(SIDES.get(key, key) for key in path[1:] if key != "then")
                if name in left and found[3] == left[name][0]:
                    lines[number] = f"{found[1]}{found[2]}: {left.pop(name)[1]}"
            file.write_text("\n".join(lines), encoding="utf-8")
    if left:
        raise LookupError(f"no line for {', '.join('/'.join(path) for path in left)}")


if __name__ == "__main__":
    main()
