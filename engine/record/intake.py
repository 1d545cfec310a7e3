"""Rows that come from outside are added by their id, whatever their order, and what is worked out from them follows."""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

from lapwise.engine.record import derived
from lapwise.engine.record.credit import difference
from lapwise.engine.record.model import COLUMNS, Counts
from lapwise.engine.record.rows import Row
from lapwise.engine.record.work import READING, Progress

EXAMPLES = 20
ROW_NAMES = {"cases": "case", "steps": "step", "lap_rows": "lap"}
_INSERT = {
    table: f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))}) "
    "ON CONFLICT (id) DO NOTHING"
    for table, columns in COLUMNS.items()
}


def outside(table: str, row: Sequence[Any]) -> dict[str, Any]:
    """A row (the columns of :data:`COLUMNS`) as it is exported. Raises ``ValueError`` if what is kept is damaged."""
    out: dict[str, Any] = {"row": ROW_NAMES[table]}
    for column, value in zip(COLUMNS[table], row, strict=True):
        if value is None or (column == "note" and not value):
            continue
        if column in ("facts", "shown", "body"):
            out["case" if column == "facts" else column] = json.loads(value)
        else:
            out[column] = value
    return out


class Intake:
    """The work of one import in one transaction: :meth:`take` each row, then :meth:`settle`, then :meth:`counts`."""

    def __init__(self, connection: sqlite3.Connection, *, mine: bool = False) -> None:
        """``mine``: the rows are the person's own, from another file or machine."""
        self.mine = mine
        self.connection = connection
        self.added: Counter[str] = Counter()
        self.reasons: Counter[str] = Counter()
        self.examples: list[str] = []
        self.known = self.cleaned = self.refused = 0
        self.first_step = int(connection.execute("SELECT ifnull(max(seq), 0) FROM steps").fetchone()[0])
        """Steps that came before this import."""
        self.limit = derived.forgotten_up_to(connection)
        self.newest = ""
        """The case of the row before, whose key is there and which is noted as touched."""
        connection.execute("CREATE TEMP TABLE IF NOT EXISTS touched (case_id TEXT PRIMARY KEY) WITHOUT ROWID")
        connection.execute("DELETE FROM touched")

    def refuse(self, number: int, reason: str) -> None:
        self.refused += 1
        self.reasons[reason] += 1
        if len(self.examples) < EXAMPLES:
            self.examples.append(f"line {number}: {reason}")

    def take(self, number: int, row: Row) -> None:
        """Add a row, or find that it is known; one of another content under a known id is refused."""
        table, columns = row.table, COLUMNS[row.table]
        values = tuple(row.columns[c] for c in columns)
        case_id = row.columns["id"] if table == "cases" else row.columns.get("case_id")
        if case_id is not None and case_id != self.newest:
            self.connection.execute("INSERT OR IGNORE INTO case_keys VALUES (?)", (case_id,))
        if self.connection.execute(_INSERT[table], values).rowcount:
            self.added[ROW_NAMES[table]] += 1
            if case_id is not None and case_id != self.newest:
                self.connection.execute("INSERT OR IGNORE INTO touched VALUES (?)", (case_id,))
                self.newest = case_id
        else:
            kept = self.connection.execute(
                f"SELECT {', '.join(columns)} FROM {table} WHERE id = ?", (row.columns["id"],)
            ).fetchone()
            if tuple(kept) != values:
                self.refuse(number, "the record already holds a row with this id and other content")
                return
            self.known += 1
        if self.mine:
            derived.put_here(self.connection, row.columns["lap_id"] if table == "lap_rows" else str(case_id))
        if row.cleaned:
            self.cleaned += 1
            if len(self.examples) < EXAMPLES:
                self.examples.append(f"line {number}: cleaned (control characters, or too long)")

    def settle(self, progress: Progress | None = None, done: int = 0) -> None:
        """Bring the derived tables up to date for every case that got a row."""
        tally = derived.Tally(self.connection)
        touched = self.connection.execute("SELECT count(*) FROM touched").fetchone()[0]
        settled, last = 0, ""
        while True:
            rows = self.connection.execute(
                "SELECT case_id FROM touched WHERE case_id > ? ORDER BY case_id LIMIT 500", (last,)
            ).fetchall()
            if not rows:
                break
            for (case_id,) in rows:
                now = derived.load_case(self.connection, case_id)
                if now is not None:
                    before = self._before(case_id)
                    tally.stands(now)
                    tally.add(difference(derived.counted(self.connection, now, self.limit), before))
            last = rows[-1][0]
            settled += len(rows)
            if progress:
                progress(done, READING + (1 - READING) * settled / touched)
        tally.flush()
        self.connection.execute("DELETE FROM touched")

    def _before(self, case_id: str) -> Mapping[Any, tuple[int, int]]:
        """What the case counted for before this import: nothing if its opening row is new, else from its old rows."""
        if self.connection.execute("SELECT 1 FROM case_now WHERE case_id = ?", (case_id,)).fetchone() is None:
            return {}
        earlier = derived.load_case(self.connection, case_id, steps_up_to=self.first_step)
        return derived.counted(self.connection, earlier, self.limit)

    def counts(self) -> Counts:
        """The report."""
        reasons = tuple(sorted(self.reasons.items(), key=lambda item: (-item[1], item[0])))
        return Counts(
            MappingProxyType(dict(sorted(self.added.items()))),
            self.known,
            self.cleaned,
            self.refused,
            reasons,
            tuple(self.examples),
        )
