"""The person's own laps in the record: what each carries, when it was cleaned, what ran on it, what to beware of."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from lapwise.engine.errors import BadInput, Issue, NothingFound, nearest
from lapwise.engine.record.derived import put_here
from lapwise.engine.record.file import RecordFile
from lapwise.engine.record.fold import fold_lap
from lapwise.engine.record.ids import now_text
from lapwise.engine.record.model import WEAR, LapState, LapUse, LapView, OwnLap
from lapwise.engine.record.text import clean_note
from lapwise.engine.wording import listing, small

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge

DUE_AFTER = 8
"""Cases on a lap since it was last cleaned after which it is called due: common practice, no source."""
BEDDED = (
    "coarse grains stay in the face, and washing does not get them out. Cut a fresh face, or keep the lap for the "
    "coarser one."
)
LOOSE = "scrub it back to the bare ceramic. If it still scratches, keep it for the coarser one."
"""A ceramic face holds no grains, and nobody cuts it at home: common practice, no source."""
_KIND_BY_NAME = {"silicon-carbide": "carbide", "none": "none"}


def compound_kind(compound: str, knowledge: Knowledge | None) -> str:
    """oxide, carbide, diamond or none; from the id's own words where the knowledge is not at hand."""
    known = knowledge.compounds.get(compound) if knowledge else None
    if known is not None:
        return known.kind
    return "diamond" if compound.startswith("diamond") else _KIND_BY_NAME.get(compound, "oxide")


def grain(compound: str, knowledge: Knowledge | None) -> float | None:
    """Typical grain in µm, None if it is not known. By the mesh number in the id without the knowledge."""
    known = knowledge.compounds.get(compound) if knowledge else None
    if known is not None:
        return known.typical_um
    mesh = compound.removeprefix("diamond-")
    return 15000.0 / int(mesh) if mesh.isdigit() and int(mesh) else None


def coarser_than(compound: str, others: set[str], knowledge: Knowledge | None) -> tuple[str, ...]:
    """Those of ``others`` that leave coarser or harder grains behind than ``compound`` may bear."""
    kind, size = compound_kind(compound, knowledge), grain(compound, knowledge)
    worse = []
    for other in sorted(others - {compound, "none", ""}):
        other_kind, other_size = compound_kind(other, knowledge), grain(other, knowledge)
        harder = (kind, other_kind) in (("oxide", "diamond"), ("oxide", "carbide"), ("diamond", "carbide"))
        coarser = kind == other_kind == "diamond" and size and other_size and other_size > size * 1.2
        if harder or coarser:
            worse.append(other)
    return tuple(worse)


