"""The Beta distribution without SciPy: its distribution function and quantiles, for intervals on chances.

The continued fraction for the regularised incomplete beta function: Abramowitz & Stegun, Handbook of Mathematical
Functions (1964), 26.5.8, evaluated by Lentz's method.
"""

from __future__ import annotations

from functools import lru_cache
from math import exp, inf, lgamma, log, log1p

_TINY = 1e-300


def _fraction(a: float, b: float, x: float) -> float:
    c, d = 1.0, 1.0 - (a + b) * x / (a + 1.0)
    d = 1.0 / (d if abs(d) > _TINY else _TINY)
    value = d
    for m in range(1, 10_000):
        for top in (
            m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0)),
        ):
            d = 1.0 + top * d
            c = 1.0 + top / c
            d = 1.0 / (d if abs(d) > _TINY else _TINY)
            c = c if abs(c) > _TINY else _TINY
            value *= d * c
        if abs(d * c - 1.0) < 1e-14:
            break
    return value


def cdf(x: float, a: float, b: float) -> float:
    """P(X <= x) for X ~ Beta(a, b); ``a`` and ``b`` above 0."""
    if x <= 0.0:
        return 0.0
    if x >= 1.0:
        return 1.0
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x))
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _fraction(a, b, x) / a
    return 1.0 - front * _fraction(b, a, 1.0 - x) / b


def quantile(p: float, a: float, b: float, start: float | None = None) -> float:
    """The x with P(X <= x) = p for X ~ Beta(a, b), to about 1e-9: Newton's steps, halving where one leads astray.

    ``start``: a guess, to save steps; the mean without one.
    """
    low, high = 0.0, 1.0
    x = start if start is not None and 0.0 < start < 1.0 else a / (a + b)
    scale = lgamma(a + b) - lgamma(a) - lgamma(b)
    for _ in range(100):
        excess = cdf(x, a, b) - p
        if excess < 0:
            low = x
        else:
            high = x
        slope = scale + (a - 1.0) * log(x) + (b - 1.0) * log1p(-x) if 0.0 < x < 1.0 else -inf
        step = excess / exp(slope) if -700.0 < slope < 700.0 else inf
        new = x - step
        if not low < new < high:
            new = (low + high) / 2.0
        if abs(new - x) < 1e-10 or high - low < 1e-10:
            return new
        x = new
    return x


@lru_cache(maxsize=512)
def interval(a: float, b: float, share: float = 0.9) -> tuple[float, float]:
    """The equal-tailed interval that holds ``share`` of Beta(a, b)."""
    tail = (1.0 - share) / 2.0
    mean = a / (a + b)
    # a normal distribution's 5 % and 95 % points: only where to begin
    reach = 1.645 * (mean * (1.0 - mean) / (a + b + 1.0)) ** 0.5
    return quantile(tail, a, b, mean - reach), quantile(1.0 - tail, a, b, mean + reach)
