"""What a drawing is set in: a loupe, the surface cut through, facets in a row, a lap, the stone on its dop."""

from __future__ import annotations

from collections.abc import Sequence

from lapwise.tui.pictures.ink import Fill, Marks, Point, Points, Stroke, moved
from lapwise.tui.pictures.strokes import (
    Box,
    arc,
    arrow,
    box,
    closed,
    disc,
    shaded,
    shine,
    spark,
    together,
    turned,
    within,
)

LOUPE_MIDDLE, LOUPE_RADIUS = (50.0, 40.0), 38.0
FIELD: Box = (12, 2, 88, 78)
"""What the loupe may show."""
SURFACE, FLOOR = 67.0, 79.0
"""Where the surface lies in the cut, and where the cut ends."""


def loupe(*marks: Marks) -> Marks:
    """Through a loupe: a round field with a rim."""
    rim = disc(LOUPE_MIDDLE, LOUPE_RADIUS)
    return together(within(rim, *marks), (Stroke(rim, 2.2),))


def on_the_way(*marks: Marks) -> Marks:
    """Through a loupe, and below it the way the lap runs now."""
    return together(moved(loupe(*marks), to=(50, 33), size=0.82), arrow(((14, 74), (86, 74)), 3, 9))


def cut(top: Sequence[Point], *over: Marks) -> Marks:
    """The surface cut through, across the foot of the sheet: stone is a mesh below ``top`` (left to right)."""
    left, right = top[0][0], top[-1][0]
    body = (*top, (right, FLOOR), (left, FLOOR))
    high = min(y for _, y in top)
    clear = box(left - 3, min(high, SURFACE) - 5, right + 3, FLOOR + 1)
    return together((Fill(clear, 0.0), Fill(body, 0.38), Stroke(tuple(top), 1.5)), *over)


def level(left: float = 8.0, right: float = 92.0) -> Points:
    """A flat surface."""
    return ((left, SURFACE), (right, SURFACE))


def row(*facets: Marks, middle: float = 28.0) -> Marks:
    """Facets of the shape :data:`SMALL` in a row, each drawn on a sheet of its own; at most four."""
    step = 100 / len(facets)
    size = step * 1.28 / 100
    return together(*(moved(marks, to=(step * (i + 0.5), middle), size=size) for i, marks in enumerate(facets)))


FACET: Points = ((26, 4), (74, 4), (96, 40), (74, 76), (26, 76), (4, 40))
"""A facet that fills the sheet, as it is seen without a loupe."""


SMALL: Points = ((33, 4), (67, 4), (86, 23), (86, 57), (67, 76), (33, 76), (14, 57), (14, 23))
"""A facet that stands beside others."""


def facet(*marks: Marks, shape: Points = FACET) -> Marks:
    """A facet with its edge."""
    return together(within(shape, *marks), (Stroke(closed(shape), 2.0),))


def dull(tone: float = 0.5) -> Marks:
    """A satin face over the whole sheet."""
    return (Fill(box(0, 0, 100, 80), tone),)


def bright() -> Marks:
    """A face that mirrors."""
    return together(shine(26, 14, 18), spark((66, 50), 16))


def lap(middle: Point, radius: float, *marks: Marks) -> Marks:
    """A lap from above."""
    rim, axle = disc(middle, radius), disc(middle, 3.0)
    return together(within(rim, *marks), (Stroke(rim, 1.8), Fill(axle, 0.0), Stroke(axle, 1.0)))


def turning(middle: Point, radius: float, *, clockwise: bool = True, begin: float = 200.0, far: float = 120.0) -> Marks:
    """An arrow round: which way the lap runs."""
    path = arc(middle, radius, begin, begin + far)
    return arrow(path if clockwise else path[::-1], 1.8, 6)


def on_dop(tip: Point, *, size: float = 1.0, lean: float = 0.0) -> Marks:
    """A stone on its dop from the side, point down at ``tip``; ``lean`` degrees, to the right as it grows."""
    stone = ((-9, 0), (9, 0), (15, -12), (11, -17), (-11, -17), (-15, -12))
    dop = ((-8, -17), (8, -17), (4, -24), (4, -40), (-4, -40), (-4, -24))
    parts = ((stone, 0.0), (dop, 0.6))
    return together(*(shaded(turned(part, tip, lean, size), tone, 1.3) for part, tone in parts))


def lap_edge(top: float, *marks: Marks, right: float = 96.0) -> Marks:
    """A lap from the side, and what lies on it."""
    return together(shaded(box(4.0, top, right, top + 7.0), 0.75, 1.2), *marks)
