"""A lap and its rings: a grain fixed in the face draws arcs about the lap's middle on a stone that is held still.

So arcs that bend tell of a grain near the middle, lines that are nearly straight of one near the rim (geometry: the
grain's path over the stone is a circle as large as its ring).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from lapwise.tui.pictures.ink import Fill, Marks, Point, Stroke
from lapwise.tui.pictures.strokes import arc, box, closed, disc, furrows, polar, ring, spread, together, within

LAP: Point = (36, 40)
RADIUS = 34.0
RINGS = (11.0, 20.0, 29.0)
"""Of a lap drawn with a radius of 34."""
WORDS = (
    "Arcs on a stone held still tell the ring a grain sits in: bent from near the middle, nearly straight from near "
    "the rim. The dots are grains, each with its ring and what it draws."
)


def _faces() -> Mapping[str, Callable[[], Marks]]:
    left, top, right, bottom = LAP[0] - RADIUS, LAP[1] - RADIUS, LAP[0] + RADIUS, LAP[1] + RADIUS
    whole = (left, top, right, bottom)

    def dots(gap: float) -> Marks:
        return tuple(Stroke((p,)) for p in spread(2, whole, gap))

    def spokes(count: int, begin: float = 5) -> Marks:
        ways = [math.tau * i / count for i in range(count)]
        return tuple(Stroke((polar(LAP, begin, t), polar(LAP, RADIUS, t))) for t in ways)

    return {
        "grains": lambda: dots(4.5),
        "bonded": lambda: dots(7),
        "scored": lambda: spokes(16),
        "plain": lambda: (),
        "segments": lambda: together(spokes(8, 8), ring(LAP, 8)),
        "film": lambda: ring(LAP, RADIUS - 2.5),
        "grown": lambda: ring(LAP, 5, 8, 14.5, 17, 24, 26.5),
        "woven": lambda: together(furrows(whole, 0, 6), furrows(whole, 90, 6)),
    }


def lap_rings(face: str) -> Marks:
    """The lap from above with its rings, and beside it what a grain in each ring draws on a stone held still."""
    axle = disc(LAP, 3)
    marks: list[Marks] = [within(disc(LAP, RADIUS), _faces()[face]()), (Stroke(disc(LAP, RADIUS), 2.0),)]
    marks.append((Fill(axle, 0.0), Stroke(axle, 1.0)))
    marks += [(Stroke(disc(LAP, r), 3.6, ink=False), Stroke(disc(LAP, r), 1.4)) for r in RINGS]
    for radius, turn, middle, bend in zip(RINGS, (-62, 0, 62), (14.0, 40.0, 66.0), (10.0, 22.0, 70.0), strict=True):
        grain = polar(LAP, radius, math.radians(turn))
        stone = box(78, middle - 11, 98, middle + 11)
        lines = tuple(Stroke(arc((88 - bend - 7 + s, middle), bend, -80, 80), 1.2) for s in (2, 8, 14))
        marks += [
            (Stroke((grain, (77, middle)), 0.8), Fill(disc(grain, 2.6)), Fill(stone, 0.0)),
            within(stone, lines),
            (Stroke(closed(stone), 1.6),),
        ]
    return together(*marks)


FACES: Mapping[str, str] = {
    "plated-diamond-lap": "grains",
    "sintered-diamond-lap": "grains",
    "resin-diamond-lap": "bonded",
    "copper-lap": "scored",
    "zinc-lap": "scored",
    "tin-lap": "scored",
    "tin-alloy-lap": "scored",
    "tin-lead-lap": "scored",
    "cast-iron-lap": "segments",
    "ceramic-lap": "plain",
    "composite-lap": "plain",
    "oxide-composite-lap": "plain",
    "acrylic-lap": "scored",
    "phenolic-lap": "plain",
    "polishing-film": "film",
    "wax-lap": "segments",
    "wood-lap": "grown",
    "pitch-lap": "segments",
    "cloth-or-leather-lap": "woven",
}
"""How the face of each type of lap is drawn."""
