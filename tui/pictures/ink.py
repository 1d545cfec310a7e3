"""What a drawing is made of: strokes and fillings in ink, in units of a sheet 100 wide and 80 high, y downwards.

The same marks are painted as dots for a terminal (:mod:`lapwise.tui.pictures.raster`) and as SVG
(:mod:`lapwise.tui.pictures.vector`). There is ink and there is paper, no colour: a shade is a mesh of dots.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

WIDE, HIGH = 100.0, 80.0
"""The sheet, in units."""

Point = tuple[float, float]
Points = tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through ``points``; ``width`` in units, 0 the finest there is. ``ink`` False rubs out."""

    points: Points
    width: float = 0.0
    ink: bool = True


@dataclass(frozen=True, slots=True)
class Fill:
    """A polygon filled with ``tone``: 0 paper (what lay below is rubbed out), 1 solid ink, between: a mesh of dots."""

    points: Points
    tone: float = 1.0


@dataclass(frozen=True, slots=True)
class Clip:
    """Marks of which only what lies inside a polygon is seen."""

    points: Points
    marks: tuple[Mark, ...]


Mark = Stroke | Fill | Clip
Marks = tuple[Mark, ...]


def runs(marks: Iterable[Mark]) -> Iterator[tuple[Mark, tuple[Points, ...]]]:
    """The marks in their order, strokes of one kind that follow each other as one, with the points of each."""
    for _, alike in groupby(marks, key=lambda m: (m.width, m.ink) if isinstance(m, Stroke) else object()):
        first, *more = alike
        yield first, (first.points, *(mark.points for mark in more))


def moved(marks: Iterable[Mark], *, to: Point, size: float = 1.0) -> Marks:
    """The marks made ``size`` times as large about the sheet's middle, which is then put at ``to``."""

    def at(points: Points) -> Points:
        return tuple((to[0] + (x - WIDE / 2) * size, to[1] + (y - HIGH / 2) * size) for x, y in points)

    out: list[Mark] = []
    for mark in marks:
        if isinstance(mark, Stroke):
            out.append(Stroke(at(mark.points), mark.width * size, mark.ink))
        elif isinstance(mark, Fill):
            out.append(Fill(at(mark.points), mark.tone))
        else:
            out.append(Clip(at(mark.points), moved(mark.marks, to=to, size=size)))
    return tuple(out)
