"""Drawings as text: braille dots, two wide and four high a character."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from lapwise.tui.pictures.ink import HIGH, WIDE, Clip, Fill, Mark, Points, runs

Dots = npt.NDArray[np.bool_]
"""Rows from the top, columns from the left; True is ink."""
_MESH = (
    np.array([[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]], dtype=np.float64) + 0.5
) / 16.0  # ordered dither, 4 by 4
_BRAILLE = np.array([[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]], dtype=np.int64)


def braille(marks: Sequence[Mark], columns: int, lines: int) -> list[str]:
    """The drawing in ``columns`` by ``lines`` characters of braille, each line full."""
    dots = paint(marks, columns * 2, lines * 4)
    bits = (dots.reshape(lines, 4, columns, 2) * _BRAILLE[None, :, None, :]).sum(axis=(1, 3))
    return ["".join(map(chr, row)) for row in (bits + 0x2800).tolist()]


def paint(marks: Sequence[Mark], wide: int, high: int) -> Dots:
    """The drawing as dots, fitted into ``wide`` by ``high`` with its shape kept, in the middle.

    Dots are taken to be square.
    """
    scale = min(wide / WIDE, high / HIGH)
    canvas = _Canvas(wide, high, scale, (wide - scale * WIDE) / 2, (high - scale * HIGH) / 2)
    canvas.put(marks, None)
    return canvas.dots


class _Canvas:
    def __init__(self, wide: int, high: int, scale: float, left: float, top: float) -> None:
        self.dots: Dots = np.zeros((high, wide), dtype=np.bool_)
        self._scale, self._left, self._top = scale, left, top
        self._mesh = np.tile(_MESH, (high // 4 + 1, wide // 4 + 1))[:high, :wide]

    def put(self, marks: Sequence[Mark], within: Dots | None) -> None:
        """Paint marks in their order; strokes of one kind that follow each other at once."""
        for mark, lines in runs(marks):
            if isinstance(mark, Clip):
                inside = np.zeros_like(self.dots)
                where, part = self._inside(mark.points)
                inside[where] = part
                self.put(mark.marks, inside if within is None else inside & within)
            elif isinstance(mark, Fill):
                where, part = self._inside(mark.points)
                if within is not None:
                    part &= within[where]
                self.dots[where][part] = (self._mesh[where] < mark.tone)[part]
            else:
                self._stroke(lines, mark.width, mark.ink, within)

    def _scaled(self, points: Points) -> npt.NDArray[np.float64]:
        return np.asarray(points, dtype=np.float64) * self._scale + (self._left, self._top)

    def _stroke(self, lines: Sequence[Points], width: float, ink: bool, within: Dots | None) -> None:
        high, wide = self.dots.shape
        begins = [p for line in lines for p in (line[:-1] or line)]
        ends = [p for line in lines for p in (line[1:] or line)]
        a, b = self._scaled(tuple(begins)), self._scaled(tuple(ends))
        steps = np.maximum(np.ceil(np.abs(b - a).max(axis=1) * 2), 1).astype(np.int64) + 1
        which = np.repeat(np.arange(len(steps)), steps)
        first = np.cumsum(steps) - steps
        part = (np.arange(len(which)) - first[which]) / (steps[which] - 1)
        at = a[which] + (b - a)[which] * part[:, None]
        thick = width * self._scale
        x, y = np.floor(at[:, 0]).astype(np.int64), np.floor(at[:, 1]).astype(np.int64)
        if thick >= 1.5:
            # two dots thick is a square of two; more is a disc
            reach = int(thick // 2) if thick >= 2.5 else 1
            dx, dy = np.meshgrid(*[np.arange(-reach if thick >= 2.5 else 0, reach + 1)] * 2)
            near = dx * dx + dy * dy <= max(thick * thick / 4, 2.0)
            x = (x[:, None] + dx[near][None, :]).ravel()
            y = (y[:, None] + dy[near][None, :]).ravel()
        seen = (x >= 0) & (x < wide) & (y >= 0) & (y < high)
        x, y = x[seen], y[seen]
        if within is not None:
            kept = within[y, x]
            x, y = x[kept], y[kept]
        self.dots[y, x] = ink

    def _inside(self, points: Points) -> tuple[tuple[slice, slice], Dots]:
        """A window on the dots, and which of them lie inside a polygon with their middle.

        Inside is where its edges are crossed an odd number of times on the way from the left.
        """
        a = self._scaled(points)
        low = np.clip(np.floor(a.min(axis=0)), 0, self.dots.shape[::-1]).astype(np.int64)
        top = np.clip(np.ceil(a.max(axis=0)), 0, self.dots.shape[::-1]).astype(np.int64)
        (left, upper), (right, lower) = low.tolist(), top.tolist()
        a -= low
        b = np.roll(a, -1, axis=0)
        wide, high = max(right - left, 0), max(lower - upper, 0)
        rows = np.arange(high) + 0.5
        edge, row = np.nonzero((a[:, 1, None] <= rows) != (b[:, 1, None] <= rows))
        run = (rows[row] - a[edge, 1]) / (b[edge, 1] - a[edge, 1])
        column = np.ceil(a[edge, 0] + run * (b[edge, 0] - a[edge, 0]) - 0.5).astype(np.int64)
        crossed = np.bincount(row * (wide + 1) + np.clip(column, 0, wide), minlength=high * (wide + 1))
        inside: Dots = np.cumsum(crossed.reshape(high, wide + 1), axis=1)[:, :wide] % 2 == 1
        return (slice(upper, lower), slice(left, right)), inside
