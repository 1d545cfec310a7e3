"""Noise for a share: the discrete Laplace mechanism, drawn exactly, in whole numbers.

Adding noise of scale (bound / epsilon) to every number of a fixed table gives epsilon-differential privacy, if one
case more or less changes the table by no more than ``bound`` in all (Dwork, McSherry, Nissim and Smith, Calibrating
Noise to Sensitivity in Private Data Analysis, 2006). Noise drawn as floating-point numbers leaks (Mironov 2012), so it
is drawn here in whole millionths by chances that are exact fractions (Canonne, Kamath and Steinke, The Discrete
Gaussian for Differential Privacy, 2020, algorithm 2). Who sees the noised share learns no more of any one case than a
factor of exp(epsilon) in odds. All three works from memory.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Hashable, Iterable, Mapping
from typing import TypeVar

from lapwise.engine.record.credit import UNIT

BOUND = 8 * UNIT
"""What one case may add to all numbers of a share together. Most add about five; what adds more is scaled down."""
K = TypeVar("K", bound=Hashable)
Below = Callable[[int], int]
"""A whole number from 0 up to one less than the given one, each as likely."""


def clipped(rows: Mapping[K, tuple[int, int]], bound: int = BOUND) -> dict[K, tuple[int, int]]:
    """What a case adds, scaled down so that its absolute values sum to ``bound`` at most."""
    total = sum(abs(a) + abs(b) for a, b in rows.values())
    if total <= bound:
        return dict(rows)

    def less(x: int) -> int:
        return abs(x) * bound // total * (1 if x > 0 else -1)

    return {key: (less(a), less(b)) for key, (a, b) in rows.items()}


def _exp_minus(top: int, bottom: int, below: Below) -> bool:
    """True with the chance exp(-top/bottom), for 0 <= top <= bottom."""
    k = 1
    while below(bottom * k) < top:
        k += 1
    return k % 2 == 1


def laplace(top: int, bottom: int, below: Below = secrets.randbelow) -> int:
    """A whole number x with a chance proportional to exp(-|x| bottom/top): scale ``top/bottom``."""
    while True:
        low = below(top)
        if not _exp_minus(low, top, below):
            continue
        high = 0
        while _exp_minus(1, 1, below):
            high += 1
        x = (low + top * high) // bottom
        negative = below(2) == 1
        if not (negative and x == 0):
            return -x if negative else x


def noised(values: Iterable[int], epsilon: float, below: Below = secrets.randbelow) -> list[int]:
    """``values`` with noise for ``epsilon`` (three decimals count), their sensitivity being :data:`BOUND`."""
    bottom = round(epsilon * 1000)
    return [value + laplace(BOUND * 1000, bottom, below) for value in values]
