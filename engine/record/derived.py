"""The tables worked out from the rows: how each case stands now, and the counts that learning reads."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from lapwise.engine.errors import Damaged, Issue
from lapwise.engine.record.credit import LEARNED, Key, Sums, counts_of, difference
from lapwise.engine.record.fold import fold_case
from lapwise.engine.record.model import COLUMNS, CaseRecord, Step

CASES_AT_ONCE = 500
FLUSH_AT = 50_000
"""Counts held in memory before they are written out during a long run."""


def row_damaged(row: str, why: str) -> Damaged:
    """The error for a row whose content is not as it was written."""
    plain = f"{row}: {why}".encode("ascii", "replace").decode()
    advice = "`lapwise record check --repair` brings all that can be read into a new file"
    return Damaged(Issue(f"a row of the record is damaged ({plain}): {advice}", "record"))


def read_json(text: str, row: str) -> Any:
    """The JSON that a row holds. Raises :class:`Damaged`; ``row`` names it."""
    try:
        text.encode()  # bytes that are no UTF-8 stand in it as surrogates
        return json.loads(text)
    except (ValueError, RecursionError):
        raise row_damaged(row, "not JSON") from None


def step_from_row(row: tuple[object, ...]) -> Step:
    """A step from a row of the table of steps."""
    values = list(row)
    for column in (10, 11):
        if isinstance(values[column], str):
            values[column] = read_json(str(values[column]), f"step {values[0]}")
    return Step(*values)  # type: ignore[arg-type]


def steps_of(connection: sqlite3.Connection, case_id: str, up_to: int | None = None) -> list[Step]:
    """The steps of a case in order of id; with ``up_to`` only those that arrived (``seq``) by then."""
    rows = connection.execute(
        f"SELECT {', '.join(COLUMNS['steps'])} FROM steps WHERE case_id = ? AND seq <= ? ORDER BY id",
        (case_id, 2**62 if up_to is None else up_to),
    )
    return [step_from_row(row) for row in rows]


def load_case(connection: sqlite3.Connection, case_id: str, *, steps_up_to: int | None = None) -> CaseRecord | None:
    """The case as it stands now, or None if its opening row is not here. ``steps_up_to``: as it stood then."""
    row = connection.execute("SELECT at, facts, knowledge FROM cases WHERE id = ?", (case_id,)).fetchone()
    if row is None:
        return None
    steps = steps_of(connection, case_id, steps_up_to)
    try:
        return fold_case(case_id, row[0], read_json(row[1], f"case {case_id}"), row[2], steps)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise row_damaged(f"case {case_id}", str(error)) from error


def put_here(connection: sqlite3.Connection, thing: str) -> None:
    """Note that this case or lap is the person's own: something was logged to it at this bench."""
    connection.execute("INSERT OR IGNORE INTO here VALUES (?, 'own')", (thing,))


def forgotten_up_to(connection: sqlite3.Connection) -> int:
    """Cases with ``seq`` up to this number teach nothing any more."""
    row = connection.execute("SELECT kind, up_to FROM marks ORDER BY seq DESC LIMIT 1").fetchone()
    return int(row[1]) if row and row[0] == "forget" else 0


def counted(
    connection: sqlite3.Connection, record: CaseRecord | None, limit: int | None = None
) -> dict[Key, tuple[int, int]]:
    """What the case adds to the counts in this record. ``limit``: :func:`forgotten_up_to`, if it is at hand."""
    if record is None:
        return {}
    found = counts_of(record)
    if limit is None:
        limit = forgotten_up_to(connection)
    if limit:
        seq = connection.execute("SELECT seq FROM cases WHERE id = ?", (record.id,)).fetchone()
        if seq is not None and seq[0] <= limit:
            found = {key: value for key, value in found.items() if key[0] not in LEARNED}
    return found


def add_counts(connection: sqlite3.Connection, change: Mapping[Key, Sequence[int]]) -> None:
    """Add the change to the counts."""
    connection.executemany(
        "INSERT INTO counts VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (kind, k1, k2, k3, k4) "
        "DO UPDATE SET a = a + excluded.a, b = b + excluded.b",
        ((*key, *change[key]) for key in sorted(change)),
    )


def put_now(connection: sqlite3.Connection, records: Iterable[CaseRecord]) -> None:
    """Write how the cases stand now."""
    connection.executemany(
        "INSERT OR REPLACE INTO case_now VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            (
                r.id,
                r.last,
                int(r.open),
                int(r.withdrawn),
                r.case.material or "",
                r.case.lap or "",
                r.case.compound or "",
                r.case.own_lap or "",
            )
            for r in records
        ),
    )


def changed(connection: sqlite3.Connection, before: Mapping[Key, tuple[int, int]], after: CaseRecord | None) -> None:
    """Bring both tables up to date after a case changed. ``before``: what it counted for until now."""
    if after is None:
        return
    put_now(connection, (after,))
    add_counts(connection, difference(counted(connection, after), before))


class Tally:
    """Gathers what many cases change in both tables and writes it in large pieces, in bounded memory."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._sums = Sums()
        self._now: list[CaseRecord] = []

    def add(self, change: Mapping[Key, tuple[int, int]]) -> None:
        """Take in the change of one case."""
        for key, (a, b) in change.items():
            self._sums.add(key, a, b)
        if len(self._sums.of) > FLUSH_AT:
            self.flush()

    def stands(self, record: CaseRecord) -> None:
        """Take in how a case stands now."""
        self._now.append(record)
        if len(self._now) >= CASES_AT_ONCE:
            put_now(self._connection, self._now)
            self._now.clear()

    def flush(self) -> None:
        """Write out what was gathered."""
        put_now(self._connection, self._now)
        self._now.clear()
        if self._sums.of:
            add_counts(self._connection, self._sums.of)
            self._sums.of.clear()


def rebuild(connection: sqlite3.Connection, into: sqlite3.Connection | None = None) -> Iterator[int]:
    """Work both tables out again from the rows; yields the number of cases done. Within a transaction.

    ``into``: write them there (an empty record) and leave those of ``connection`` alone, to compare.
    """
    target = connection if into is None else into
    target.execute("DELETE FROM case_now")
    target.execute("DELETE FROM counts")
    tally = Tally(target)
    limit = forgotten_up_to(connection)
    for done, case_id in enumerate(_case_ids(connection), 1):
        record = load_case(connection, case_id)
        if record is not None:
            tally.stands(record)
            tally.add(counted(connection, record, limit))
        yield done
    tally.flush()


def _case_ids(connection: sqlite3.Connection) -> Iterable[str]:
    last = ""
    while rows := connection.execute("SELECT id FROM cases WHERE id > ? ORDER BY id LIMIT 1000", (last,)).fetchall():
        for row in rows:
            yield row[0]
        last = rows[-1][0]


def fill(connection: sqlite3.Connection, version: int) -> None:
    """What a migration to ``version`` must work out from the rows that are there."""
    if version == 2:
        for _ in rebuild(connection):
            pass
    if version == 3:  # who logged what was not kept until now
        connection.execute("INSERT INTO here SELECT id, 'own' FROM cases UNION SELECT lap_id, 'own' FROM lap_rows")
