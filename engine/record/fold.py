"""From the rows of a case to how it stands now. Pure: the same rows give the same case in any order."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from lapwise.engine.case import Case
from lapwise.engine.record.model import CaseRecord, OwnLap, Step

ENDED_BY = frozenset({"fixed"})


def facts_only(case: Case) -> dict[str, Any]:
    """The case's JSON without remedies and looks (those are rows of their own)."""
    return replace(case, tried=(), saw=(), settled=0).as_json()


def mark_withdrawn(case_id: str, steps: Iterable[Step]) -> tuple[tuple[Step, ...], bool]:
    """The steps in order of id, those taken back marked; and whether the case itself was taken back."""
    ordered = sorted(steps, key=lambda s: s.id)
    taken = {s.withdraws for s in ordered if s.kind == "undo"}
    return tuple(replace(s, withdrawn=True) if s.id in taken else s for s in ordered), case_id in taken


def undoable(record: CaseRecord) -> str | None:
    """Id of the newest step that still counts, else of the case if nothing else is left, else None."""
    for step in reversed(record.steps):
        if step.kind != "undo" and not step.withdrawn:
            return step.id
    return None if record.withdrawn else record.id


def fold_case(case_id: str, at: str, facts: Mapping[str, Any], knowledge: str, steps: Iterable[Step]) -> CaseRecord:
    """The case as it stands after all its steps. ``facts``: the JSON it was opened with."""
    marked, withdrawn = mark_withdrawn(case_id, steps)
    opened = Case.from_json(facts)
    case = opened
    tried, saw = list(opened.tried), list(opened.saw)
    settled = opened.settled
    result: str | None = None
    for step in marked:
        if step.withdrawn:
            continue
        if step.kind == "facts" and step.facts is not None:
            case = Case.from_json(step.facts)
            settled = len(tried)
            result = None
        elif step.kind == "try" and step.remedy and step.outcome:
            tried.append((step.remedy, step.outcome))
            result = "fixed" if step.outcome in ENDED_BY else None
        elif step.kind == "look" and step.look and step.result:
            saw.append((step.look, step.result))
            result = None
        elif step.kind == "close":
            result = step.result
    case = replace(case, tried=tuple(tried), saw=tuple(saw), settled=settled)
    return CaseRecord(case_id, at, case, result is None and not withdrawn, result, marked, knowledge, withdrawn)


def fold_lap(rows: Iterable[tuple[str, str, str, str, str]]) -> OwnLap | None:
    """The own lap after its rows (id, lap id, time, kind, body JSON); None if its first row is not here."""
    lap: OwnLap | None = None
    for row_id, lap_id, at, kind, body in sorted(rows):
        data = json.loads(body)
        if kind == "add" and row_id == lap_id:
            lap = lap_from_json(data, lap_id)
        elif lap is None:
            continue
        elif kind == "change":
            lap = lap_from_json({**lap.as_json(), **data}, lap_id)
        elif kind in ("clean", "resurface"):
            lap = replace(lap, last_cleaned=at)
        elif kind == "remove":
            lap = replace(lap, removed=True)
    return lap


def lap_from_json(data: Mapping[str, Any], lap_id: str) -> OwnLap:
    """An own lap from its JSON form."""
    return OwnLap(
        name=data["name"],
        type=data["type"],
        id=lap_id,
        diameter_mm=data.get("diameter_mm"),
        thickness_mm=data.get("thickness_mm"),
        grade=data.get("grade") or "",
        carries=tuple(data.get("carries") or ()),
        wear=data.get("wear") or "",
        note=data.get("note") or "",
        last_cleaned=data.get("last_cleaned"),
        removed=bool(data.get("removed", False)),
    )
