"""The charts of the record: points where the minutes were, stones with the most cures first."""

from __future__ import annotations

from typing import cast

from lapwise.engine.case import Case
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.learning.model import WhatWorks
from lapwise.engine.record.model import CaseRecord, Step
from lapwise.tui.screens.record_charts import cured_lines, minutes_chart


class Labels:
    """All of the knowledge that a chart asks for."""

    def label(self, name: str) -> str:
        return name.capitalize()


def fixed(day: int, minutes: float, result: str = "fixed") -> CaseRecord:
    at = f"2026-03-{day:02d}T09:00:00.000Z"
    step = Step(f"s{day}", f"c{day}", at, "try", remedy="clean-lap", outcome="fixed", minutes=minutes)
    return CaseRecord(f"c{day}", at, Case("quartz"), False, result, (step,))


def test_each_facet_is_a_point_and_the_oldest_stands_left() -> None:
    cases = [fixed(day, 24.0 - 2 * day) for day in range(10, 0, -1)]
    lines = [line.plain for line in minutes_chart(cases, 80)]
    drawn = [line for line in lines if "┤" in line]
    assert sum(line.count("●") for line in drawn) == 10
    assert drawn[0].lstrip().startswith("22 min┤●"), "the oldest took longest and stands top left"
    assert drawn[-1].lstrip().startswith("0 min┤")
    assert "2026-03-01" in lines[-2]
    assert lines[-2].rstrip().endswith("2026-03-10")
    assert max(map(len, lines)) <= 80


def test_what_did_not_come_out_good_or_was_not_timed_is_no_point() -> None:
    cases = [fixed(1, 5), fixed(2, 6), fixed(3, 0), fixed(4, 9, "given-up")]
    assert minutes_chart(cases, 80) == []


def test_cures_by_stone() -> None:
    knowledge = cast(Knowledge, Labels())
    cured = (("quartz", "clean-lap", 6), ("quartz", "recharge-lap", 3), ("topaz", "clean-lap", 2), ("", "wetter", 1))
    works = WhatWorks(None, 12, (), (), {}, (), cured)
    lines = [line.plain for line in cured_lines(works, knowledge, 76)]
    assert lines[2] == "Quartz, 9 cures"
    assert lines[3].endswith("████████████████    6")
    assert lines[4].endswith("████████········    3")
    assert lines[5] == "Topaz, 2 cures"
    assert lines[7].endswith(", 1 cure")
    assert max(map(len, lines)) <= 76
    assert cured_lines(WhatWorks(None, 1, (), (), {}, (), cured[:2]), knowledge, 76) == []
