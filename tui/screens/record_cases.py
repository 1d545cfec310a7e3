"""The cases of the record: a line or two for each in the list, and one opened to read from beginning to end."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby
from typing import TYPE_CHECKING

from textual.content import Content

from lapwise.engine.wording import listing, plain_id, small
from lapwise.tui.present.case import key_name, name_of, told_name, value_name
from lapwise.tui.present.record import THEIRS
from lapwise.tui.present.words import bench_time, fit, taken
from lapwise.tui.screens.case_questions import ENDS
from lapwise.tui.screens.case_sheets import done_sheet
from lapwise.tui.screens.sheet import Line, heading, para
from lapwise.tui.widgets.rows import Paint, Rows

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge
    from lapwise.engine.record.model import CaseRecord

RESULTS = {"fixed": "fixed", **{end.id: small(end.label) for end in ENDS}}
"""How a case ended, in the words of its question."""
LINES = 2
"""Lines to a case in the list."""


class CaseRows(Rows):
    """The newest cases."""

    help_text = (
        "The newest cases, two lines to each: the day, how it ended, stone and minutes; then lap and compound, what "
        "was seen and what cured it. Enter opens the marked case: all that was stated, tried and noted."
    )


def ended(kept: CaseRecord) -> str:
    """How a case ended, in words."""
    return RESULTS.get(kept.result or "open", plain_id(kept.result or "open"))


def on_what(kept: CaseRecord, knowledge: Knowledge, laps: Mapping[str, str]) -> str:
    """The lap with its compound; an own lap by its name. ``laps``: own lap id to name."""
    case = kept.case
    own = laps.get(case.own_lap or "")
    lap = f"“{own}”" if own else small(name_of(knowledge, case.lap, "lap not stated"))
    return lap + (f" with {small(name_of(knowledge, case.compound))}" if case.compound else "")


def seen(kept: CaseRecord, knowledge: Knowledge) -> str:
    """What was seen."""
    return listing(small(name_of(knowledge, s)) for s in kept.case.symptoms) or "nothing noted yet"


def case_painter(kept: CaseRecord, knowledge: Knowledge, laps: Mapping[str, str]) -> Paint:
    """Two lines: day, end, stone, minutes; then lap, compound, what was seen and what cured it."""
    end = ended(kept) + ("" if kept.yours else ", imported")
    time = "" if kept.minutes is None else taken(kept.minutes)
    cure = f" → {small(name_of(knowledge, kept.cure))}" if kept.cure else ""
    what = f"{on_what(kept, knowledge, laps)}: {seen(kept, knowledge)}"

    def paint(width: int) -> tuple[Content, Content]:
        indent, last = 12, 12
        wide = 14 if kept.yours else 24
        room = max(8, width - indent - wide - last)
        first = Content.assemble(
            (kept.at[:10] + "  ", ""),
            (fit(name_of(knowledge, kept.case.material), room), "bold"),
            (fit(end, wide), "$secondary"),
            (fit(time, last, right=True), ""),
        )
        # the cure is the point: it is kept whole, and what was seen gives way
        least = max(0, width - indent - len(cure))
        second = fit(what, least).rstrip() + cure if least >= 16 else what + cure
        return first, Content(" " * indent + fit(second, max(1, width - indent)))

    return paint


def case_sheet(kept: CaseRecord, knowledge: Knowledge, laps: Mapping[str, str]) -> list[Line]:
    """One case from beginning to end: what was on the machine, what was stated and seen, what was tried and noted."""
    case = kept.case
    time = "not timed" if kept.minutes is None else f"{taken(kept.minutes)} in all"
    lines: list[Line] = [para(f"{bench_time(kept.at)[:10]}, {ended(kept)}, {time}.")]
    if not kept.yours:
        lines.append(para(f"It came {THEIRS}: it is somebody else's, and nothing is added to it."))
    stage = value_name(knowledge, "stage", case.stage)
    lines.append(para(f"On the machine: {on_what(kept, knowledge, laps)}; {stage}."))
    if case.prior:
        lines.append(para(f"{told_name('prior')}: {small(name_of(knowledge, case.prior))}."))
    lines.append(para(f"Seen: {seen(kept, knowledge)}."))
    if case.facts:
        stated = (f"{key_name(k)} {value_name(knowledge, k, v)}" for k, v in sorted(case.facts.items()))
        lines.append(para(f"Stated: {'; '.join(stated)}."))
    done = [s for s in kept.steps if s.kind in ("try", "look")]
    if not done and (case.tried or case.saw):  # logged in one line, or by another program
        lines += [Content(""), heading("What was done"), *done_sheet((), case, knowledge)]
    for day, steps in groupby(done, key=lambda s: bench_time(s.at)[:10]):
        lines += [Content(""), heading(f"What was done, {day}"), *done_sheet(tuple(steps), case, knowledge)]
    if not done and not case.tried and not case.saw:
        lines += [Content(""), para("Nothing was tried or looked at.")]
    notes = [s.note for s in kept.steps if s.kind == "close" and s.note and not s.withdrawn]
    return [*lines, *(para(f"At the end: {note}") for note in notes)]


def own_title(kept: CaseRecord, knowledge: Knowledge) -> str:
    """What the case is called on its sheet."""
    return f"{name_of(knowledge, kept.case.material, 'Stone not stated')}: {seen(kept, knowledge)}"


__all__ = ["LINES", "CaseRows", "case_painter", "case_sheet", "own_title"]
