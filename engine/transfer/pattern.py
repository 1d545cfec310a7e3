"""Whether the corrections are the same all round the stone, or run as one wave."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from lapwise.engine.transfer.model import entries, linear, measured
from lapwise.engine.transfer.rows import Row

Pattern = Literal["constant", "one-wave"]
STRONG = 6.0
"""A pattern must better the squares by this many times the noise squared, per unknown. Judgement."""
QUIETEST = 5e-3


def pattern(rows: Sequence[Row], gear: int) -> Pattern | None:
    """``one-wave``: the corrections rise and fall once round the stone (a tilted stone); ``constant``: the same
    everywhere (index zero or angle offset); None where the rows do not tell. Needs three measured facets.
    """
    import numpy as np

    which = entries(rows)
    if len({place for place, _ in which}) < 3 or len(which) < 5:
        return None
    matrix, found = linear(rows, which, gear), measured(rows, which, gear)

    def left(columns: list[int]) -> float:
        part = matrix[:, columns]
        rest = found - part @ np.linalg.lstsq(part, found, rcond=None)[0]
        return float(rest @ rest)

    if np.linalg.matrix_rank(matrix, tol=1e-3) < 4:
        return None
    noise = max(left([0, 1, 2, 3]) / (len(which) - 4), QUIETEST**2)
    wave = (left([2, 3]) - left([0, 1, 2, 3])) / 2
    constant = (left([0, 1]) - left([0, 1, 2, 3])) / 2
    if max(wave, constant) <= STRONG * noise:
        return None
    lean = wave > STRONG * noise and wave >= 0.25 * constant
    return "one-wave" if lean or wave >= constant else "constant"
