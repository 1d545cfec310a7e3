"""Drawings in plain text, for the command line and the screens: the facet, the turn of the stone, a curve.

Pure functions that give lines of text without colour; everything is told by shape and words.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

BRIGHT, DULL, UNSURE, NO_STONE = "█", "░", "?", " "
_FILL = {"B": BRIGHT, "D": DULL, "R": BRIGHT, "N": DULL, "?": UNSURE, ".": NO_STONE}


def facet_lines(
    map_text: str,
    *,
    across: float = 0.0,
    along: float = 0.0,
    tip: str = "tip end",
    dop: str = "dop end",
) -> list[str]:
    """The facet as one faces it, tip end up, with an arrow on each side that must go down.

    ``map_text``: rows joined by ``/``. ``across`` positive: the left side must go down; ``along`` positive: the dop
    end. It is about 24 columns wide.
    """
    rows = map_text.upper().split("/")
    wide, high = max(1, 24 // len(rows[0])), max(1, 6 // len(rows))
    inside = ["".join(_FILL.get(c, UNSURE) * wide for c in row) for row in rows for _ in range(high)]
    span = len(inside[0])
    left_word = "▼ left side DOWN " if across > 0 else "left "
    right_word = " ▼ right side DOWN" if across < 0 else " right"
    margin = max(len(left_word), 6)
    middle = len(inside) // 2
    out = [" " * margin + _centred(f"{tip}{' ▼ must go DOWN' if along < 0 else ''}", span + 2)]
    out.append(" " * margin + "┌" + "─" * span + "┐")
    for number, line in enumerate(inside):
        here = number == middle
        left = left_word.rjust(margin) if here else " " * margin
        out.append(f"{left}│{line}│{right_word if here else ''}")
    out.append(" " * margin + "└" + "─" * span + "┘")
    out.append(" " * margin + _centred(f"{dop}{' ▼ must go DOWN' if along > 0 else ''}", span + 2))
    return [line.rstrip() for line in out]


def legend(ink: bool = False) -> str:
    """What the fillings of :func:`facet_lines` mean."""
    words = ("ink rubbed off", "ink still there") if ink else ("bright", "dull")
    return f"{BRIGHT * 2} {words[0]}   {DULL * 2} {words[1]}   {UNSURE * 2} not sure"


def turn_lines(turn: float) -> list[str]:
    """A ring with arrows, as seen from behind the handpiece: positive is clockwise; [] for no turn."""
    if turn == 0:
        return []
    top, bottom = ("►", "◄") if turn > 0 else ("◄", "►")
    word = "clockwise" if turn > 0 else "counter-clockwise"
    return [
        f"  ╭──{top}──╮",
        "  │ you │   seen from behind the handpiece,",
        f"  │ see │   the stone turns {word}",
        f"  ╰──{bottom}──╯",
    ]


def outline(rows: Sequence[str], wide: int, high: int) -> dict[tuple[int, int], str]:
    """A line in braille dots round the stone: (line, column) from the first cell's corner to the character there.

    ``rows``: marks as in a map, ``.`` where there is no stone; ``wide``, ``high``: characters and lines of a mark. The
    line lies in the characters beside the stone, so lines and columns run from -1 to one past the last.
    """
    lines, columns = len(rows) * high, len(rows[0]) * wide

    def stone(line: int, column: int) -> bool:
        return 0 <= line < lines and 0 <= column < columns and rows[line // high][column // wide] != "."

    drawn: dict[tuple[int, int], str] = {}
    for line in range(-1, lines + 1):
        for column in range(-1, columns + 1):
            bits = 0
            for (down, right), side in _BESIDE.items():
                if stone(line + down, column + right):
                    bits |= side
            if bits and not stone(line, column):
                drawn[line, column] = chr(0x2800 + bits)
    return drawn


_BESIDE = {
    (1, 0): 0xC0,
    (-1, 0): 0x09,
    (0, 1): 0xB8,
    (0, -1): 0x47,
    (1, 1): 0x80,
    (1, -1): 0x40,
    (-1, 1): 0x08,
    (-1, -1): 0x01,
}
"""Where the stone lies from a character, down and right, to the dots of its side towards it."""


@dataclass(frozen=True, slots=True)
class Point:
    """A measured point of a curve; ``mark`` is one character."""

    x: float
    y: float
    mark: str = "●"


def _dotted(places: Iterable[tuple[float, float]], columns: int, lines: int) -> list[list[str]]:
    """Places, 0 to 1 from the left and from the top, as braille characters, a list for each line."""
    dots = [[0] * columns for _ in range(lines)]
    for x, y in places:
        column = min(int(x * columns * 2), columns * 2 - 1)
        line = min(int(y * lines * 4), lines * 4 - 1)
        dots[line // 4][column // 2] |= ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))[line % 4][column % 2]
    return [[chr(0x2800 + bits) if bits else " " for bits in row] for row in dots]


def curve_lines(
    curve: Sequence[tuple[float, float]],
    points: Iterable[Point] = (),
    *,
    columns: int = 60,
    lines: int = 9,
    unit: str = "",
    number: str = "+.2f",
    x_labels: Sequence[str] = (),
) -> list[str]:
    """A curve through ``curve`` (x rising) with ``points`` on it, zero line, scale at the left, ``x_labels`` below.

    The labels are spread evenly from the first to the last x; ``number``: how figures of the scale are written.
    """
    marks = list(points)
    values = [y for _, y in curve] + [p.y for p in marks] + [0.0]
    low, high = min(values), max(values)
    if high - low < 1e-12:
        low, high = low - 1.0, high + 1.0
    pad = 0.06 * (high - low)
    low, high = low - pad, high + pad
    first, last = curve[0][0], curve[-1][0]

    def place(x: float, y: float) -> tuple[float, float]:
        return (x - first) / (last - first), (high - y) / (high - low)

    steps = columns * 8
    along = (first + (last - first) * i / steps for i in range(steps + 1))
    rows = _dotted((place(x, _between(curve, x)) for x in along), columns, lines)
    zero = min(int((high / (high - low)) * lines), lines - 1)
    rows[zero] = ["·" if c == " " else c for c in rows[zero]]
    for p in marks:
        x, y = place(p.x, p.y)
        rows[min(max(int(y * lines), 0), lines - 1)][min(max(int(x * columns), 0), columns - 1)] = p.mark
    top, bottom = f"{high - pad:{number}}{unit}", f"{low + pad:{number}}{unit}"
    labels = {0: top, lines - 1: bottom}
    labels.setdefault(zero, f"0{unit}")
    margin = max(len(t) for t in labels.values()) + 1
    out = [labels.get(n, "").rjust(margin) + "┤" + "".join(row) for n, row in enumerate(rows)]
    if x_labels:
        out.append(" " * (margin + 1) + _spread(x_labels, columns))
    return [line.rstrip() for line in out]


def _between(curve: Sequence[tuple[float, float]], x: float) -> float:
    """Linear between the points of a curve."""
    after = bisect_right(curve, x, lo=1, hi=len(curve) - 1, key=lambda point: point[0])
    (x0, y0), (x1, y1) = curve[after - 1], curve[after]
    return y0 if math.isclose(x1, x0) else y0 + (y1 - y0) * (x - x0) / (x1 - x0)


def _spread(labels: Sequence[str], columns: int) -> str:
    line = [" "] * (columns + max(len(t) for t in labels))
    for n, label in enumerate(labels):
        centre = round(n * (columns - 1) / max(len(labels) - 1, 1))
        start = max(0, min(centre - len(label) // 2, columns - len(label)))
        line[start : start + len(label)] = label
    return "".join(line)


def _centred(text: str, span: int) -> str:
    return " " * max(0, (span - len(text)) // 2) + text
