"""What a map shows before any arithmetic: even, sloped or patchy; which side is dull, and how clearly."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from lapwise.engine.contact.facet_map import FacetMap, Mark

CLEAR = 2
"""Marks by which opposite sides must differ for a slope to count as clear."""

Kind = Literal["even", "sloped", "patchy", "unknown"]


@dataclass(frozen=True, slots=True)
class Shape:
    """``kind``, and by how many marks opposite sides differ.

    ``across``: dull marks of the left minus those of the right; ``along``: of the dop end minus those of the tip end;
    so both have the sign of the turn (clockwise) and of the angle change (raise) that cures them. ``touched``: for an
    even map, whether it is bright (True) or dull (False). ``centre``: of a patchy map, what stays dull.
    """

    kind: Kind
    across: int
    along: int
    touched: bool | None = None
    centre: Literal["centre", "edges"] | None = None

    @property
    def clear_across(self) -> bool:
        """The sides differ by two marks or more."""
        return abs(self.across) >= CLEAR

    @property
    def clear_along(self) -> bool:
        """The ends differ by two marks or more."""
        return abs(self.along) >= CLEAR


def shape_of(facet_map: FacetMap) -> Shape:
    """Read a map. ``unknown``: fewer than three cells are known."""
    across = _difference(facet_map.rows)
    columns = tuple(zip(*facet_map.rows, strict=True))
    along = -_difference(columns)
    if facet_map.known < 3:
        return Shape("unknown", across, along)
    touched, missed = facet_map.count("touched"), facet_map.count("missed")
    if not missed or not touched:
        return Shape("even", 0, 0, touched=bool(touched))
    wrong = _misfits(facet_map)
    clear = max(abs(across), abs(along)) >= CLEAR
    allowed = max(1, facet_map.known // 8) if clear else 0
    if wrong <= allowed:
        return Shape("sloped", across, along)
    return Shape("patchy", across, along, centre=_centre(facet_map))


def _difference(rows: tuple[tuple[Mark, ...], ...]) -> int:
    """Dull marks of the first column's side minus those of the last's, over pairs of mirrored cells both known.

    The outermost cells count and, where they agree with them in sign, the cells further in.
    """
    width = len(rows[0])

    def pairs(depth: int) -> int:
        total = 0
        for row in rows:
            first, last = row[depth], row[width - 1 - depth]
            if {first, last} <= {"touched", "missed"}:
                total += (first == "missed") - (last == "missed")
        return total

    outer = pairs(0)
    inner = sum(pairs(depth) for depth in range(1, width // 2))
    return outer + inner if outer * inner > 0 or outer == 0 else outer


def _misfits(facet_map: FacetMap) -> int:
    """The fewest marks on the wrong side of any straight line between touched and missed cells."""
    marks: list[tuple[float, float, bool]] = []
    for r, row in enumerate(facet_map.rows):
        for c, mark in enumerate(row):
            if mark in ("touched", "missed"):
                u = c / (facet_map.width - 1) - 0.5
                v = 0.5 - r / (facet_map.height - 1)
                marks.append((u, v, mark == "touched"))
    fewest = len(marks)
    for step in range(72):
        turn = math.radians(5.0 * step + 2.3)
        order = sorted(marks, key=lambda m: m[0] * math.cos(turn) + m[1] * math.sin(turn))
        wrong = sum(not m[2] for m in order)
        fewest = min(fewest, wrong)
        for m in order:
            wrong += 1 if m[2] else -1
            fewest = min(fewest, wrong)
    return fewest


def _centre(facet_map: FacetMap) -> Literal["centre", "edges"]:
    inside: list[bool] = []
    outside: list[bool] = []
    for r, row in enumerate(facet_map.rows):
        for c, mark in enumerate(row):
            if mark in ("touched", "missed"):
                rim = r in (0, facet_map.height - 1) or c in (0, facet_map.width - 1)
                (outside if rim else inside).append(mark == "missed")
    dull_in = sum(inside) / len(inside) if inside else 0.0
    dull_out = sum(outside) / len(outside) if outside else 0.0
    return "centre" if dull_in >= dull_out else "edges"
