"""Where the two slopes of a facet may lie, given what each setting touched: an exact sum over a grid.

A lap plane that touches the facet at one edge or corner removes the depth R there, and less with distance: at a point
that stands off the touching point by *gap* (µm) it removes R - gap. The point is bright where that reaches the depth D
of the damage left by the step before, and its ink is gone where it is above zero. So a polish map tells where the gap
equals R - D, an ink map where it equals R. The slopes are degrees of tilt of the facet: ``across`` positive where the
left side (seen facing the facet) is the dull one, ``along`` positive where the dop end is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from lapwise.engine.contact.evidence import Visit
from lapwise.engine.contact.facet_map import FacetMap

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

UM_PER_MM_DEGREE = 1000.0 * math.pi / 180.0
"""Micrometres of rise per millimetre of facet and degree of tilt (small against a tilt of a few degrees)."""

USUAL_DAMAGE_UM = (0.5, 5.0)
"""Depth of damage assumed where the step before is not known, µm: a fine pre-polish. Judgement."""

_MISREAD = 0.01
"""Chance that a person marks a cell that is clearly bright as dull, or the reverse. Judgement."""
_BY_CENTRE = 0.05
"""Chance that a cell was judged by its middle and not by its outermost point. Judgement."""
_LINE_BLUR = 0.1
"""How sharp the line between bright and dull is, as a share of its distance from the touching point. Judgement."""
_USUAL_ERROR = 0.5
"""Errors of turn and angle that are nothing unusual, degrees. Judgement; the tails of the prior reach far beyond."""
_LEAST_ACROSS = 0.04
_WIDEST = 3.0
_AXIS_CELLS = 37
_DEPTHS = 5
_REMOVALS = 14
_INK_LIMITS = 24


@dataclass(frozen=True, slots=True)
class Geometry:
    """``across`` and ``along``: the facet in mm; ``tilt_per_turn``: degrees of side tilt for a degree of turn."""

    across: float
    along: float
    tilt_per_turn: float


@dataclass(frozen=True)
class Posterior:
    """A grid over the two slopes at the first setting (degrees) and the depth of damage (µm).

    ``x`` (n,), ``y`` (m,), ``weight`` (n, m, d) sums to 1, ``depth`` (d,). ``fit``: the natural logarithm of the best
    likelihood per known cell, 0 at most; low where no plane explains all the maps.
    """

    x: Array
    y: Array
    depth: Array
    weight: Array
    geometry: Geometry
    fit: float

    def interval(self, axis: int, mass: float = 0.8) -> tuple[float, float]:
        """The central interval of one slope that holds ``mass`` of the probability, degrees."""
        values, marginal = self._marginal(axis)
        return _quantile(values, marginal, 0.5 - mass / 2), _quantile(values, marginal, 0.5 + mass / 2)

    def median(self, axis: int) -> float:
        """The median of one slope, degrees."""
        return median(*self._marginal(axis))

    def _marginal(self, axis: int) -> tuple[Array, Array]:
        """The grid points of one slope, and the mass at each."""
        return (self.x, self.y)[axis], self.weight.sum(axis=2).sum(axis=1 - axis)


def posterior(
    trials: Sequence[Visit], geometry: Geometry, damage_um: tuple[float, float] = USUAL_DAMAGE_UM
) -> Posterior:
    """The posterior of the slopes at the first setting. ``trials`` may be empty: then it is the prior."""
    import numpy as np

    wide = (_WIDEST * max(geometry.tilt_per_turn, 0.3), _WIDEST)
    depth = np.geomspace(*damage_um, _DEPTHS) if damage_um[1] > damage_um[0] else np.array([damage_um[0]])
    x, y = (_spread(limit) for limit in wide)
    result = _on_grid(x, y, depth, trials, geometry)
    for _ in range(3):
        narrower = _closer(result)
        if narrower is None:
            break
        result = _on_grid(*narrower, depth, trials, geometry)
    return result


def _spread(limit: float) -> Array:
    """Grid points from -limit to limit, dense near zero."""
    import numpy as np

    u = np.linspace(-1.0, 1.0, _AXIS_CELLS)
    out: Array = limit * np.sinh(5.0 * u) / math.sinh(5.0)
    return (out - out[::-1]) / 2


def _closer(found: Posterior) -> tuple[Array, Array] | None:
    """A finer grid round the probability, or None if the present one resolves it."""
    import numpy as np

    axes = []
    coarse = False
    for axis, values in enumerate((found.x, found.y)):
        marginal = found.weight.sum(axis=2).sum(axis=1 - axis)
        inside = np.flatnonzero(marginal > 1e-3 * marginal.max())
        low, high = max(inside[0] - 1, 0), min(inside[-1] + 1, len(values) - 1)
        coarse = coarse or high - low < _AXIS_CELLS // 3
        axes.append(np.linspace(values[low], values[high], _AXIS_CELLS))
    return (axes[0], axes[1]) if coarse else None


def _on_grid(x: Array, y: Array, depth: Array, trials: Sequence[Visit], geometry: Geometry) -> Posterior:
    import numpy as np

    usual = (max(_USUAL_ERROR * geometry.tilt_per_turn, _LEAST_ACROSS), _USUAL_ERROR)
    log = np.add.outer(_log_prior(x, usual[0]), _log_prior(y, usual[1]))[:, :, None] + np.zeros(len(depth))
    best = 0.0
    known = 0
    for visit in trials:
        sx = np.repeat(x - visit.turn * geometry.tilt_per_turn, len(y))
        sy = np.tile(y - visit.angle, len(x))
        part = _log_likelihood(sx, sy, depth, visit, geometry)
        log += part.reshape(len(x), len(y), len(depth))
        best += float(part.max())
        known += sum(m.known for m in (visit.polish, visit.ink) if m is not None)
    total = log - log.max()
    weight = np.exp(total)
    weight /= weight.sum()
    return Posterior(x, y, depth, weight, geometry, best / known if known else 0.0)


def _log_prior(values: Array, usual: float) -> Array:
    """Log prior mass of each grid point: flat within the usual error, falling as its fourth power; times cell width."""
    import numpy as np

    out: Array = -np.log1p((values / usual) ** 4) + np.log(np.gradient(values))
    return out


def _log_likelihood(sx: Array, sy: Array, depth: Array, visit: Visit, geometry: Geometry) -> Array:
    """(slopes, depths): log chance of the maps of one setting, summed over what it may have removed."""
    import numpy as np

    limits = np.geomspace(0.2 * depth[0], 5.0 * depth[-1], _REMOVALS)
    share = np.log(limits[None, :] / depth[:, None])
    if visit.polish is None:
        # ink alone: a short touch, whose depth is hardly known
        weight = np.exp(-0.5 * (share / 0.9) ** 2)
        weight /= weight.sum(axis=1, keepdims=True)
        assert visit.ink is not None
        touch = _map_log(sx, sy, limits, visit.ink, geometry)
        return _log_sum(touch, weight)
    weight = np.exp(-0.5 * (share / 0.55) ** 2)
    weight /= weight.sum(axis=1, keepdims=True)
    polish = _map_log(sx, sy, limits, visit.polish, geometry)
    if visit.ink is None:
        return _log_sum(polish, weight)
    # the ink line and the bright line share one removal; what the ink says is worked out once and read between
    reach = np.geomspace(limits[0] + depth[0], limits[-1] + depth[-1], _INK_LIMITS)
    ink = _map_log(sx, sy, reach, visit.ink, geometry)
    columns = []
    for k, d in enumerate(depth):
        place = np.interp(np.log(limits + d), np.log(reach), np.arange(_INK_LIMITS))
        low = np.minimum(place.astype(int), _INK_LIMITS - 2)
        part = place - low
        both = polish + ink[:, low] * (1 - part) + ink[:, low + 1] * part
        columns.append(_log_sum(both, weight[k : k + 1]))
    return np.concatenate(columns, axis=1)


def _log_sum(log: Array, weight: Array) -> Array:
    """(slopes, limits) and (depths, limits) to (slopes, depths): log of the weighted sum over the limits."""
    import numpy as np

    top = log.max(axis=1, keepdims=True)
    out: Array = np.log(np.exp(log - top) @ weight.T + 1e-300) + top
    return out


def _map_log(sx: Array, sy: Array, limits: Array, facet_map: FacetMap, geometry: Geometry) -> Array:
    """(slopes, limits): log chance of a map if the points nearer than ``limits`` (µm of gap) are touched."""
    import numpy as np

    points = _points(facet_map, geometry)
    u, v, _, _ = points["stone"]
    top = np.max(np.outer(sx, u) + np.outer(sy, v), axis=1)
    log_limits = np.log(limits)
    out = np.zeros((len(sx), len(limits)))
    for mark in ("touched", "missed"):
        for outer_u, outer_v, centre_u, centre_v in points[mark].T:
            chance = np.zeros_like(out)
            for share, a, b in ((1 - _BY_CENTRE, outer_u, outer_v), (_BY_CENTRE, centre_u, centre_v)):
                # on a facet of odd outline a cell's centre can lie beyond the outermost points of the stone
                gap = np.maximum((top - sx * a - sy * b) * UM_PER_MM_DEGREE, 0.0)
                steps = (log_limits[None, :] - np.log(gap + 1e-9)[:, None]) / _LINE_BLUR
                chance += share / (1.0 + np.exp(-np.clip(steps, -30.0, 30.0)))
            chance = _MISREAD + (1 - 2 * _MISREAD) * chance
            out += np.log(chance if mark == "touched" else 1.0 - chance)
    return out


def _points(facet_map: FacetMap, geometry: Geometry) -> dict[str, Array]:
    """For the stone's, the touched and the missed cells: (4, n) outermost point and centre in mm, right, tip positive.

    The outermost points of the cells span the facet edge to edge.
    """
    import numpy as np

    groups: dict[str, list[tuple[float, ...]]] = {"stone": [], "touched": [], "missed": []}
    for r, row in enumerate(facet_map.rows):
        for c, mark in enumerate(row):
            u = (c / (facet_map.width - 1) - 0.5) * geometry.across
            v = (0.5 - r / (facet_map.height - 1)) * geometry.along
            inner = (1 - 1 / facet_map.width, 1 - 1 / facet_map.height)
            point = (u, v, u * inner[0], v * inner[1])
            if mark != "absent":
                groups["stone"].append(point)
            if mark in ("touched", "missed"):
                groups[mark].append(point)
    return {name: np.array(points).reshape(-1, 4).T for name, points in groups.items()}


def median(values: Array, mass: Array) -> float:
    """The median of masses at points: from both ends, so that mirrored masses give the mirrored one to the last bit."""
    level = float(mass.sum()) / 2
    return (_quantile(values, mass, level) - _quantile(-values[::-1], mass[::-1], level)) / 2


def _quantile(values: Array, marginal: Array, level: float) -> float:
    """A quantile of a distribution given by masses at grid points, linear between the points."""
    import numpy as np

    middle = np.cumsum(marginal) - marginal / 2
    return float(np.interp(level, middle, values))
