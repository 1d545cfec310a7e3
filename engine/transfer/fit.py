"""From the corrections found on a few facets: how the stone sits, how surely, and the corrections of the others."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from lapwise.engine.errors import Issue, NothingFound
from lapwise.engine.flat import flat, rounded
from lapwise.engine.transfer.model import Entry, entries, exact, exact_changes, linear, measured, solved
from lapwise.engine.transfer.pattern import Pattern, pattern
from lapwise.engine.transfer.rows import Row, with_changes
from lapwise.engine.transfer.slips import SUSPECT_FROM, WEAKEST, Suspect, leave_out_slips
from lapwise.engine.wording import counted, listing

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

DIGITS = 6
"""Decimals of the numbers told."""
_SEAT = dict.fromkeys(("tilt", "toward_index", "index_zero", "angle_offset"), DIGITS)
"""How the stone sits, in the words of the answer."""
REDOP_TILT = 0.5
REDOP_DEGREES = 1.0
REDOP_TEETH = 0.5


@dataclass(frozen=True, slots=True)
class StandardErrors:
    """Of tilt (degrees), its direction (teeth; None at no tilt), index zero (teeth) and angle offset (degrees)."""

    tilt: float
    toward_index: float | None
    index_zero: float
    angle_offset: float


@dataclass(frozen=True, slots=True)
class MirrorCheck:
    """Two measured facets of one angle at mirror settings.

    ``found``: angle change at ``index`` minus that at ``mirror``, degrees. ``expected``: the
    difference that the fitted lean asks for. An offset cancels; only a lean shows.
    """

    index: float
    mirror: float
    angle: float
    found: float
    expected: float


@dataclass(frozen=True, slots=True)
class Fit:
    """``unknowns``: tilt x and y, index zero, angle offset, degrees. ``rms`` of the residuals, degrees."""

    gear: int
    rows: tuple[Row, ...]
    unknowns: tuple[float, float, float, float]
    rms: float
    freedom: int
    errors: StandardErrors | None
    suspects: tuple[Suspect, ...]

    @property
    def tilt(self) -> float:
        """Dop tilt, degrees."""
        return math.hypot(self.unknowns[0], self.unknowns[1])

    @property
    def toward_index(self) -> float | None:
        """The index setting towards which the tip end leans; None without a tilt."""
        if self.tilt < 1e-9:
            return None
        turn = math.degrees(math.atan2(self.unknowns[1], self.unknowns[0])) / 360.0
        index = (turn * self.gear) % self.gear
        return float(self.gear) if index < 5e-7 else index

    @property
    def index_zero(self) -> float:
        """Index zero error, teeth, + towards higher numbers."""
        return self.unknowns[2] * self.gear / 360.0

    @property
    def angle_offset(self) -> float:
        """Angle offset, degrees, + raise."""
        return self.unknowns[3]

    def predict(self, row: Row) -> Row:
        """The facet with the corrections that this seat of the stone asks for."""
        azimuth, angle = exact_changes(row.index, row.angle, self.gear, self.unknowns)
        return with_changes(row, azimuth * self.gear / 360.0, angle)

    @property
    def predictions(self) -> tuple[Row, ...]:
        """The facets that were not measured, with their corrections."""
        return tuple(self.predict(row) for row in self.rows if not row.measured)

    @property
    def mirrored(self) -> tuple[Row, ...]:
        """For each measured facet whose mirror setting (gear - index) is not in the table: the correction there."""
        have = {(round(r.index % self.gear, 6), round(r.angle, 6)) for r in self.rows}
        out = []
        for row in self.rows:
            index = (self.gear - row.index) % self.gear
            key = (round(index, 6), round(row.angle, 6))
            if row.measured and key not in have:
                have.add(key)
                out.append(self.predict(Row(row.number, index or float(self.gear), row.angle)))
        return tuple(out)

    @property
    def mirror_checks(self) -> tuple[MirrorCheck, ...]:
        """Every pair of mirror settings of which both angle changes were measured."""
        out = []
        doubtful = {(s.row, s.column) for s in self.suspects}
        rows = [r for r in self.rows if r.angle_change is not None and (r.number, "angle_change") not in doubtful]
        for one in rows:
            for two in rows:
                mirrored = abs((one.index + two.index) % self.gear) < 1e-6 and one.index < two.index
                if mirrored and abs(one.angle - two.angle) < 1e-6:
                    found = (one.angle_change or 0.0) - (two.angle_change or 0.0)
                    asked = (self.predict(one).angle_change or 0.0) - (self.predict(two).angle_change or 0.0)
                    out.append(MirrorCheck(one.index, two.index, one.angle, found, asked))
        return tuple(out)

    @property
    def pattern(self) -> Pattern | None:
        """Whether the corrections run as one wave round the stone or are the same all round; None if not told."""
        doubtful = {s.row for s in self.suspects}
        return pattern([row for row in self.rows if row.number not in doubtful], self.gear)

    @property
    def redop(self) -> bool:
        """True where dopping again is better than correcting facet by facet.

        Never while the lean is not told from none: with nothing to check it by, or below twice its standard error.
        Never while a row looks mistyped either: it is put right first.
        """
        if self.suspects or self.errors is None or self.tilt < 2 * self.errors.tilt:
            return False
        asked = [self.predict(row) for row in self.rows]
        far = max((abs(r.angle_change or 0.0) for r in asked), default=0.0) > REDOP_DEGREES
        wide = max((abs((r.index_change or 0.0) - self.index_zero) for r in asked), default=0.0) > REDOP_TEETH
        return self.tilt > REDOP_TILT or (self.tilt > 0.1 and (far or wide))

    def as_json(self) -> dict[str, Any]:
        """The answer in the form of ``lapwise transfer --json``."""
        seat = {name: getattr(self, name) for name in _SEAT}
        return {
            "gear": self.gear,
            **rounded(seat, **_SEAT),
            "rms": round(self.rms, DIGITS),
            "suspect": [s.row for s in self.suspects],
            "slips": [rounded(flat(s), found=DIGITS, expected=DIGITS) for s in self.suspects],
            "predictions": [_as_dict(r) for r in self.predictions],
            "standard_errors": rounded(flat(self.errors), **_SEAT) if self.errors else None,
            "mirrored": [_as_dict(r) for r in self.mirrored],
            "mirror_check": [rounded(flat(m), found=DIGITS, expected=DIGITS) for m in self.mirror_checks],
            "pattern": self.pattern,
            "redop": self.redop,
        }


def fit(rows: Sequence[Row], gear: int) -> Fit:
    """How the stone sits. A row that looks mistyped is named and its doubtful value left out of the fit.

    Raises :class:`NothingFound` naming what cannot be told where the rows do not tell all four unknowns.
    """
    which = entries(rows)
    _check_rank(rows, which, gear)
    suspects: list[Suspect] = []
    if sum(row.measured for row in rows) >= SUSPECT_FROM:
        which, suspects = leave_out_slips(rows, gear)
    x, residual, matrix = _solve(rows, which, gear)
    freedom = len(which) - 4
    squares = float(residual @ residual)
    errors = _errors(x, matrix, squares / freedom, gear) if freedom > 0 else None
    unknowns = (float(x[0]), float(x[1]), float(x[2]), float(x[3]))
    return Fit(gear, tuple(rows), unknowns, math.sqrt(squares / len(which)), freedom, errors, tuple(suspects))


def _solve(rows: Sequence[Row], which: Sequence[Entry], gear: int) -> tuple[Array, Array, Array]:
    """Unknowns, residuals, matrix: linear least squares, then the exact rotation where that fits better."""
    import numpy as np

    start, rest, matrix = solved(rows, which, gear)
    found, x = measured(rows, which, gear), start
    for _ in range(20):
        step = np.linalg.lstsq(matrix, found - exact(rows, which, gear, x.tolist()), rcond=None)[0]
        x = np.asarray(x + step, dtype=np.float64)
        if float(np.abs(step).max()) < 1e-12:
            break
    exact_rest: Array = found - exact(rows, which, gear, x.tolist())
    square = len(which) == 4
    if np.isfinite(exact_rest).all() and (square or exact_rest @ exact_rest <= rest @ rest):
        return x, exact_rest, matrix
    return start, rest, matrix


def _check_rank(rows: Sequence[Row], which: Sequence[Entry], gear: int) -> None:
    import numpy as np

    if not which:
        what = "no row holds a change: correct at least two facets and write what you changed"
        raise NothingFound(Issue(what, "transfer", "", ("index_change in teeth", "angle_change in degrees")))
    _, sizes, axes = np.linalg.svd(linear(rows, which, gear), full_matrices=True)
    sizes = np.concatenate([sizes, np.zeros(4 - len(sizes))]) if len(sizes) < 4 else sizes
    blind = axes[sizes < WEAKEST * max(sizes[0], 1e-12)]
    if not len(blind):
        return
    hidden = np.abs(blind).max(axis=0) > 1e-3
    names = []
    if hidden[0] or hidden[1]:
        names.append("the dop tilt and its direction")
    if hidden[2]:
        names.append("the index zero")
    if hidden[3]:
        names.append("the angle offset")
    angles = [rows[place].angle for place, _ in which]
    advice = "measure one more facet at another index setting, well round the stone"
    if min(angles) > 89.0:
        advice = (
            "at 90 degrees the index says nothing about a tilt: measure facets at other index settings, or below 90"
        )
    what = f"these facets cannot tell {listing(names)}"
    count = len({place for place, _ in which})
    raise NothingFound(Issue(what, "transfer", counted(count, "measured facet"), (advice,)))


def _errors(x: Array, matrix: Array, variance: float, gear: int) -> StandardErrors:
    """Standard errors by the usual formula; of tilt and direction by their derivatives."""
    import numpy as np

    cover = np.linalg.inv(matrix.T @ matrix) * variance
    tilt = math.hypot(x[0], x[1])
    zero, offset = math.sqrt(cover[2, 2]) * gear / 360.0, math.sqrt(cover[3, 3])
    if tilt < 1e-9:
        return StandardErrors(math.sqrt(float(np.max(np.diag(cover)[:2]))), None, zero, offset)
    along = np.array([x[0], x[1]]) / tilt
    beside = np.array([-along[1], along[0]])
    plane = cover[:2, :2]
    direction = math.degrees(math.sqrt(max(float(beside @ plane @ beside), 0.0)) / tilt) * gear / 360.0
    return StandardErrors(math.sqrt(max(float(along @ plane @ along), 0.0)), min(direction, gear / 2), zero, offset)


def _as_dict(row: Row) -> dict[str, float | None]:
    return rounded(flat(row, "number"), index_change=DIGITS, angle_change=DIGITS)
