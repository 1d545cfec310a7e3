"""An invented bench to look at: no real stone, person or shop stands behind it, and nothing of it is kept.

What a person enters there all the same can be copied to the own bench.
"""

from __future__ import annotations

import atexit
import json
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from types import MappingProxyType
from typing import Any, cast

from lapwise.engine.case import Case, FacetSetting, Outcome, Trial
from lapwise.engine.folders import Folders, folders
from lapwise.engine.machine import MachineProfile, save_profile
from lapwise.engine.record.exchange import export_lines
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.rows import HEADER, dump
from lapwise.engine.record.store import Record
from lapwise.engine.transfer import make_row
from lapwise.engine.transfer.kept import keep_list

DEMO = Case(
    material="garnet-spessartine",
    lap="tin-alloy-lap",
    compound="diamond-50000",
    prior="diamond-3000",
    symptoms=("partial-polish",),
    facts=MappingProxyType({"extent": "one-facet", "prior_clean": "yes"}),
    facet=FacetSetting(
        part="pavilion", angle=42.0, index=30.0, gear=96, size_mm=(9.0, 6.0), trials=(Trial(0.0, 0.0, "BBD/BBD/BBD"),)
    ),
)
"""Invented: no real stone, bench or person stands behind it."""
PROFILE = MachineProfile(
    gear=96,
    numbers_run="clockwise",
    fine_mark="degrees",
    fine_mark_size=0.1,
    knob="own",
    angle_zero="upright",
    angle_resolution=0.05,
    rest="hard-stop",
    lap_diameter_mm=200.0,
    lap_directions="both",
)
LAPS = (
    OwnLap("Old tin", "tin-alloy-lap", diameter_mm=200.0, carries=("diamond-50000",), wear="worked-in"),
    OwnLap("Clear one", "acrylic-lap", diameter_mm=200.0, carries=("cerium-oxide",), wear="new"),
    OwnLap("Board", "phenolic-lap", diameter_mm=150.0, carries=("aluminium-oxide", "diamond-8000"), wear="worn"),
)
PAST = (
    ("quartz", "acrylic-lap", "cerium-oxide", "fine-scratches", "clean-lap no-change 6, less-compound fixed 4"),
    ("quartz", "acrylic-lap", "cerium-oxide", "fine-scratches", "less-compound fixed 3"),
    ("quartz", "phenolic-lap", "aluminium-oxide", "stays-dull", "polish-longer no-change 5, step-back-one fixed 14"),
    ("topaz", "tin-alloy-lap", "diamond-50000", "fine-scratches", "reverse-direction better 3, slow-down fixed 4"),
    ("topaz", "tin-alloy-lap", "diamond-50000", "fine-scratches", "slow-down fixed 3"),
    ("garnet-spessartine", "tin-alloy-lap", "diamond-50000", "scratches-return", "clean-everything fixed 12"),
    ("tourmaline", "tin-alloy-lap", "diamond-50000", "one-direction-only", "reverse-direction fixed 2"),
)
"""Material, lap, compound, what was seen, and what was tried with its outcome and minutes."""
TRANSFER = (
    (12, 42, 0.02, 0.12),
    (36, 42, -0.04, 0.02),
    (60, 42, -0.06, -0.08),
    (84, 42, 0, 0.02),
    (24, 37, None, None),
    (96, 37, None, None),
)


def newest_row(record: Record) -> str:
    """The id of the newest row; ids rise."""
    return max((row["id"] for row in _rows(record)), default="")


def own_work(record: Record, since: str, at_hand: str | None) -> list[str]:
    """What a person entered into the sample's ``record`` after the row ``since``, as the lines of an export.

    Cases and laps come whole. Of the invented cases only the one ``at_hand`` comes along, if it was gone on with; an
    invented lap that ran in a case does not.
    """
    rows = list(_rows(record))
    laps = {row["lap_id"] for row in rows if row["row"] == "lap" and row["id"] > since}
    begun = {row["id"] for row in rows if row["row"] == "case" and row["id"] > since}
    begun |= {
        row["case_id"] for row in rows if row["row"] == "step" and row["id"] > since and row["case_id"] == at_hand
    }
    lines = [dump(HEADER)]
    for row in rows:
        if row.get("lap_id") in laps or row.get("case_id", row["id"]) in begun:
            if row.get("case", {}).get("own_lap") not in laps:
                row.get("case", {}).pop("own_lap", None)
            lines.append(dump(row))
    return lines if len(lines) > 1 else []


def _rows(record: Record) -> Iterator[dict[str, Any]]:
    lines = export_lines(record)
    next(lines)
    yield from map(json.loads, lines)


def sample_folders() -> Folders:
    """The folders of a bench of its own, in a place gone when the program ends. Slow: not on the screen's thread."""
    folder = tempfile.mkdtemp(prefix="lapwise-sample-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    where = folders(folder)
    save_profile(where, PROFILE)
    with Record.open(where) as record:
        fill(record)
    keep_list(where, [make_row(at, *row, 96) for at, row in enumerate(TRANSFER, 1)], 96)
    return where


def fill(record: Record) -> None:
    """The invented past of the sample: a few finished cases, three laps, and one case still open."""
    own: dict[str, str] = {}
    for lap in LAPS:
        own[lap.type] = record.add_lap(lap)
    record.clean_lap(own["tin-alloy-lap"])
    for material, lap_type, compound, symptom, tries in PAST:
        case = Case(material, lap_type, compound, symptoms=(symptom,), own_lap=own.get(lap_type))
        case_id = record.open_case(case, knowledge_digest="sample")
        for remedy, said, minutes in map(str.split, tries.split(", ")):
            outcome, spent = cast("Outcome", said), float(minutes)
            record.log_outcome(case, remedy, outcome, minutes=spent, knowledge_digest="sample", case_id=case_id)
            case = case.with_tried(remedy, outcome)
    record.open_case(replace(DEMO, own_lap=own["tin-alloy-lap"]), knowledge_digest="sample")
