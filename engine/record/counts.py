"""What the record counted, as learning reads it: the tables behind it are the record's own affair."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from typing import Any, Literal

from lapwise.engine.record import derived
from lapwise.engine.record.credit import UNIT, Key, counts_of
from lapwise.engine.record.database import empty
from lapwise.engine.record.model import CaseRecord
from lapwise.engine.record.store import Record

ENOUGH_CASES = 1000
"""Cases are counted up to here where only their number is told."""
Names = Sequence[str] | None
"""Materials to count, None for all."""


def _among(column: str, names: Names) -> str:
    return "" if names is None else f" AND {column} IN ({', '.join('?' * len(names))})"


class Counts:
    """The counts of one record as they stand in one reading of it. Made by :func:`counts_of_record`."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def shares(
        self, kind: Literal["fix", "cause"], level: str, names: Sequence[str]
    ) -> dict[tuple[str, str], tuple[float, float]]:
        """(hits, trials) of the groups named at a level, added up; fractions where credit was shared.

        ``fix``: by (remedy, cause), how often it cured of how often it was tried. ``cause``: by (cause, ""), how often
        it was met of how often it was expected. Levels: ``all`` (its one name ``*``), ``material``, ``lap``,
        ``compound``, ``own`` and ``leaf``.
        """
        hits, trials = ("b", "a") if kind == "fix" else ("a", "b")
        rows = self._connection.execute(
            f"SELECT k3, k4, sum({hits}), sum({trials}) FROM counts WHERE kind = ? AND k1 = ?{_among('k2', names)} "
            "GROUP BY k3, k4",
            (kind, level, *names),
        )
        return {(r[0], r[1]): (r[2] / UNIT, r[3] / UNIT) for r in rows if r[2] or r[3]}

    def used(self, material: str, lap: str, compound: str) -> tuple[int, int]:
        """How often this setting worked and failed; "" for what is not known."""
        row = self._connection.execute(
            "SELECT a, b FROM counts WHERE kind = 'use' AND k1 = ? AND k2 = ? AND k3 = ?", (material, lap, compound)
        ).fetchone()
        return (int(row[0]), int(row[1])) if row else (0, 0)

    def cases(self, names: Names, most: int | None = None) -> int:
        """How many cases that stand, counted no further than ``most``."""
        limit = -1 if most is None else most
        sql = f"SELECT count(*) FROM (SELECT 1 FROM case_now WHERE withdrawn = 0{_among('material', names)} LIMIT ?)"
        return int(self._connection.execute(sql, (*(names or ()), limit)).fetchone()[0])

    def by_pair(self, names: Names) -> list[tuple[str, str, int, int]]:
        """Lap, compound, how often the pair worked and how often not."""
        return self._summed("k2, k3", "sum(a), sum(b)", "pair", names)

    def by_remedy(self, names: Names) -> list[tuple[str, int, int]]:
        """Remedy, how often it cured and how often it was tried."""
        return self._summed("k3", "sum(CASE k4 WHEN 'fixed' THEN a ELSE 0 END), sum(a)", "tally", names)

    def cured(self, names: Names) -> list[tuple[str, str, int]]:
        """Material, remedy, and how often it cured there: the most first within a material."""
        fixed = "sum(CASE k4 WHEN 'fixed' THEN a ELSE 0 END)"
        return self._summed("k1, k3", fixed, "tally", names, f"HAVING {fixed} > 0 ORDER BY k1, {fixed} DESC, k3")

    def spent(self, names: Names) -> list[tuple[str, int]]:
        """Cause and the seconds it took."""
        return self._summed("k2", "sum(a)", "spent", names, "HAVING sum(a) > 0")

    def by_month(self, names: Names) -> list[tuple[str, int, int]]:
        """Month (``2026-03``), cases that came out good in it, and the seconds they took; the oldest first."""
        return self._summed("k2", "sum(a), sum(b)", "month", names, "HAVING sum(a) > 0 ORDER BY k2")

    def mean_minutes(self, names: Names, own_lap: str | None = None) -> dict[str, float]:
        """Remedy to the mean of the minutes of those tries of it that were timed."""
        rows = self._connection.execute(
            "SELECT s.remedy, avg(s.minutes) FROM steps s JOIN case_now n ON n.case_id = s.case_id "
            "WHERE s.kind = 'try' AND s.minutes IS NOT NULL AND n.withdrawn = 0 AND (n.own_lap = ? OR ?) "
            "AND s.id NOT IN (SELECT withdraws FROM steps WHERE withdraws IS NOT NULL)"
            f"{_among('n.material', names)} GROUP BY s.remedy",
            (own_lap, own_lap is None, *(names or ())),
        )
        return {remedy: mean for remedy, mean in rows if mean}

    def finished(self, *, own: bool) -> Iterator[tuple[CaseRecord, dict[Key, tuple[int, int]], float]]:
        """Each closed case with what it adds to the counts, and how much of all is done, 0 to 1.

        ``own``: only cases that something was logged to at this bench.
        """
        limit = derived.forgotten_up_to(self._connection)
        mine = " AND EXISTS (SELECT 1 FROM here WHERE here.id = case_id)" if own else ""
        sql = f"SELECT case_id FROM case_now WHERE open = 0 AND withdrawn = 0{mine}"
        ids = self._connection.execute(sql).fetchall()
        for number, (case_id,) in enumerate(ids, 1):
            case = derived.load_case(self._connection, case_id)
            if case is not None:
                yield case, derived.counted(self._connection, case, limit), number / len(ids)

    @contextmanager
    def on(self, own_lap: str | None) -> Iterator[Counts]:
        """The counts of those cases alone that ended on this own lap; these themselves for None."""
        if own_lap is None:
            yield self
            return
        with closing(empty()) as beside:
            beside.execute("PRAGMA foreign_keys = OFF")
            tally = derived.Tally(beside)
            sql = "SELECT case_id FROM case_now WHERE own_lap = ?"
            for (case_id,) in self._connection.execute(sql, (own_lap,)).fetchall():
                case = derived.load_case(self._connection, case_id)
                if case is not None:
                    tally.stands(case)
                    tally.add(counts_of(case))
            tally.flush()
            yield Counts(beside)

    def _summed(self, keys: str, sums: str, kind: str, names: Names, rest: str = "") -> list[Any]:
        sql = f"SELECT {keys}, {sums} FROM counts WHERE kind = ?{_among('k1', names)} GROUP BY {keys} {rest}"
        return self._connection.execute(sql, (kind, *(names or ()))).fetchall()


@contextmanager
def counts_of_record(record: Record) -> Iterator[Counts]:
    """The counts of a record, all of one moment."""
    with record.reading() as connection:
        yield Counts(connection)
