"""What worked: plain counts from the record with intervals, by lap with compound and by remedy."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any

from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.learning.learner import fix_chances, members
from lapwise.engine.learning.model import Chance, WhatWorks, Works, jeffreys_estimate
from lapwise.engine.record import derived
from lapwise.engine.record.credit import counts_of
from lapwise.engine.record.database import empty
from lapwise.engine.record.store import Record
from lapwise.engine.wording import counted, times

MOVED = 0.05
"""A chance that moved by less is not spoken of beside an answer."""


def _where(names: Sequence[str] | None) -> tuple[str, tuple[str, ...]]:
    if names is None:
        return "", ()
    return f" AND k1 IN ({', '.join('?' * len(names))})", tuple(names)


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
    with record.reading() as connection:
        minutes = _minutes(connection, names, own_lap)
        if own_lap is None:
            return _what_works(connection, names, material, minutes)
        beside = _counted_on(connection, own_lap)
        try:
            return _what_works(beside, names, material, minutes)
        finally:
            beside.close()


def _counted_on(connection: sqlite3.Connection, own_lap: str) -> sqlite3.Connection:
    """Both tables of the cases that ended on this own lap alone, beside the record in memory. To be closed."""
    beside = empty()
    beside.execute("PRAGMA foreign_keys = OFF")
    tally = derived.Tally(beside)
    for (case_id,) in connection.execute("SELECT case_id FROM case_now WHERE own_lap = ?", (own_lap,)).fetchall():
        case = derived.load_case(connection, case_id)
        if case is not None:
            tally.stands(case)
            tally.add(counts_of(case))
    tally.flush()
    return beside


def _minutes(connection: sqlite3.Connection, names: Sequence[str] | None, own_lap: str | None) -> dict[str, float]:
    """Remedy to the mean of the minutes of those tries of it that were timed."""
    clause, values = _where(names)
    clause = clause.replace("k1", "n.material")
    rows = connection.execute(
        "SELECT s.remedy, avg(s.minutes) FROM steps s JOIN case_now n ON n.case_id = s.case_id "
        "WHERE s.kind = 'try' AND s.minutes IS NOT NULL AND n.withdrawn = 0 AND (n.own_lap = ? OR ?) "
        f"AND s.id NOT IN (SELECT withdraws FROM steps WHERE withdraws IS NOT NULL){clause} "
        "GROUP BY s.remedy",
        (own_lap, own_lap is None, *values),
    )
    return {remedy: mean for remedy, mean in rows if mean}


def _what_works(
    connection: sqlite3.Connection, names: Sequence[str] | None, material: str | None, minutes: Mapping[str, float]
) -> WhatWorks:
    clause, values = _where(names)
    pairs = connection.execute(
        f"SELECT k2, k3, sum(a), sum(b) FROM counts WHERE kind = 'pair'{clause} GROUP BY k2, k3", values
    ).fetchall()
    remedies = connection.execute(
        f"SELECT k3, sum(CASE k4 WHEN 'fixed' THEN a ELSE 0 END), sum(a) FROM counts "
        f"WHERE kind = 'tally'{clause} GROUP BY k3",
        values,
    ).fetchall()
    spent = connection.execute(
        f"SELECT k2, sum(a) FROM counts WHERE kind = 'spent'{clause} GROUP BY k2 HAVING sum(a) > 0", values
    ).fetchall()
    months = connection.execute(
        f"SELECT k2, sum(a), sum(b) FROM counts WHERE kind = 'month'{clause} GROUP BY k2 HAVING sum(a) > 0 ORDER BY k2",
        values,
    ).fetchall()
    cases = connection.execute(
        f"SELECT count(*) FROM case_now WHERE withdrawn = 0{clause.replace('k1', 'material')}", values
    ).fetchone()[0]
    return WhatWorks(
        material,
        int(cases),
        _best_first([_works(f"{lap}|{compound}", a, a + b) for lap, compound, a, b in pairs]),
        _best_first([_works(name, worked, trials, minutes.get(name)) for name, worked, trials in remedies]),
        dict(sorted(((c, s / 60) for c, s in spent), key=lambda item: (-item[1], item[0]))),
        tuple((month, n, seconds / 60 / n) for month, n, seconds in months),
    )


def percent_range(low: float, high: float) -> str:
    """``34 to 88 %``."""
    return f"{100 * low:.0f} to {100 * high:.0f} %"


def _sentence(chance: Chance, label: str) -> str:
    yours = chance.yours
    own = (
        f"yours {100 * yours.mean:.0f} % from {yours.trials:.1f} trials ({percent_range(yours.low, yours.high)})"
        if yours
        else "yours: no trial"
    )
    return (
        f"{label}: shipped {100 * chance.shipped.mean:.0f} %, {own}, together {100 * chance.together.mean:.0f} % "
        f"({percent_range(chance.together.low, chance.together.high)})"
    )


def record_lines(record: Record, knowledge: Knowledge, name: str) -> list[str]:
    """What the record says of an id of the knowledge (a remedy, cause, material, lap or compound), in sentences."""
    if record.empty():
        return []
    learned = fix_chances(record, knowledge)
    if name in knowledge.remedies:
        return [
            _sentence(c, f"against {knowledge.causes[c.cause].label.lower()}")
            for c in learned.chances(name)
            if c.yours and c.yours.trials >= 0.05
        ]
    if name in knowledge.causes:
        lines = []
        for view in learned.cause_views():
            if view.cause == name and (view.seen >= 0.05 or view.expected >= 0.05):
                lines.append(
                    f"Your record: met {view.seen:.1f} times where the shipped knowledge would expect "
                    f"{view.expected:.1f}; it is taken as {view.factor:.2f} times as frequent."
                )
        for chance in learned.chances(cause=name):
            if chance.yours and chance.yours.trials >= 0.05:
                lines.append(_sentence(chance, knowledge.remedies[chance.remedy].label))
        return lines
    if name in knowledge.materials:
        return _pair_lines(what_works(record, knowledge, name), knowledge)
    if name in knowledge.laps or name in knowledge.compounds:
        found = what_works(record, knowledge)
        kept = tuple(w for w in found.pairs if name in w.name.split("|"))
        return [_pair_line(w, knowledge) for w in kept]
    return []


def pair_label(name: str, knowledge: Knowledge) -> str:
    """``lap|compound`` in words."""
    lap, _, compound = name.partition("|")
    return f"{knowledge.label(lap)} with {knowledge.label(compound)}"


def how_often(worked: int, trials: int, low: float, high: float) -> str:
    """``worked 3 of 4 times (34 to 95 %)``; of what never worked only how often it was tried."""
    if not worked:
        return f"tried {times(trials)}, has not worked yet"
    return f"worked {worked} of {counted(trials, 'time')} ({percent_range(low, high)})"


def _works_line(label: str, works: Works) -> str:
    return f"{label}: {how_often(works.worked, works.trials, works.estimate.low, works.estimate.high)}"


def _pair_line(works: Works, knowledge: Knowledge) -> str:
    return _works_line(pair_label(works.name, knowledge), works)


def _pair_lines(found: WhatWorks, knowledge: Knowledge) -> list[str]:
    lines = [_pair_line(w, knowledge) for w in found.pairs]
    return lines + [_works_line(knowledge.label(w.name), w) for w in found.remedies]


def answer_lines(told: Mapping[str, Any] | None, knowledge: Knowledge) -> list[str]:
    """What stands beside an answer (:attr:`Diagnosis.record`) in sentences: cases, this pair, what moved most."""
    if not told or not told["cases"]:
        return []
    cases, pair = told["cases"], told["pair"]
    many = "1000 cases or more" if cases >= 1000 else counted(cases, "case")
    lines = [f"{many} of this stone and its kin logged."]
    if trials := pair["worked"] + pair["failed"]:
        lines.append(f"This lap and compound worked on it {pair['worked']} of {trials} times.")
    for item in told["moved"]:
        before, after = item["shipped"]["mean"], item["together"]["mean"]
        if abs(after - before) >= MOVED and item["remedy"] in knowledge.remedies and item["cause"] in knowledge.causes:
            remedy, cause = knowledge.remedies[item["remedy"]].label, knowledge.causes[item["cause"]].label
            lines.append(
                f"“{remedy}” against {cause[:1].lower() + cause[1:]}: {100 * before:.0f} % as shipped, "
                f"{100 * after:.0f} % with your record."
            )
    return lines
