"""Chances for one setting from the shipped judgement, what a guild found, and the record's counts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

from lapwise.engine.case import Case
from lapwise.engine.conclusions import OTHER
from lapwise.engine.knowledge.experience import ALL
from lapwise.engine.knowledge.model import Found, Knowledge
from lapwise.engine.learning.model import CauseFactor, Chance, Estimate, jeffreys_estimate, prior_estimate
from lapwise.engine.learning.pooling import (
    KAPPA_BENCH,
    KAPPA_BENCH_CASES,
    PSEUDO_TRIALS,
    GroupCounts,
    Pooled,
    chance,
    elsewhere,
    factor,
)
from lapwise.engine.record.counts import ENOUGH_CASES, counts_of_record
from lapwise.engine.record.credit import ALL as WHOLE
from lapwise.engine.record.credit import leaf
from lapwise.engine.record.store import Record

Pair = tuple[str, str]
Table = Mapping[Pair, GroupCounts]
Kind = Literal["fix", "cause"]
TableOf = Callable[[Kind, str, tuple[str, ...]], Table]
"""The counts of a kind, at a level, of all these names together."""
_NONE = GroupCounts(0.0, 0.0)
MOVED_SHOWN = 3
GUILD_SHARE = 0.02
"""What a guild's try on any stone counts for in tries on the stone at hand: judgement."""


@dataclass(frozen=True, slots=True)
class Chains:
    """Counts of nested groups, widest first: by stone, by lap, by compound; and of just this setting."""

    stone: tuple[Table, ...]
    lap: tuple[Table, ...]
    compound: tuple[Table, ...] = ()
    leaf: Table = field(default_factory=dict)

    def chance(self, key: Pair, begin: Pooled) -> Pooled:
        """P(the remedy fixes the cause) from these counts, beginning with what is known without them."""
        return chance(begin.mean, _at(self.stone, key), _at(self.lap, key), begin.size)

    def factor(self, key: Pair, share: float, here: GroupCounts | None = None, begin: Pooled | None = None) -> Pooled:
        """The factor on a cause whose shipped share is ``share``; ``here``, ``begin``: as for :func:`factor`."""
        return factor(share, _at(self.stone, key), [_at(self.lap, key), _at(self.compound, key)], here, begin)


NOTHING = Chains(({},), ({},), ({},))


