"""Charts of the record: minutes to a good facet case by case, and what cured on which stone."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from statistics import median
from typing import TYPE_CHECKING

from textual.content import Content

from lapwise.engine.wording import counted
from lapwise.tui.present.case import name_of
from lapwise.tui.present.drawing import Point, curve_lines
from lapwise.tui.widgets.lines import bar_line, heading, para

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge
    from lapwise.engine.learning.model import WhatWorks
    from lapwise.engine.record.model import CaseRecord

BACK = 5
"""Cases behind each place of the line: half of them took longer, half less."""
FEWEST = 3
"""Cases from which on there is anything to see."""
STONES, REMEDIES = 8, 4
"""Most stones shown, and most remedies of each."""


def minutes_chart(cases: Sequence[CaseRecord], width: int) -> list[Content]:
    """Minutes of each case that came out good, the oldest on the left, with the middle of the newest five as a line.

    ``cases``: the newest first.
    """
    good = [(c.at[:10], c.minutes) for c in reversed(cases) if c.result == "fixed" and c.minutes]
    if len(good) < FEWEST:
        return []
    minutes = [spent for _, spent in good]
    line = [(float(at), median(minutes[max(0, at + 1 - BACK) : at + 1])) for at in range(len(good))]
    points = [Point(float(at), spent) for at, spent in enumerate(minutes)]
    columns = max(20, min(width - 12, 72))
    days = [good[0][0], good[-1][0]]
    drawn = curve_lines(line, points, columns=columns, lines=8, unit=" min", number=".0f", x_labels=days)
    return [
        Content(""),
        heading(f"The newest {counted(len(good), 'facet')}, one by one"),
        *(Content.styled(text, "$primary") for text in drawn),
        para(f"● one facet; the line is the middle one of the last {BACK}.", style="italic"),
    ]


def cured_lines(works: WhatWorks, knowledge: Knowledge, width: int) -> list[Content]:
    """What cured, stone by stone, the most cures first; nothing while there are fewer than two stones."""
    stones = [(stone, list(rows)) for stone, rows in groupby(works.cured, key=lambda row: row[0])]
    if len(stones) < 2:
        return []
    most = max(times for _, _, times in works.cured)
    lines: list[Content] = [Content(""), heading("What cured, by stone")]
    for stone, rows in stones[:STONES]:
        cures = counted(sum(times for _, _, times in rows), "cure")
        lines.append(Content.assemble((name_of(knowledge, stone or None), "bold"), f", {cures}"))
        for _, remedy, times in rows[:REMEDIES]:
            label = name_of(knowledge, remedy)
            lines.append(Content("  ") + bar_line(label, max(12, width - 26), times / most, 16, str(times), 5))
        if len(rows) > REMEDIES:
            lines.append(para(f"and {len(rows) - REMEDIES} more", indent="  ", style="italic"))
    left = len(stones) - STONES
    return [*lines, para(f"and {counted(left, 'stone')} more", style="italic")] if left > 0 else lines
