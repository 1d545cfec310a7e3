"""Rows that look mistyped: each row is held against the others, as typed and as it would stand without a usual slip.

A slip is believed if putting it right makes the rows agree far better than the noise that is left would explain.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from lapwise.engine.transfer.model import Entry, entries, linear, solved
from lapwise.engine.transfer.rows import Row, with_changes

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

Slip = Literal["sign", "tenfold", "swapped", "angle", "index", "unlike"]
"""What is wrong: the sign; a decimal point out of place; the two changes in each other's column; the setting stated for
another angle or index; or simply unlike the other rows, no usual slip explaining it."""
OVER_NOISE = 3.0
"""A slip must exceed the noise this many times. The noise is itself estimated from few rows: 3 here catches most flips
of 4 times the true noise or more."""
GAIN = {"sign": 0.45, "tenfold": 1.5, "swapped": 1.5, "angle": 4.0, "index": 4.0, "unlike": 6.0}
"""What putting a slip right must gain in squares, times the noise squared and the values typed; the more ways a slip
can be put right, the more. Judgement: with six rows a right row is then named in about 3 cases of 100."""
SUSPECT_FROM = 4
WEAKEST = 1e-3
"""Smallest singular value, beside the largest, that still counts as told."""
QUIETEST = 1e-3
"""Noise is never taken below this, degrees: what a dial and a pencil note round to."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """A row that looks mistyped: its number, the column, what it says and what the other rows ask of it."""

    row: int
    column: str
    slip: Slip
    found: float
    expected: float


@dataclass(frozen=True, slots=True)
class _Reading:
    """One way to read a row: the row put right, and the column that was wrong."""

    slip: Slip
    column: str
    row: Row


def leave_out_slips(rows: Sequence[Row], gear: int) -> tuple[list[Entry], list[Suspect]]:
    """(equations to trust, suspects): at most one row in four is named, none of fewer than four measured."""
    kept, suspects = list(rows), list[Suspect]()
    for _ in range(sum(row.measured for row in rows) // SUSPECT_FROM):
        found = _worst(kept, gear, {s.row for s in suspects})
        if found is None:
            break
        place, suspect, without = found
        kept[place] = without
        suspects.append(suspect)
    return entries(kept), sorted(suspects, key=lambda s: s.row)


def _worst(rows: list[Row], gear: int, named: set[int]) -> tuple[int, Suspect, Row] | None:
    """The slip that explains most, with its row's place and the row without what cannot be trusted in it."""
    which = entries(rows)
    freedom = len(which) - 4
    if freedom < 2:
        return None
    before = _squares(rows, gear)[0]
    best: tuple[float, int, _Reading, float] | None = None
    for place, row in enumerate(rows):
        if row.measured and row.number not in named:
            for reading in _readings(row, rows, gear):
                right = [*rows[:place], reading.row, *rows[place + 1 :]]
                free = len(entries(right)) - 4
                if free < 1 or (reading.slip == "unlike" and free < 3):
                    continue
                after, tilt = _squares(right, gear)
                noise = max(math.sqrt(after / free), QUIETEST, math.radians(tilt * tilt))
                gain = (before - after) / (GAIN[reading.slip] * len(which) * noise**2)
                if gain > 1.0 and (best is None or gain > best[0]):
                    best = (gain, place, reading, noise)
    if best is None:
        return None
    _, place, reading, noise = best
    without = _without(rows[place], reading)
    rest = [*rows[:place], without, *rows[place + 1 :]]
    if not _told(rest, gear):
        return None
    found, expected = _values(rows[place], rest, reading, gear)
    scale = 360.0 / gear if reading.column == "index_change" else 1.0
    if reading.column.endswith("change") and abs(found - expected) * scale <= OVER_NOISE * noise:
        return None
    return place, Suspect(rows[place].number, reading.column, reading.slip, found, expected), without


def _readings(row: Row, rows: Sequence[Row], gear: int) -> Iterator[_Reading]:
    """The row without each usual slip, and without anything measured on it."""
    for column in ("index_change", "angle_change"):
        value: float | None = getattr(row, column)
        if value:
            yield _Reading("sign", column, _changed(row, column, -value))
            for factor in (0.1, 10.0):
                yield _Reading("tenfold", column, _changed(row, column, value * factor))
    if row.index_change is not None and row.angle_change is not None and row.index_change != row.angle_change:
        swapped = with_changes(row, row.angle_change, row.index_change)
        yield _Reading("swapped", "index_change", swapped)
    for angle in sorted({r.angle for r in rows} | set(_mistyped(row.angle, 90.0))):
        if angle != row.angle:
            yield _Reading("angle", "angle", replace(row, angle=angle))
    for index in sorted({(gear - row.index) % gear or float(gear), *_mistyped(row.index, gear)}):
        if index != row.index:
            yield _Reading("index", "index", replace(row, index=index))
    yield _Reading("unlike", "angle_change", with_changes(row, None, None))


def _changed(row: Row, column: str, value: float | None) -> Row:
    if column == "index_change":
        return with_changes(row, value, row.angle_change)
    return with_changes(row, row.index_change, value)


def _mistyped(value: float, most: float) -> Iterator[float]:
    """What somebody may have meant who typed ``value``: two figures turned round, a decimal point out of place."""
    text = f"{value:g}"
    for at in range(len(text) - 1):
        if text[at] != text[at + 1] and text[at].isdigit() and text[at + 1].isdigit():
            yield from _within(float(text[:at] + text[at + 1] + text[at] + text[at + 2 :]), most)
    yield from _within(value * 10.0, most)
    yield from _within(value / 10.0, most)


def _within(value: float, most: float) -> Iterator[float]:
    if 0.5 <= value <= most:
        yield value


def _without(row: Row, reading: _Reading) -> Row:
    """The row less what cannot be trusted: one change, or both where the setting itself is in doubt."""
    if reading.slip in ("sign", "tenfold"):
        return _changed(row, reading.column, None)
    return with_changes(row, None, None)


def _values(row: Row, rest: Sequence[Row], reading: _Reading, gear: int) -> tuple[float, float]:
    """(found, expected) of the column in doubt: a change as the trusted rows ask for it, or the setting put right."""
    if reading.slip in ("angle", "index"):
        return getattr(row, reading.column), getattr(reading.row, reading.column)
    x, _, _ = solved(rest, entries(rest), gear)
    column = reading.column
    if reading.slip == "unlike" and row.angle_change is None:
        column = "index_change"
    kind = column.removesuffix("_change")
    asked = float((linear([row], [(0, kind)], gear) @ x)[0])
    return float(getattr(row, column) or 0.0), asked * gear / 360.0 if kind == "index" else asked


def _squares(rows: Sequence[Row], gear: int) -> tuple[float, float]:
    """(what is left of the squares, degrees squared; the tilt, degrees); infinite where the rows do not tell it all.

    The linear model is off by about the tilt squared, in radians: agreement closer than that is no agreement.
    """
    if not _told(rows, gear):
        return math.inf, 0.0
    x, left, _ = solved(rows, entries(rows), gear)
    return float(left @ left), math.hypot(float(x[0]), float(x[1]))


def _told(rows: Sequence[Row], gear: int) -> bool:
    import numpy as np

    which = entries(rows)
    return len(which) >= 4 and bool(np.linalg.matrix_rank(linear(rows, which, gear), tol=WEAKEST) == 4)