@dataclass(frozen=True, slots=True)
class Learned:
    """What the record, and a guild's file, add to the shipped knowledge for one material, lap, compound and own lap.

    ``cases``: how many cases of this stone's groups stand behind it.
    """

    knowledge: Knowledge
    fixes: Chains
    causes: Chains
    cases: int
    pair: tuple[int, int]
    """This lap and compound on this stone: worked, failed."""
    guild_fixes: Chains = NOTHING
    guild_causes: Chains = NOTHING
    _kept: dict[Pair, Pooled | None] = field(default_factory=dict, compare=False, repr=False)
    _json: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)
    _views: list[CauseFactor] = field(default_factory=list, compare=False, repr=False)

    @property
    def evidence(self) -> float:
        """What stands behind it, in tries on this stone: the person's own, and in part a guild's on any stone."""
        own, guild = self.fixes.stone[-1], self.guild_fixes.stone[0]
        return sum(c.trials for c in own.values()) + GUILD_SHARE * sum(c.trials for c in guild.values())

    def _shipped(self, remedy: str, cause: str) -> float:
        known = self.knowledge.remedies.get(remedy)
        word = known.fixes.get(cause, "never") if known else "never"
        return self.knowledge.scales.chance[word]

    def _guild(self, remedy: str, cause: str) -> Pooled:
        """The shipped chance moved by what the guild found, and what both are worth here; without a file as shipped."""
        shipped, key = self._shipped(remedy, cause), (remedy, cause)
        if key not in self.guild_fixes.stone[0]:
            return Pooled(shipped, PSEUDO_TRIALS)
        return elsewhere(self.guild_fixes.chance(key, Pooled(shipped, PSEUDO_TRIALS)), KAPPA_BENCH)

    def _together(self, remedy: str, cause: str) -> Pooled | None:
        key = (remedy, cause)
        if key in self._kept:
            return self._kept[key]
        found = None
        if key in self.fixes.stone[0] or key in self.guild_fixes.stone[0]:
            found = self.fixes.chance(key, self._guild(remedy, cause))
        self._kept[key] = found
        return found

    def fix(self, remedy: str, cause: str) -> float | None:
        """P(remedy fixes | cause), all together; None where neither record nor guild says anything of it."""
        found = self._together(remedy, cause)
        return None if found is None else found.mean

    def size(self, remedy: str, cause: str) -> float:
        """How many trials the chance is worth, shipped judgement included."""
        found = self._together(remedy, cause)
        return PSEUDO_TRIALS if found is None else found.size

    def chance(self, remedy: str, cause: str) -> Chance:
        """The same with every view and its interval."""
        shipped, key = self._shipped(remedy, cause), (remedy, cause)
        together = self._together(remedy, cause) or Pooled(shipped, PSEUDO_TRIALS)
        everywhere = self.fixes.stone[0].get(key, _NONE)
        return Chance(
            remedy,
            cause,
            prior_estimate(shipped, PSEUDO_TRIALS),
            _alone(self.guild_fixes, key),
            _alone(self.fixes, key),
            prior_estimate(together.mean, together.size, everywhere.trials),
        )

    def _known(self) -> list[Pair]:
        """The pairs of remedy and cause that the knowledge names and the record or the guild speaks of."""
        remedies = self.knowledge.remedies
        spoken = self.fixes.stone[0].keys() | self.guild_fixes.stone[0].keys()
        return sorted((r, c) for r, c in spoken if r in remedies and c in remedies[r].fixes)

    def chances(self, remedy: str | None = None, cause: str | None = None) -> list[Chance]:
        """Those of :meth:`_known`, the most tried first."""
        keys = [k for k in self._known() if remedy in (None, k[0]) and cause in (None, k[1])]
        keys.sort(key=lambda k: -self.fixes.stone[0].get(k, _NONE).trials)
        return [self.chance(*key) for key in keys]

    def cause_factors(self) -> dict[str, float]:
        """Cause to the factor on its shipped frequency, for causes the record or the guild speaks of."""
        return {found.cause: found.factor for found in self.cause_views()}

    def cause_views(self) -> list[CauseFactor]:
        """The same with how often it was seen and expected, by cause id."""
        if self._views:
            return list(self._views)
        out = self._views
        for cause, share in base_shares(self.knowledge).items():
            key = (cause, "")
            begin = self._guild_factor(key, share)
            if key not in self.causes.stone[0] and begin is None:
                continue
            found = self.causes.factor(key, share, self.causes.leaf.get(key, _NONE), begin)
            whole = self.causes.stone[0].get(key, _NONE)
            out.append(CauseFactor(cause, found.mean, whole.hits, whole.trials, begin.mean if begin else None))
        return list(out)

    def _guild_factor(self, key: Pair, share: float) -> Pooled | None:
        if key not in self.guild_causes.stone[0]:
            return None
        return elsewhere(self.guild_causes.factor(key, share), KAPPA_BENCH_CASES * share)

    def as_json(self) -> dict[str, Any]:
        """What stands beside an answer: trials behind it and what moved most."""
        if not self._json:
            self._json.update(
                {
                    "cases": self.cases,
                    "guild": self._guild_json(),
                    "pair": {"worked": self.pair[0], "failed": self.pair[1]},
                    "moved": [self.chance(*key).as_json() for key in self._most_moved(MOVED_SHOWN)],
                    "causes": [c.as_json() for c in self.cause_views() if abs(c.factor - 1.0) >= 0.1],
                }
            )
        return dict(self._json)

    def _guild_json(self) -> dict[str, Any] | None:
        whole = self.knowledge.experience.get(ALL)
        return {"benches": whole.benches, "made": whole.made} if whole else None

    def _most_moved(self, count: int) -> list[Pair]:
        """The known pairs of remedy and cause whose chance moved most; the means alone decide, intervals are dear."""
        keys = self._known()
        keys.sort(key=lambda k: (-abs((self.fix(*k) or 0.0) - self._shipped(*k)), k))
        return keys[:count]


def _at(tables: Iterable[Table], key: Pair) -> list[GroupCounts]:
    return [table.get(key, _NONE) for table in tables]


def _alone(chains: Chains, key: Pair) -> Estimate | None:
    """What these counts say by themselves: of the stone's own groups, of everything where those say nothing."""
    near = chains.stone[-1].get(key, _NONE)
    shown = near if near.trials >= 0.5 else chains.stone[0].get(key, _NONE)
    return jeffreys_estimate(shown.hits, shown.trials)


def base_shares(knowledge: Knowledge) -> dict[str, float]:
    """The shipped share of every cause but ``other`` before anything is known; sorted by id."""
    weights = {c.id: knowledge.scales.frequency[c.base] for _, c in sorted(knowledge.causes.items()) if c.id != OTHER}
    total = sum(weights.values()) or 1.0
    return {c: (1.0 - knowledge.scales.other_share) * w / total for c, w in weights.items()}


