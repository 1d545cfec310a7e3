"""Chances for one setting from the record's counts and the shipped judgement."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from lapwise.engine.conclusions import OTHER
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.learning.model import CauseFactor, Chance, jeffreys_estimate, prior_estimate
from lapwise.engine.learning.pooling import PSEUDO_TRIALS, GroupCounts, Pooled, chance, factor
from lapwise.engine.record.counts import ENOUGH_CASES, Counts, counts_of_record
from lapwise.engine.record.credit import leaf
from lapwise.engine.record.store import Record

Pair = tuple[str, str]
Table = Mapping[Pair, GroupCounts]
_NONE = GroupCounts(0.0, 0.0)
MOVED_SHOWN = 3


@dataclass(frozen=True, slots=True)
class Chains:
    """Counts of nested groups, widest first: by stone, by lap, by compound; and of just this setting."""

    stone: tuple[Table, ...]
    lap: tuple[Table, ...]
    compound: tuple[Table, ...] = ()
    leaf: Table = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Learned:
    """What the record adds to the shipped knowledge for one material, lap, compound and own lap.

    ``cases``: how many cases of this stone's groups stand behind it.
    """

    knowledge: Knowledge
    fixes: Chains
    causes: Chains
    cases: int
    pair: tuple[int, int]
    """This lap and compound on this stone: worked, failed."""
    _kept: dict[Pair, Pooled | None] = field(default_factory=dict, compare=False, repr=False)
    _json: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)
    _views: list[CauseFactor] = field(default_factory=list, compare=False, repr=False)

    def _shipped(self, remedy: str, cause: str) -> float:
        known = self.knowledge.remedies.get(remedy)
        word = known.fixes.get(cause, "never") if known else "never"
        return self.knowledge.scales.chance[word]

    def _together(self, remedy: str, cause: str) -> Pooled | None:
        key = (remedy, cause)
        if key in self._kept:
            return self._kept[key]
        found = None
        if key in self.fixes.stone[0]:
            by_stone = [table.get(key, _NONE) for table in self.fixes.stone]
            by_lap = [table.get(key, _NONE) for table in self.fixes.lap]
            found = chance(self._shipped(remedy, cause), by_stone, by_lap)
        self._kept[key] = found
        return found

    def fix(self, remedy: str, cause: str) -> float | None:
        """P(remedy fixes | cause), shipped and record together; None where the record says nothing of it."""
        found = self._together(remedy, cause)
        return None if found is None else found.mean

    def size(self, remedy: str, cause: str) -> float:
        """How many trials the chance is worth, shipped judgement included."""
        found = self._together(remedy, cause)
        return PSEUDO_TRIALS if found is None else found.size

    def chance(self, remedy: str, cause: str) -> Chance:
        """The same with all three views and their intervals."""
        shipped = self._shipped(remedy, cause)
        found = self._together(remedy, cause)
        near = self.fixes.stone[-1].get((remedy, cause), _NONE)
        everywhere = self.fixes.stone[0].get((remedy, cause), _NONE)
        shown = near if near.trials >= 0.5 else everywhere
        together = found or Pooled(shipped, PSEUDO_TRIALS)
        return Chance(
            remedy,
            cause,
            prior_estimate(shipped, PSEUDO_TRIALS),
            jeffreys_estimate(shown.hits, shown.trials),
            prior_estimate(together.mean, together.size, everywhere.trials),
        )

    def chances(self, remedy: str | None = None, cause: str | None = None) -> list[Chance]:
        """The pairs of remedy and cause that the knowledge names and the record speaks of, most tried first."""
        remedies = self.knowledge.remedies
        keys = [
            k
            for k in self.fixes.stone[0]
            if remedy in (None, k[0]) and cause in (None, k[1]) and k[0] in remedies and k[1] in remedies[k[0]].fixes
        ]
        keys.sort(key=lambda k: (-self.fixes.stone[0][k].trials, k))
        return [self.chance(*key) for key in keys]

    def cause_factors(self) -> dict[str, float]:
        """Cause to the factor on its shipped frequency, for causes the record speaks of."""
        return {found.cause: found.factor for found in self.cause_views()}

    def cause_views(self) -> list[CauseFactor]:
        """The same with how often it was seen and expected, by cause id."""
        if self._views:
            return list(self._views)
        out = self._views
        for cause, share in base_shares(self.knowledge).items():
            key = (cause, "")
            if key not in self.causes.stone[0]:
                continue
            others = [[table.get(key, _NONE) for table in chain] for chain in (self.causes.lap, self.causes.compound)]
            by_stone = [table.get(key, _NONE) for table in self.causes.stone]
            found = factor(share, by_stone, others, self.causes.leaf.get(key, _NONE))
            out.append(CauseFactor(cause, found.mean, by_stone[0].hits, by_stone[0].trials))
        return list(out)

    def as_json(self) -> dict[str, Any]:
        """What stands beside an answer: trials behind it and what moved most."""
        if not self._json:
            self._json.update(
                {
                    "cases": self.cases,
                    "pair": {"worked": self.pair[0], "failed": self.pair[1]},
                    "moved": [self.chance(*key).as_json() for key in self._most_moved(MOVED_SHOWN)],
                    "causes": [c.as_json() for c in self.cause_views() if abs(c.factor - 1.0) >= 0.1],
                }
            )
        return dict(self._json)

    def _most_moved(self, count: int) -> list[Pair]:
        """The known pairs of remedy and cause whose chance moved most; the means alone decide, intervals are dear."""
        remedies = self.knowledge.remedies
        keys = [(r, c) for r, c in self.fixes.stone[0] if r in remedies and c in remedies[r].fixes]
        keys.sort(key=lambda k: (-abs((self.fix(*k) or 0.0) - self._shipped(*k)), k))
        return keys[:count]


def base_shares(knowledge: Knowledge) -> dict[str, float]:
    """The shipped share of every cause but ``other`` before anything is known; sorted by id."""
    weights = {c.id: knowledge.scales.frequency[c.base] for _, c in sorted(knowledge.causes.items()) if c.id != OTHER}
    total = sum(weights.values()) or 1.0
    return {c: (1.0 - knowledge.scales.other_share) * w / total for c, w in weights.items()}


def members(knowledge: Knowledge, group: str) -> tuple[str, ...]:
    """Every material that belongs to a group, itself included."""
    found = tuple(m.id for m in knowledge.materials.values() if group in m.line)
    return found if group in found else (group, *found)


def _table(
    counts: Counts, kind: Literal["fix", "cause"], level: str, names: tuple[str, ...]
) -> dict[Pair, GroupCounts]:
    return {key: GroupCounts(trials, hits) for key, (hits, trials) in counts.shares(kind, level, names).items()}


def fix_chances(
    record: Record,
    knowledge: Knowledge,
    material: str | None = None,
    lap: str | None = None,
    compound: str | None = None,
    own_lap: str | None = None,
) -> Learned:
    """What the record adds for this setting; any part may be unknown. Kept until the record changes.

    Its time does not grow with the number of cases: it reads counts that are kept up to date as cases are logged.
    """
    key = ("learned", knowledge.digest, material, lap, compound, own_lap)
    return record.remember(key, lambda: _learn(record, knowledge, material, lap, compound, own_lap))


def _learn(
    record: Record,
    knowledge: Knowledge,
    material: str | None,
    lap: str | None,
    compound: str | None,
    own_lap: str | None,
) -> Learned:
    known = knowledge.materials.get(material or "")
    groups = [members(knowledge, g) for g in reversed(known.line)] if known else []
    names = members(knowledge, known.line[-1]) if known else ()
    with counts_of_record(record) as counts:

        def chains(kind: Literal["fix", "cause"]) -> Chains:
            whole = _table(counts, kind, "all", ("*",))
            stone = [whole]
            for group in groups:
                stone.append(stone[-1] if not stone[-1] else _table(counts, kind, "material", group))
            by_lap = [whole]
            if lap:
                by_lap.append(_table(counts, kind, "lap", (lap,)))
                if own_lap:
                    by_lap.append(_table(counts, kind, "own", (own_lap,)))
            if kind == "fix":
                return Chains(tuple(stone), tuple(by_lap))
            by_compound = [whole]
            if compound:
                by_compound.append(_table(counts, kind, "compound", (compound,)))
            here = _table(counts, kind, "leaf", (leaf(material, lap, compound),))
            return Chains(tuple(stone), tuple(by_lap), tuple(by_compound), here)

        pair = counts.used(material or "", lap or "", compound or "")
        return Learned(knowledge, chains("fix"), chains("cause"), counts.cases(names, ENOUGH_CASES), pair)
