"""Adds up what benches gave: from a Parquet file of checked rows to pooled counts, on any engine of SQL."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, sqrt
from pathlib import Path
from typing import Any

from lapwise.engine.guild import queries
from lapwise.engine.guild.engines import Engine
from lapwise.engine.guild.intake import Bench
from lapwise.engine.guild.needs import needed
from lapwise.engine.knowledge.experience import LEAST_CHANCE, LEAST_FACTOR, MOST_CHANCE, MOST_FACTOR
from lapwise.engine.knowledge.model import Found, Knowledge
from lapwise.engine.learning.learner import base_shares
from lapwise.engine.learning.model import jeffreys_estimate
from lapwise.engine.learning.pooling import KAPPA_BENCH, KAPPA_BENCH_CASES, PSEUDO_CASES, PSEUDO_TRIALS

LEAST_TRIALS = 5.0
LEAST_BENCHES = 3
"""What must stand behind a number of a stone, a lap or a compound before it is told: else it goes to the group the
stone belongs to. So nobody's rare stone stands in the file."""
ROUNDS = 2
"""How often the odd ones out are looked for: the first time they are still part of what they are measured by."""
_Z90 = 1.6449
DEEPEST = 2
"""Depth of a variety; a species is at 1, a family (or what belongs to nothing) at 0."""


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """What may be spoken of. ``pairs``: rows of :data:`PAIRS`; ``groups``: rows of :data:`GROUPS`."""

    pairs: tuple[tuple[Any, ...], ...]
    groups: tuple[tuple[Any, ...], ...]


PAIRS = ("pair", "kind", "remedy", "cause", "shipped", "kappa", "prior", "low", "high")
GROUPS = ("grp", "level", "name", "up", "depth")


@dataclass(frozen=True, slots=True)
class Pooled:
    """A number of the experience: ``kind`` fix or cause; ``benches``: how many stand behind it, at least."""

    kind: str
    level: str
    name: str
    remedy: str
    cause: str
    found: Found
    benches: int


@dataclass(frozen=True, slots=True)
class Outcome:
    """``far``: name of each bench left out, and how many times farther from the rest it lies than the usual one.

    ``unknown``: rows left out by what is not known here: pair, material, lap or compound.
    """

    numbers: tuple[Pooled, ...]
    far: tuple[tuple[str, float], ...]
    unknown: dict[str, int]


def vocabulary(knowledge: Knowledge) -> Vocabulary:
    """Pairs and groups of the shipped knowledge."""
    pairs: list[tuple[Any, ...]] = []
    for remedy in sorted(knowledge.remedies.values(), key=lambda r: r.id):
        for cause in sorted(remedy.fixes):
            p = knowledge.scales.chance[remedy.fixes[cause]]
            row = ("fix", remedy.id, cause, p, KAPPA_BENCH, PSEUDO_TRIALS, LEAST_CHANCE, MOST_CHANCE)
            pairs.append((len(pairs), *row))
    for cause, share in base_shares(knowledge).items():
        row = ("cause", "", cause, 1.0, KAPPA_BENCH_CASES * share, PSEUDO_CASES * share, LEAST_FACTOR, MOST_FACTOR)
        pairs.append((len(pairs), *row))
    groups: list[tuple[Any, ...]] = [(0, "all", "", -1, -1)]
    numbers: dict[str, int] = {}
    for stone in sorted(knowledge.materials.values(), key=lambda m: (len(m.line), m.id)):
        numbers[stone.id] = len(groups)
        up = numbers[stone.line[1]] if len(stone.line) > 1 else -1
        groups.append((len(groups), "material", stone.id, up, min(len(stone.line) - 1, DEEPEST)))
    for level, table in (("lap", knowledge.laps), ("compound", knowledge.compounds)):
        groups += [(len(groups) + i, level, name, -1, 0) for i, name in enumerate(sorted(table))]
    return Vocabulary(tuple(pairs), tuple(groups))


def _small(engine: Engine, work: Path, name: str, columns: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
    """Make a small table known to the engine."""
    arrow, parquet = needed("pyarrow", "adding up"), needed("pyarrow.parquet", "adding up")
    kinds = {int: arrow.int32(), float: arrow.float64(), str: arrow.string()}
    arrays = [arrow.array([row[i] for row in rows], kinds[type(rows[0][i])]) for i in range(len(columns))]
    path = work / f"{name}.parquet"
    parquet.write_table(arrow.table(arrays, names=list(columns)), path)
    engine.parquet(name, path)


def pool(engine: Engine, given: Path, benches: Sequence[Bench], words: Vocabulary, work: Path) -> Outcome:
    """Add up ``given`` (Parquet, as :class:`Intake` writes it). ``work``: a folder for small tables."""
    _small(engine, work, "benches", ("bench", "scale"), [(b.number, float(b.scale)) for b in benches])
    _small(engine, work, "pairs", PAIRS, words.pairs)
    _small(engine, work, "groups", GROUPS, words.groups)
    engine.parquet("given", given)
    engine.table("cells", queries.CELLS)
    unknown: dict[str, int] = {}
    if engine.rows(queries.KNOWN)[0][0]:
        for what, level, count in engine.rows(queries.UNKNOWN):
            name = "remedy against a cause" if what == "pair" else str(level)
            unknown[name] = unknown.get(name, 0) + int(count)
    engine.table("far", queries.NOBODY)
    for _ in range(ROUNDS):
        engine.table("pooled", queries.POOLED.format(only="c.grp = 0 AND"))
        engine.table("centre", queries.CENTRE)
        engine.table("deviation", queries.DEVIATION)
        engine.table("scored", queries.SCORED)
        engine.table("far", queries.FAR)
    engine.table("pooled", queries.POOLED.format(only=""))
    left = len(benches) - int(engine.rows("SELECT COUNT(*) FROM far")[0][0])
    fewest = max(1, min(LEAST_BENCHES, left))
    source = "pooled"
    for depth in range(DEEPEST, -1, -1):
        lifted = queries.LIFTED.format(depth=depth, trials=LEAST_TRIALS, benches=fewest, source=source)
        source = f"lifted{depth}"
        engine.table(source, lifted)
    rows = engine.rows(queries.RESULT.format(source=source, trials=1.0, benches=fewest))
    far = engine.rows("SELECT bench, x FROM far ORDER BY x DESC, bench")
    names = {b.number: b.name for b in benches}
    return Outcome(
        tuple(_number(*row) for row in rows),
        tuple((names[b], exp(float(x))) for b, x in far),
        dict(sorted(unknown.items())),
    )


def _number(kind: str, level: str, name: str, remedy: str, cause: str, t: float, h: float, n: int) -> Pooled:
    if kind == "fix":
        said = jeffreys_estimate(h, t)
        assert said is not None, "rows without a trial are left out by the query"
        mean, low, high = said.mean, said.low, said.high
    else:
        mean = max(h, 0.0) / t
        spread = exp(_Z90 / sqrt(max(h, 1.0)))  # of a count: its logarithm has about this standard deviation
        low, high = mean / spread, mean * spread
    least, most = (LEAST_CHANCE, MOST_CHANCE) if kind == "fix" else (LEAST_FACTOR, MOST_FACTOR)
    mean = min(max(mean, least), most)
    return Pooled(kind, level, name, remedy, cause, Found(mean, min(low, mean), max(high, mean), t), int(n))
