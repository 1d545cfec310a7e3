"""What worked: plain counts from the record with intervals, by lap with compound and by remedy."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any

from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.learning.learner import fix_chances, members
from lapwise.engine.learning.model import CauseFactor, Chance, Estimate, WhatWorks, Works, jeffreys_estimate
from lapwise.engine.record.counts import ENOUGH_CASES, counts_of_record
from lapwise.engine.record.store import Record
from lapwise.engine.wording import counted, percent, small, times

MOVED = 0.05
"""A chance that moved by less is not spoken of beside an answer."""


def _works(name: str, worked: int, trials: int, minutes: float | None = None) -> Works | None:
    found = jeffreys_estimate(worked, trials)
    return Works(name, worked, trials, found, minutes) if found is not None else None


def _best_first(found: list[Works | None]) -> tuple[Works, ...]:
    """By the lower end of the interval: a high share from one trial stands below a good one from many."""
    return tuple(sorted((w for w in found if w), key=lambda w: (-w.estimate.low, -w.trials, w.name)))


def what_works(
    record: Record, knowledge: Knowledge, material: str | None = None, own_lap: str | None = None
) -> WhatWorks:
    """What the record says of a material and all that belongs to it; of everything with None. ``own_lap``: the id of
    the lap that the cases ended on.

    These are plain counts. A remedy that is only tried after others failed looks better here than it is on a fresh
    fault; the advice itself does not use them, it uses :func:`lapwise.engine.learning.fix_chances`.
    """
    names = None if material is None else members(knowledge, material)
    with counts_of_record(record) as whole, whole.on(own_lap) as counts:
        minutes = whole.mean_minutes(names, own_lap)
        spent = [(cause, seconds / 60) for cause, seconds in counts.spent(names)]
        return WhatWorks(
            material,
            counts.cases(names),
            _best_first([_works(f"{lap}|{compound}", a, a + b) for lap, compound, a, b in counts.by_pair(names)]),
            _best_first(
                [_works(name, hits, tried, minutes.get(name)) for name, hits, tried in counts.by_remedy(names)]
            ),
            dict(sorted(spent, key=lambda item: (-item[1], item[0]))),
            tuple((month, n, seconds / 60 / n) for month, n, seconds in counts.by_month(names)),
            _most_cures_first(counts.cured(names)),
        )


def _most_cures_first(cured: list[tuple[str, str, int]]) -> tuple[tuple[str, str, int], ...]:
    of_stone = Counter[str]()
    for material, _, times_ in cured:
        of_stone[material] += times_
    return tuple(sorted(cured, key=lambda row: (-of_stone[row[0]], row[0], -row[2], row[1])))


def percent_range(low: float, high: float) -> str:
    """``34 to 88 %``."""
    return f"{100 * low:.0f} to {100 * high:.0f} %"


def _sentence(chance: Chance, label: str, *, guild: bool) -> str:
    """What is shipped, what the guild found (if there is its file), what the record says, and all together."""
    said = [f"shipped {percent(chance.shipped.mean)}"]
    if guild:
        said.append(f"guild {_from(chance.guild)}" if chance.guild else "guild: no trial")
    said.append(f"yours {_from(chance.yours)}" if chance.yours else "yours: no trial")
    together = chance.together
    said.append(f"together {percent(together.mean)} ({percent_range(together.low, together.high)})")
    return f"{label}: {', '.join(said)}"


def _from(estimate: Estimate) -> str:
    trials = f"{estimate.trials:.1f}" if estimate.trials < 100 else f"{estimate.trials:.0f}"
    return f"{percent(estimate.mean)} from {trials} trials ({percent_range(estimate.low, estimate.high)})"


def _speaks(chance: Chance) -> bool:
    return any(e is not None and e.trials >= 0.05 for e in (chance.guild, chance.yours))


def chance_rows(record: Record | None, knowledge: Knowledge, name: str) -> list[tuple[str, Chance]]:
    """What a remedy is tried against, or what is tried against a cause, with what is shipped, found and logged."""
    kept = None if record is None or record.empty() else record
    if name in knowledge.remedies:
        found = fix_chances(kept, knowledge).chances(name)
        return [(f"against {knowledge.causes[c.cause].label.lower()}", c) for c in found if _speaks(c)]
    found = fix_chances(kept, knowledge).chances(cause=name) if name in knowledge.causes else []
    return [(knowledge.remedies[c.remedy].label, c) for c in found if _speaks(c)]


def record_lines(record: Record | None, knowledge: Knowledge, name: str, *, chances: bool = True) -> list[str]:
    """What the record and a guild's file say of an id of the knowledge (a remedy, cause, material, lap or compound).

    ``chances``: a sentence for each of :func:`chance_rows` too.
    """
    kept = None if record is None or record.empty() else record
    guild = bool(knowledge.experience)
    if name in knowledge.remedies or name in knowledge.causes:
        if not (kept or guild):
            return []
        views = fix_chances(kept, knowledge).cause_views() if name in knowledge.causes else []
        lines = [line for view in views if view.cause == name for line in _met(view)]
        rows = chance_rows(kept, knowledge, name) if chances else []
        return lines + [_sentence(c, label, guild=guild) for label, c in rows]
    if kept is None:
        return []
    if name in knowledge.materials:
        found = what_works(kept, knowledge, name)
        return [_works_line(w, knowledge) for w in (*found.pairs, *found.remedies)]
    if name in knowledge.laps or name in knowledge.compounds:
        found = what_works(kept, knowledge)
        return [_works_line(w, knowledge) for w in found.pairs if name in w.name.split("|")]
    return []


def _met(view: CauseFactor) -> Iterator[str]:
    if view.guild is not None:
        yield f"The guild: {view.guild:.2f} times as frequent as the shipped knowledge expects."
    if view.seen >= 0.05 or view.expected >= 0.05:
        yield (
            f"Your record: met {view.seen:.1f} times where the shipped knowledge would expect "
            f"{view.expected:.1f}; it is taken as {view.factor:.2f} times as frequent."
        )


def works_label(name: str, knowledge: Knowledge) -> str:
    """What the name of a :class:`Works` stands for: a remedy, or ``lap|compound``."""
    return " with ".join(map(knowledge.label, name.split("|")))


def how_often(worked: int, trials: int, low: float, high: float) -> str:
    """``worked 3 of 4 times (34 to 95 %)``; of what never worked only how often it was tried."""
    if not worked:
        return f"tried {times(trials)}, has not fixed it yet"
    return f"worked {worked} of {counted(trials, 'time')} ({percent_range(low, high)})"


def _works_line(works: Works, knowledge: Knowledge) -> str:
    often = how_often(works.worked, works.trials, works.estimate.low, works.estimate.high)
    return f"{works_label(works.name, knowledge)}: {often}"


def answer_lines(told: Mapping[str, Any] | None, knowledge: Knowledge) -> list[str]:
    """What stands beside an answer (:attr:`Diagnosis.record`) in sentences: cases, this pair, what moved most."""
    if not told or not (told["cases"] or told["guild"]):
        return []
    lines = []
    if guild := told["guild"]:
        made = f", {guild['made']}" if guild["made"] else ""
        lines.append(
            f"A guild's experience counts here ({guild['benches']} bench{'' if guild['benches'] == 1 else 'es'}{made})."
        )
    cases, pair = told["cases"], told["pair"]
    if cases:
        many = f"{ENOUGH_CASES} cases or more" if cases >= ENOUGH_CASES else counted(cases, "case")
        lines.append(f"{many} of this stone and its kin logged.")
    if trials := pair["worked"] + pair["failed"]:
        lines.append(f"This lap and compound worked on it {pair['worked']} of {trials} times.")
    for item in told["moved"]:
        before, after = item["shipped"]["mean"], item["together"]["mean"]
        if abs(after - before) >= MOVED and item["remedy"] in knowledge.remedies and item["cause"] in knowledge.causes:
            remedy, cause = knowledge.remedies[item["remedy"]].label, knowledge.causes[item["cause"]].label
            guild_says = f"{percent(item['guild']['mean'])} by the guild, " if item["guild"] else ""
            whose = "with your record" if item["yours"] else "taken together"
            lines.append(
                f"“{remedy}” against {small(cause)}: {percent(before)} as shipped, {guild_says}"
                f"{percent(after)} {whose}."
            )
    return lines
