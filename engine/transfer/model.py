"""How a tilted stone shifts each facet's setting: the exact rotation, and its linear part.

Azimuth a = 360 index / gear, e = facet angle. A dop tilt t towards azimuth f (the tip end leans that way), an index
zero error z and an angle offset o ask of each facet, for small t,

    angle change   = t cos(a - f) + o
    azimuth change = z - t cot(e) sin(a - f)

which is linear in (t cos f, t sin f, z, o). Exactly, the facet's normal (sin e cos a, sin e sin a, cos e) is rotated
by t about the level axis at right angles to f, and the two changes are those of its polar and azimuth angles.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from lapwise.engine.transfer.rows import Row

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

Entry = tuple[int, str]
"""One equation: place of the row, and "index" or "angle"."""
SMALLEST_ANGLE = 0.5
"""Below this angle, in degrees, the index says nothing of a facet."""


def entries(rows: Sequence[Row]) -> list[Entry]:
    """The equations that the measured rows give."""
    out: list[Entry] = []
    for place, row in enumerate(rows):
        if row.angle_change is not None:
            out.append((place, "angle"))
        if row.index_change is not None and row.angle >= SMALLEST_ANGLE:
            out.append((place, "index"))
    return out


def measured(rows: Sequence[Row], which: Sequence[Entry], gear: int) -> Array:
    """(n,) the changes found, degrees."""
    import numpy as np

    out = []
    for place, kind in which:
        row = rows[place]
        value = row.angle_change if kind == "angle" else (row.index_change or 0.0) * 360.0 / gear
        out.append(value or 0.0)
    return np.array(out)


def linear(rows: Sequence[Row], which: Sequence[Entry], gear: int) -> Array:
    """(n, 4) the matrix of the linear model."""
    import numpy as np

    out = np.zeros((len(which), 4))
    for n, (place, kind) in enumerate(which):
        a = 2 * math.pi * rows[place].index / gear
        if kind == "angle":
            out[n] = math.cos(a), math.sin(a), 0.0, 1.0
        else:
            cot = 1.0 / math.tan(math.radians(rows[place].angle))
            out[n] = -cot * math.sin(a), cot * math.cos(a), 1.0, 0.0
    return out


def solved(rows: Sequence[Row], which: Sequence[Entry], gear: int) -> tuple[Array, Array, Array]:
    """(4,) unknowns, (n,) residuals and the matrix of the linear model by least squares, degrees."""
    import numpy as np

    matrix, found = linear(rows, which, gear), measured(rows, which, gear)
    x: Array = np.asarray(np.linalg.lstsq(matrix, found, rcond=None)[0], dtype=np.float64)
    return x, found - matrix @ x, matrix


def exact_changes(index: float, angle: float, gear: int, x: Sequence[float]) -> tuple[float, float]:
    """(azimuth change, angle change) in degrees for one facet; ``x`` the four unknowns in degrees."""
    tx, ty, zero, offset = (math.radians(v) for v in x)
    tilt, toward = math.hypot(tx, ty), math.atan2(ty, tx)
    a, e = 2 * math.pi * index / gear - toward, math.radians(angle)
    n = (math.sin(e) * math.cos(a), math.sin(e) * math.sin(a), math.cos(e))
    moved = (
        n[0] * math.cos(tilt) + n[2] * math.sin(tilt),
        n[1],
        n[2] * math.cos(tilt) - n[0] * math.sin(tilt),
    )
    level = math.hypot(moved[0], moved[1])
    turn = 0.0 if level < 1e-12 or math.sin(e) < 1e-12 else math.atan2(moved[1], moved[0]) - a
    turn = (turn + math.pi) % (2 * math.pi) - math.pi
    return math.degrees(turn + zero), math.degrees(math.atan2(level, moved[2]) - e + offset)


def exact(rows: Sequence[Row], which: Sequence[Entry], gear: int, x: Sequence[float]) -> Array:
    """(n,) the changes of the exact rotation, degrees."""
    import numpy as np

    out = []
    for place, kind in which:
        azimuth, angle = exact_changes(rows[place].index, rows[place].angle, gear, x)
        out.append(angle if kind == "angle" else azimuth)
    return np.array(out)
