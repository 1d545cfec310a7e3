"""What the trials say, setting by setting: each map with the cells that prove something about that setting alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapwise.engine.case import Trial
from lapwise.engine.contact.facet_map import FacetMap, Mark, read_map


@dataclass(frozen=True, slots=True)
class Visit:
    """One setting. ``polish``: its map with the cells that were bright before as unknown; ``seen``: as it was seen."""

    turn: float
    angle: float
    polish: FacetMap | None
    ink: FacetMap | None
    seen: FacetMap | None
    fresh: bool

    @property
    def shown(self) -> FacetMap:
        """The map that tells most of this setting alone: what the polish proves, else where the ink went."""
        if self.polish is not None and (self.polish.known or self.ink is None):
            return self.polish
        assert self.ink is not None
        return self.ink


def told(seen: Sequence[Visit]) -> tuple[bool, bool]:
    """(across, along): whether some map has something marked at both ends, so that a slope can be told."""
    maps = [found for visit in seen for found in (visit.seen, visit.ink) if found is not None]
    return any(m.told[0] for m in maps), any(m.told[1] for m in maps)


def visits(trials: Sequence[Trial]) -> tuple[Visit, ...]:
    """The trials in order; an ink map and the polish map that follows it at the same setting are one visit.

    A cell that another setting polished before says nothing about this one, unless the map is fresh. The first polish
    map counts as fresh. Raises :class:`BadInput` for a map that cannot be read.
    """
    out: list[Visit] = []
    before: list[tuple[tuple[float, float], FacetMap]] = []
    for trial in trials:
        facet_map = read_map(trial.map, ink=trial.ink)
        last = out[-1] if out else None
        same = last is not None and (last.turn, last.angle) == (trial.turn, trial.angle)
        if trial.ink:
            out.append(Visit(trial.turn, trial.angle, None, facet_map, None, True))
            continue
        here = (trial.turn, trial.angle)
        fresh = trial.fresh or not before
        if fresh:
            before = []
        effective = _without(facet_map, [m for setting, m in before if setting != here])
        before.append((here, effective))
        ink = None
        if same and last is not None and last.polish is None:
            ink = last.ink
            out.pop()
        out.append(Visit(trial.turn, trial.angle, effective, ink, facet_map, fresh))
    return tuple(out)


def _without(facet_map: FacetMap, earlier: Sequence[FacetMap]) -> FacetMap:
    """The map with every cell that an earlier map shows bright made unknown."""
    if not earlier:
        return facet_map

    def mark(row: int, column: int) -> Mark:
        own = facet_map.rows[row][column]
        if own == "absent":
            return own
        y, x = (row + 0.5) / facet_map.height, (column + 0.5) / facet_map.width
        before = (e.rows[int(y * e.height)][int(x * e.width)] == "touched" for e in earlier)
        return "unknown" if any(before) else own

    return FacetMap(tuple(tuple(mark(r, c) for c in range(facet_map.width)) for r in range(facet_map.height)))