def members(knowledge: Knowledge, group: str) -> tuple[str, ...]:
    """Every material that belongs to a group, itself included."""
    found = tuple(m.id for m in knowledge.materials.values() if group in m.line)
    return found if group in found else (group, *found)


def fix_chances(
    record: Record | None,
    knowledge: Knowledge,
    material: str | None = None,
    lap: str | None = None,
    compound: str | None = None,
    own_lap: str | None = None,
) -> Learned:
    """What the record and a guild's file add for this setting; any part may be unknown. Kept until the record changes.

    Its time does not grow with the number of cases: it reads counts that are kept up to date as cases are logged.
    """
    here = _Setting(material, lap, compound, own_lap)
    if record is None:
        return Learned(knowledge, NOTHING, NOTHING, 0, (0, 0), *_of_guild(knowledge, here))
    return record.remember(("learned", knowledge.digest, here), lambda: _learn(record, knowledge, here))


def learned_of(record: Record | None, knowledge: Knowledge, case: Case) -> Learned | None:
    """What is learned for a case; None if nothing was logged and there is no guild's file."""
    if record is None or record.empty():
        if not knowledge.experience:
            return None
        record = None
    return fix_chances(record, knowledge, case.material, case.lap, case.compound, case.own_lap)


class _Setting(NamedTuple):
    """What is on the machine; each may be unknown."""

    material: str | None
    lap: str | None
    compound: str | None
    own_lap: str | None


def _groups(knowledge: Knowledge, material: str | None) -> list[tuple[str, ...]]:
    """The members of each group a stone belongs to, the widest group first."""
    known = knowledge.materials.get(material or "")
    return [members(knowledge, g) for g in reversed(known.line)] if known else []


def _chains(kind: Kind, table: TableOf, groups: Iterable[tuple[str, ...]], here: _Setting) -> Chains:
    """The tables of every group that a setting belongs to."""
    whole = table(kind, "all", (WHOLE,))
    stone = [whole]
    for group in groups:
        stone.append(table(kind, "material", group) if stone[-1] or len(stone) == 1 else stone[-1])
    by_lap, by_compound = [whole], [whole]
    if here.lap:
        by_lap.append(table(kind, "lap", (here.lap,)))
        if here.own_lap:
            by_lap.append(table(kind, "own", (here.own_lap,)))
    if kind == "fix":
        return Chains(tuple(stone), tuple(by_lap))
    if here.compound:
        by_compound.append(table(kind, "compound", (here.compound,)))
    alone = table(kind, "leaf", (leaf(here.material, here.lap, here.compound),))
    return Chains(tuple(stone), tuple(by_lap), tuple(by_compound), alone)


def _of_guild(knowledge: Knowledge, here: _Setting) -> tuple[Chains, Chains]:
    """The guild's counts for chances and for causes."""
    if not knowledge.experience:
        return NOTHING, NOTHING

    def table(kind: Kind, level: str, names: Iterable[str]) -> Table:
        ids = (ALL,) if level == "all" else [f"{level}.{name}" for name in names]
        found = [knowledge.experience[i] for i in ids if i in knowledge.experience]
        if kind == "fix":
            return _summed(((r, c), f) for e in found for r, row in e.fixes.items() for c, f in row.items())
        return _summed(((c, ""), f) for e in found for c, f in e.causes.items())

    groups, shared = _groups(knowledge, here.material), here._replace(own_lap=None)
    return _chains("fix", table, groups, shared), _chains("cause", table, groups, shared)


def _summed(rows: Iterable[tuple[Pair, Found]]) -> Table:
    out: dict[Pair, GroupCounts] = {}
    for key, found in rows:
        before = out.get(key, _NONE)
        out[key] = GroupCounts(before.trials + found.trials, before.hits + found.mean * found.trials)
    return out


def _learn(record: Record, knowledge: Knowledge, here: _Setting) -> Learned:
    groups = _groups(knowledge, here.material)
    with counts_of_record(record) as counts:

        def table(kind: Kind, level: str, names: Sequence[str]) -> Table:
            shares = counts.shares(kind, level, names)
            return {key: GroupCounts(trials, hits) for key, (hits, trials) in shares.items()}

        fixes, causes = _chains("fix", table, groups, here), _chains("cause", table, groups, here)
        cases = counts.cases(groups[0] if groups else (), ENOUGH_CASES)
        pair = counts.used(here.material or "", here.lap or "", here.compound or "")
        return Learned(knowledge, fixes, causes, cases, pair, *_of_guild(knowledge, here))
