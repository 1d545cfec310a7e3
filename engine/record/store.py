"""The record: cases with their steps, and own laps. Nothing is overwritten; nothing is said before it is on disk."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any

from lapwise.engine.case import OUTCOMES, Case, Outcome
from lapwise.engine.errors import BadInput, Issue, NothingFound, Overtaken
from lapwise.engine.record import derived
from lapwise.engine.record.fold import facts_only, undoable
from lapwise.engine.record.ids import far_ahead, now_ms, now_text, version
from lapwise.engine.record.model import COLUMNS, RESULTS, CaseRecord, PairResult, Step
from lapwise.engine.record.own_laps import OwnLaps
from lapwise.engine.record.rows import ANY_TIME, Refused, read_row

LONGEST_MINUTES = 100_000.0
_OWN = "EXISTS (SELECT 1 FROM here WHERE here.id = case_now.case_id)"


class Record(OwnLaps):
    """A person's record. Made with :meth:`open`; use as a context manager or call :meth:`close`."""

    # --- writing ------------------------------------------------------------------------------------------------

    def log_outcome(
        self,
        case: Case,
        remedy: str,
        outcome: Outcome,
        *,
        minutes: float | None,
        note: str = "",
        shown: Mapping[str, Any] | None = None,
        knowledge_digest: str,
        case_id: str | None = None,
        newest: str | None = None,
    ) -> str:
        """Log what a remedy did; returns the new row's id once it is on disk.

        Without ``case_id`` a case is opened first, with ``case`` as it is. With it, changed facts of ``case`` become
        a row of their own before. ``minutes``: hands-on minutes. ``shown``: what was on the screen before the remedy,
        see :mod:`lapwise.engine.diagnosis.shown`. Ids are not checked against the knowledge here.

        ``newest``, here and below: the id of the case's newest row as the caller knows it; if another process has
        added to the case since, :class:`Overtaken` is raised and nothing is written.
        """
        if outcome not in OUTCOMES:
            raise BadInput.unknown("no such outcome", outcome, OUTCOMES, "outcome")
        if minutes is not None and not 0 <= minutes <= LONGEST_MINUTES:
            raise BadInput(Issue("minutes from 0 to 100000 are required", "minutes", str(minutes)))
        with self.writing() as connection:
            case_id = self._at_case(connection, case, case_id, knowledge_digest, newest)
            return self._add_step(
                connection,
                case_id,
                "try",
                knowledge_digest,
                remedy=remedy,
                outcome=outcome,
                minutes=minutes,
                note=note,
                shown=shown,
            )

    def log_look(
        self,
        case_id: str | None,
        look: str,
        result: str,
        *,
        minutes: float | None = None,
        note: str = "",
        shown: Mapping[str, Any] | None = None,
        knowledge_digest: str = "",
        case: Case | None = None,
        newest: str | None = None,
    ) -> str:
        """Log what a look showed; returns the new row's id. ``case``: as for :meth:`log_outcome`."""
        with self.writing() as connection:
            case_id = self._at_case(connection, case, case_id, knowledge_digest, newest)
            return self._add_step(
                connection,
                case_id,
                "look",
                knowledge_digest,
                look=look,
                result=result,
                minutes=minutes,
                note=note,
                shown=shown,
            )

    def open_case(self, case: Case, *, knowledge_digest: str = "") -> str:
        """Open a case; returns its id."""
        with self.writing() as connection:
            return self._at_case(connection, case, None, knowledge_digest)

    def update_case(
        self, case_id: str, case: Case, *, knowledge_digest: str = "", newest: str | None = None
    ) -> str | None:
        """Log changed facts as a new row; returns its id, or None if nothing is different."""
        with self.writing() as connection:
            last = "SELECT id FROM steps ORDER BY seq DESC LIMIT 1"
            before = connection.execute(last).fetchone()
            self._at_case(connection, case, case_id, knowledge_digest, newest)
            after = connection.execute(last).fetchone()
            return None if before == after else str(after[0])

    def close_case(
        self,
        case_id: str | None,
        result: str = "given-up",
        *,
        note: str = "",
        case: Case | None = None,
        knowledge_digest: str = "",
        newest: str | None = None,
    ) -> str:
        """Close a case as ``fixed``, ``polished``, ``accepted`` or ``given-up``; returns the new row's id.

        ``case``: as for :meth:`log_outcome`.
        """
        if result not in RESULTS:
            raise BadInput.unknown("a case cannot end like that", result, RESULTS, "result")
        with self.writing() as connection:
            case_id = self._at_case(connection, case, case_id, knowledge_digest, newest)
            return self._add_step(connection, case_id, "close", "", result=result, note=note)

    def undo_last(self, case_id: str) -> str:
        """Take back the newest row of the case that still counts, by a new row; returns the new row's id.

        The case itself is taken back when nothing else is left of it.
        """
        with self.writing() as connection:
            target = undoable(self._need(connection, case_id))
            if target is None:
                raise NothingFound(Issue("there is nothing left to take back in this case", "case", case_id))
            return self._add_step(connection, case_id, "undo", "", withdraws=target)

    def undo(
        self,
        case_id: str,
        step_id: str,
        case: Case | None = None,
        *,
        knowledge_digest: str = "",
        newest: str | None = None,
    ) -> str:
        """Take one step back by a new row; what came after it stands. Returns the new row's id.

        ``case``: the case as it stands, whose changed facts are kept in the same transaction. Raises
        :class:`NothingFound` if the step is not there or was taken back already: nothing is changed then.
        """
        with self.writing() as connection:
            self._counting(connection, case_id, step_id, newest)
            self._at_case(connection, case, case_id, knowledge_digest)
            return self._add_step(connection, case_id, "undo", "", withdraws=step_id)

    def amend(
        self,
        case_id: str,
        step_id: str,
        *,
        minutes: float | None,
        note: str,
        knowledge_digest: str,
        newest: str | None = None,
    ) -> str:
        """Other minutes or another note for a try or a look: its row is taken back and written anew, or nothing is.

        Returns the new row's id. Raises as :meth:`undo` does.
        """
        with self.writing() as connection:
            before = self._need(connection, case_id).case
            step = self._counting(connection, case_id, step_id, newest)
            self._add_step(connection, case_id, "undo", "", withdraws=step_id)
            kept = {name: getattr(step, name) for name in ("remedy", "outcome", "look", "result", "shown")}
            new = self._add_step(connection, case_id, step.kind, knowledge_digest, minutes=minutes, note=note, **kept)
            if step.kind == "try" and before.settled == len(before.tried):
                # something else was stated since: the facts stand after the try, as they did
                self._add_step(connection, case_id, "facts", knowledge_digest, case=_plain(facts_only(before)))
            return new

    def _counting(self, connection: sqlite3.Connection, case_id: str, step_id: str, newest: str | None) -> Step:
        for step in self._need(connection, case_id, newest).steps:
            if step.id == step_id and step.kind != "undo" and not step.withdrawn:
                return step
        raise NothingFound(Issue("this has already been taken back, or is not in the case", "step", step_id))

    def _need(self, connection: sqlite3.Connection, case_id: str, newest: str | None = None) -> CaseRecord:
        found = derived.load_case(connection, case_id)
        if found is None:
            raise NothingFound(Issue("no such case in the record", "case", case_id))
        if newest is not None and found.last != newest:
            raise Overtaken(Issue("the case went on in another window", "case", case_id))
        if connection.execute("SELECT 1 FROM here WHERE id = ?", (case_id,)).fetchone() is None:
            return replace(found, yours=False)
        return found

    def _at_case(
        self,
        connection: sqlite3.Connection,
        case: Case | None,
        case_id: str | None,
        digest: str,
        newest: str | None = None,
    ) -> str:
        """The case to add to: opened, or its facts brought up to date where ``case`` says them."""
        if case_id is None:
            if case is None:
                raise BadInput(Issue("a case is required", "case"))
            case_id = self.new_id(connection)
            connection.execute("INSERT INTO case_keys VALUES (?)", (case_id,))
            self._insert(
                connection,
                {
                    "row": "case",
                    "id": case_id,
                    "at": now_text(),
                    "case": _plain(case.as_json()),
                    "knowledge": digest,
                    "version": version(),
                },
            )
            derived.put_here(connection, case_id)
            derived.changed(connection, {}, derived.load_case(connection, case_id))
            return case_id
        now = self._need(connection, case_id, newest)
        if case is not None and facts_only(now.case) != facts_only(case):
            self._add_step(connection, case_id, "facts", digest, case=_plain(facts_only(case)))
        return case_id

    def _add_step(self, connection: sqlite3.Connection, case_id: str, kind: str, digest: str, **columns: object) -> str:
        before = derived.counted(connection, derived.load_case(connection, case_id))
        step_id = self.new_id(connection, case_id)
        derived.put_here(connection, case_id)
        self._insert(
            connection,
            {
                "row": "step",
                "id": step_id,
                "case_id": case_id,
                "at": now_text(),
                "kind": kind,
                "knowledge": digest,
                "version": version(),
                **columns,
            },
        )
        derived.changed(connection, before, derived.load_case(connection, case_id))
        return step_id

    def _insert(self, connection: sqlite3.Connection, data: Mapping[str, Any]) -> None:
        """Add a row through the same checks as an import, so that whatever is kept can be exported and read again."""
        try:
            row = read_row({k: v for k, v in data.items() if v is not None}, ANY_TIME)
        except Refused as reason:
            raise BadInput(Issue(f"this cannot be logged: {reason}")) from None
        columns = row.columns
        connection.execute(
            f"INSERT INTO {row.table} ({', '.join(columns)}) VALUES ({', '.join(':' + c for c in columns)})", columns
        )

    # --- reading ------------------------------------------------------------------------------------------------

    def empty(self) -> bool:
        """Whether nothing at all was logged."""
        with self.reading() as connection:
            return connection.execute("SELECT 1 FROM cases LIMIT 1").fetchone() is None

    def case(self, case_id: str) -> CaseRecord:
        """A case as it stands now. Raises :class:`NothingFound`."""
        with self.reading() as connection:
            return self._need(connection, case_id)

    def case_of(self, step_id: str) -> CaseRecord:
        """The case that a row is of, as it stands now. Raises :class:`NothingFound`."""
        with self.reading() as connection:
            row = connection.execute("SELECT case_id FROM steps WHERE id = ?", (step_id,)).fetchone()
            return self._need(connection, row[0] if row else step_id)

    def steps(self, case_id: str) -> tuple[Step, ...]:
        """The steps of a case in order, those taken back marked."""
        return self.case(case_id).steps

    def cases(
        self, material: str | Sequence[str] | None = None, limit: int = 50, *, own_lap: str | None = None
    ) -> list[CaseRecord]:
        """The newest cases, newest first. ``material``: an id, or several (a group), or None for all. ``own_lap``: the
        id of the lap they ended on, or None for all."""
        names = [material] if isinstance(material, str) else list(material or ())
        asked = [f"material IN ({', '.join('?' * len(names))})"] if names else []
        asked += ["own_lap = ?"] if own_lap is not None else []
        return self._newest(" AND ".join(asked), [*names, *([own_lap] if own_lap is not None else [])], limit)

    def open_cases(self, limit: int = 50, *, of_all: bool = False) -> list[CaseRecord]:
        """Cases not yet closed, the one worked on last first: one's own, or with ``of_all`` imported ones too."""
        return self._newest("open = 1" if of_all else f"open = 1 AND {_OWN}", (), limit)

    def last_case(self) -> CaseRecord | None:
        """The own case worked on last, open or not."""
        found = self._newest(_OWN, (), 1)
        return found[0] if found else None

    def _newest(self, condition: str, values: Sequence[str], limit: int) -> list[CaseRecord]:
        """The newest cases of a condition on ``case_now``. Those dated far in the future, by a clock that was wrong,
        come after the others."""
        rest = f" AND {condition}" if condition else ""
        found: list[str] = []
        with self.reading() as connection:
            ahead = far_ahead(now_ms()) or "g"
            for when in ("last < ?", "last >= ?"):
                if len(found) < limit:
                    found += [
                        row[0]
                        for row in connection.execute(
                            f"SELECT case_id FROM case_now WHERE withdrawn = 0 AND {when}{rest} "
                            "ORDER BY last DESC LIMIT ?",
                            (ahead, *values, limit - len(found)),
                        )
                    ]
            return [self._need(connection, case_id) for case_id in found]

    def find_case(self, text: str) -> CaseRecord:
        """The case with this id, or whose id ends so (four characters or more). Raises :class:`NothingFound`."""
        wanted = text.strip().lower()
        short = len(wanted) < 4
        with self.reading() as connection:
            found = connection.execute("SELECT id FROM cases WHERE id = ?", (wanted,)).fetchall()
            if not found and not short and set(wanted) <= set("0123456789abcdef-"):
                found = connection.execute("SELECT id FROM cases WHERE id LIKE ? LIMIT 5", (f"%{wanted}",)).fetchall()
            if len(found) == 1:
                return self._need(connection, found[0][0])
        if found:
            what = "more than one case has an id ending like this: give more of it"
            raise BadInput(Issue(what, "case", text, tuple(row[0] for row in found)))
        hint = " (give the whole id, or at least its last four characters)" if short else ""
        raise NothingFound(Issue(f"no such case in the record{hint}", "case", text))

    def counts(self) -> dict[str, int]:
        """How many cases, steps and lap rows there are."""
        with self.reading() as connection:
            return {t: int(connection.execute(f"SELECT count(*) FROM {t}").fetchone()[0]) for t in COLUMNS}

    def pair_result(self, groups: Sequence[Collection[str]], lap: str, compound: str) -> PairResult | None:
        """What the record says of this lap and compound. ``groups``: the ids of the material alone, then of all the
        members of each group it belongs to, from near to far, as learning pools them.

        The nearest group that has anything logged decides: "worked" from three in four, "failed" up to one in four.
        """
        with self.reading() as connection:
            for members in groups:
                marks = ", ".join("?" * len(members))
                row = connection.execute(
                    f"SELECT sum(a), sum(b) FROM counts WHERE kind = 'use' AND k2 = ? AND k3 = ? AND k1 IN ({marks})",
                    (lap, compound, *sorted(members)),
                ).fetchone()
                worked, failed = row[0] or 0, row[1] or 0
                if worked + failed > 0:
                    share = worked / (worked + failed)
                    return "worked" if share >= 0.75 else "failed" if share <= 0.25 else "mixed"
        return None


def _plain(data: Mapping[str, Any]) -> dict[str, Any]:
    """Tuples as lists, as JSON has them."""
    found: dict[str, Any] = json.loads(json.dumps(data))
    return found