class OwnLaps(RecordFile):
    """The part of the record that keeps own laps; every change is a new row."""

    _insert: Callable[[sqlite3.Connection, dict[str, object]], None]

    def laps(self, *, removed: bool = False) -> list[OwnLap]:
        """Own laps in the order they were added; those taken out of use only on request."""
        with self.reading() as connection:
            rows: dict[str, list[tuple[str, str, str, str, str]]] = {}
            for row in connection.execute("SELECT id, lap_id, at, kind, body FROM lap_rows ORDER BY lap_id, id"):
                rows.setdefault(row[1], []).append(row)
            here = {row[0] for row in connection.execute("SELECT id FROM here JOIN lap_rows USING (id)")}
        found = [replace(lap, yours=lap.id in here) for lap in map(fold_lap, rows.values()) if lap is not None]
        return [lap for lap in found if removed or not lap.removed]

    def lap(self, lap_id: str) -> OwnLap:
        """The own lap with this id, name, or end of an id; of one name one's own before an imported one.

        Raises :class:`NothingFound`, or :class:`BadInput` where several of a name are left.
        """
        wanted = lap_id.strip().lower()
        everything = self.laps(removed=True)
        by_name = [lap for lap in everything if lap.name.lower() == wanted]
        for found in (
            [lap for lap in everything if lap.id == wanted],
            [lap for lap in by_name if lap.yours and not lap.removed],
            [lap for lap in by_name if not lap.removed],
            [lap for lap in by_name if lap.yours],
            by_name,
            [lap for lap in everything if len(wanted) >= 4 and lap.id.endswith(wanted)],
        ):
            if len(found) == 1:
                return found[0]
            if found:
                ids = tuple(lap.id for lap in found)
                what = "more than one lap has this name: give its id, or the end of it"
                raise BadInput(Issue(what, "own lap", lap_id, ids))
        names = tuple(lap.name for lap in everything if not lap.removed)
        raise NothingFound(Issue("no such lap of yours", "own lap", lap_id, names, nearest(lap_id, names)))

    def add_lap(self, lap: OwnLap) -> str:
        """Add a lap; returns its id. Raises :class:`BadInput` for a name that is taken or a size that cannot be."""
        lap = _checked(lap)
        with self.writing() as connection:
            self._name_free(lap)
            return self._lap_row(connection, "", "add", lap)

    def change_lap(self, lap_id: str, **changes: object) -> str:
        """Change fields of a lap, by a new row; returns the row's id."""
        with self.writing() as connection:
            now = self.lap(lap_id)
            changed = _checked(replace(now, **changes))  # type: ignore[arg-type]
            self._name_free(changed)
            return self._lap_row(connection, now.id, "change", changed)

    def clean_lap(self, lap_id: str, *, resurfaced: bool = False) -> str:
        """Log that a lap was cleaned, or cut down to a fresh face; returns the row's id."""
        now = self.lap(lap_id)
        with self.writing() as connection:
            return self._lap_row(connection, now.id, "resurface" if resurfaced else "clean", None)

    def remove_lap(self, lap_id: str) -> str:
        """Take a lap out of use. What ran on it stays in the record. Returns the row's id."""
        now = self.lap(lap_id)
        with self.writing() as connection:
            return self._lap_row(connection, now.id, "remove", None)

    def _name_free(self, lap: OwnLap) -> None:
        """Raises :class:`BadInput` if another own lap has the name. Within the transaction that gives it."""
        for other in self.laps():
            if other.yours and other.id != lap.id and other.name.lower() == lap.name.lower():
                raise BadInput(Issue("you have a lap of this name already", "name", lap.name))

    def _lap_row(self, connection: sqlite3.Connection, lap_id: str, kind: str, lap: OwnLap | None) -> str:
        row_id = self.new_id(connection, lap_id)
        put_here(connection, lap_id or row_id)
        body = {}
        if lap is not None:
            body = {k: v for k, v in lap.as_json().items() if k not in ("id", "last_cleaned", "removed", "yours")}
            if kind == "add" and lap.last_cleaned:
                body["last_cleaned"] = lap.last_cleaned
        self._insert(
            connection,
            {"row": "lap", "id": row_id, "lap_id": lap_id or row_id, "at": now_text(), "kind": kind, "body": body},
        )
        return row_id

    def lap_view(self, lap: OwnLap, knowledge: Knowledge) -> LapView:
        """The lap with all that is said of it here."""
        state, warnings = self.lap_state(lap.id, knowledge), self.lap_warnings(lap.id, knowledge)
        return LapView(lap, state, warnings, self.last_run(lap.id), self.lap_uses(lap.id))

    def lap_uses(self, lap_id: str) -> tuple[LapUse, ...]:
        """What ran on a lap, most used first."""
        lap = self.lap(lap_id)
        with self.reading() as connection:
            rows = connection.execute(
                "SELECT k2, k3, a FROM counts WHERE kind = 'lap' AND k1 = ? AND a > 0 ORDER BY a DESC, k2, k3",
                (lap.id,),
            ).fetchall()
        return tuple(LapUse(*row) for row in rows)

    def last_run(self, lap_id: str) -> str | None:
        """When something last ran on the lap (UTC), or None."""
        with self.reading() as connection:
            row = connection.execute(
                "SELECT c.at FROM case_now n JOIN cases c ON c.id = n.case_id WHERE n.own_lap = ? AND n.withdrawn = 0 "
                "ORDER BY n.last DESC LIMIT 1",
                (self.lap(lap_id).id,),
            ).fetchone()
        return None if row is None else str(row[0])

    def _ran_since(self, lap_id: str, kinds: tuple[str, ...]) -> tuple[int, set[str]]:
        """(cases up to :data:`DUE_AFTER`, compounds) since the newest row of one of these kinds."""
        with self.reading() as connection:
            marks = ", ".join("?" * len(kinds))
            row = connection.execute(
                f"SELECT max(id) FROM lap_rows WHERE lap_id = ? AND kind IN ({marks})", (lap_id, *kinds)
            ).fetchone()
            since = row[0] or ""
            cases = connection.execute(
                "SELECT count(*) FROM (SELECT 1 FROM case_now "
                "WHERE own_lap = ? AND last > ? AND withdrawn = 0 LIMIT ?)",
                (lap_id, since, DUE_AFTER),
            ).fetchone()[0]
            ran = connection.execute(
                "SELECT DISTINCT k3 FROM counts WHERE kind = 'lap' AND k1 = :lap AND a > 0 AND (:since = '' OR EXISTS "
                "(SELECT 1 FROM case_now WHERE own_lap = :lap AND compound = k3 AND last > :since AND withdrawn = 0))",
                {"lap": lap_id, "since": since},
            )
            compounds = {row[0] for row in ran}
            bodies = connection.execute(
                "SELECT body FROM lap_rows WHERE lap_id = ? AND id > ? AND kind IN ('add', 'change')", (lap_id, since)
            ).fetchall()
        for (body,) in bodies:
            compounds |= set(json.loads(body).get("carries") or ())
        return int(cases), compounds - {""}

    def lap_state(self, lap_id: str, knowledge: Knowledge | None = None) -> LapState:
        """``carried-coarser``: since it was last cut to a fresh face it carried something coarser or harder than what
        it carries now (washing does not cure that); ``due-for-cleaning``: much used since it was last cleaned."""
        lap = self.lap(lap_id)
        if self._coarser_on(lap, knowledge):
            return "carried-coarser"
        cases, _ = self._ran_since(lap.id, ("clean", "resurface"))
        return "due-for-cleaning" if cases >= DUE_AFTER else "clean"

    def _coarser_on(self, lap: OwnLap, knowledge: Knowledge | None) -> tuple[str, ...]:
        _, carried = self._ran_since(lap.id, ("resurface",))
        now = set(lap.carries) or {c for c in carried if c}
        worse = {w for c in now for w in coarser_than(c, carried | set(lap.carries), knowledge)}
        return tuple(sorted(worse))

    def lap_warnings(self, lap_id: str, knowledge: Knowledge | None = None) -> tuple[str, ...]:
        """What to beware of with a lap, in sentences."""
        lap = self.lap(lap_id)
        found = []
        if worse := self._coarser_on(lap, knowledge):
            names = _listed(worse, knowledge)
            finest = _listed([c for c in lap.carries if c not in worse], knowledge) or "a finer compound"
            kind = knowledge.laps.get(lap.type) if knowledge else None
            mend = LOOSE if kind is not None and "ceramic" in kind.traits else BEDDED
            found.append(f"It has had {names} on it as well as {finest}: {mend}")
        cases, _ = self._ran_since(lap.id, ("clean", "resurface"))
        if cases >= DUE_AFTER:
            found.append(f"{cases} cases or more have run on it since it was last cleaned.")
        elif lap.last_cleaned is None and cases:
            found.append("No cleaning of it was ever logged.")
        if lap.wear == "worn-out":
            found.append("You marked it as worn out.")
        return tuple(found)


def _listed(compounds: Sequence[str], knowledge: Knowledge | None) -> str:
    """The compounds by their labels, as they stand in a sentence; by id where the knowledge is not at hand."""
    known = knowledge.compounds if knowledge else {}
    return listing(small(known[c].label) if c in known else c for c in compounds)


def _checked(lap: OwnLap) -> OwnLap:
    problems = []
    name = clean_note(lap.name, 60).replace("\n", " ")
    if not name:
        problems.append(Issue("a lap needs a name", "name"))
    for field, high in (("diameter_mm", 1000.0), ("thickness_mm", 200.0)):
        value = getattr(lap, field)
        if value is not None and not 0 < value <= high:
            problems.append(Issue(f"a size over 0 and up to {high:g} mm is required", field, f"{value:g}"))
    if lap.wear and lap.wear not in WEAR:
        problems.append(Issue("no such word for wear", "wear", lap.wear, WEAR, nearest(lap.wear, WEAR)))
    if problems:
        raise BadInput(problems)
    return replace(
        lap,
        name=name,
        grade=clean_note(lap.grade, 200).replace("\n", " "),
        note=clean_note(lap.note),
        carries=tuple(dict.fromkeys(lap.carries)),
    )
