"""How the hand moves: plan views and side views of the remedies that have a motion."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from lapwise.tui.pictures.ink import Fill, Mark, Marks, Point, Stroke, moved
from lapwise.tui.pictures.looks import GEM
from lapwise.tui.pictures.scenes import FIELD, facet, lap, lap_edge, loupe, on_dop, turning
from lapwise.tui.pictures.strokes import (
    along,
    arc,
    arrow,
    bow,
    box,
    cross,
    disc,
    furrows,
    polar,
    ring,
    shaded,
    tick,
    together,
    turned,
    waves,
)

LAP: Point = (44, 40)
"""Where a lap seen from above has its middle, and how large it is."""
RADIUS = 36.0


def _stone(at: Point, size: float = 6.0) -> Marks:
    """A stone from above."""
    shape = tuple(polar(at, size, math.pi / 4 * i) for i in range(8))
    return (*shaded(shape, 0.0, 1.6), Fill(disc(at, size * 0.4), 1.0))


def change_sweep() -> Marks:
    sweep = arrow(along((60, 52), (72, 22), bow(6)), 2, 6, both=True)
    return together(
        lap(LAP, RADIUS, ring(LAP, 12, 24)), turning(LAP, RADIUS - 6, begin=150, far=70), sweep, _stone((66, 38))
    )


def reverse_direction() -> Marks:
    one = together(lap((50, 40), 38), turning((50, 40), 28, begin=200, far=140), _stone((50, 62), 8))
    other = together(lap((50, 40), 38), turning((50, 40), 28, begin=200, far=140, clockwise=False), _stone((50, 62), 8))
    return together(moved(one, to=(25, 40), size=0.56), moved(other, to=(75, 40), size=0.56))


def across() -> Marks:
    """Work across the old direction until the old lines are gone."""
    old = furrows(FIELD, -90, 8, width=1.4, dotted=4)
    gone = (Fill(box(52, 0, 100, 80), 0.0), *furrows((54, 6, 88, 74), 0, 6))
    return together(loupe(old, gone), arrow(((14, 40), (88, 40)), 3, 9, both=True))


def below_the_damage() -> Marks:
    """Cut to below the cracks, to the dashed line."""
    top = along((8, 30), (92, 30), waves(9, 1.6), 90)
    marks: list[Mark] = [Fill((*top, (92, 78), (8, 78)), 0.3)]
    for x, deep in ((18, 50), (34, 44), (50, 56), (66, 46), (80, 52)):
        marks.append(Stroke(((x, 31), (x - 3, (31 + deep) / 2), (x + 2, deep)), 2.2))
    marks.append(Stroke(top, 1.6))
    marks += [Stroke(((x, 62), (x + 5, 62)), 2.0) for x in range(8, 92, 10)]
    return together(tuple(marks), arrow(((50, 6), (50, 24)), 2.4, 7), arrow(((96, 30), (96, 62)), 1.4, 5))


def old_skin() -> Marks:
    """The old surface comes off everywhere, before anything else."""
    marks: list[Mark] = [Fill(box(8, 44, 92, 76), 0.3), Stroke(((8, 44), (92, 44)), 1.6)]
    skin = box(8, 34, 46, 44)
    marks += shaded(skin, 0.85, 1.4)
    bits = (((56, 30), 3.4), ((68, 22), 2.6), ((80, 30), 2.2))
    marks += [Fill(disc(at, size, flat=0.6), 0.85) for at, size in bits]
    return together(tuple(marks), arrow(((92, 40), (52, 40)), 2.2, 7), arrow(((27, 8), (27, 28)), 2.2, 7))


def score_lap() -> Marks:
    ways = [math.tau * i / 20 for i in range(20)]
    lines = tuple(Stroke((polar(LAP, 9, t), polar(LAP, 34, t))) for t in ways)
    knife = ((78, 34), (96, 22), (98, 28), (82, 36))
    way = arrow(((54, 40), (80, 40)), 2.2, 7)
    return together(lap(LAP, RADIUS, lines), way, shaded(knife, 0.7, 1.2))


def flatten() -> Marks:
    """Take the high places down to the dashed line."""
    top = along((4, 40), (96, 40), bow(12))
    body = (*top, (96, 70), (4, 70))
    dashes = tuple(Stroke(((x, 53), (x + 5, 53)), 1.6, ink=True) for x in range(6, 94, 9))
    return together(
        shaded(body, 0.5, 1.6),
        dashes,
        arrow(((10, 18), (10, 36)), 2, 6),
        arrow(((90, 18), (90, 36)), 2, 6),
    )


def break_in() -> Marks:
    path = tuple(polar(LAP, 10 + 22 * i / 240, math.tau * i / 48) for i in range(241))
    return together(lap(LAP, RADIUS, (Stroke(path, 1.0),)), _stone((76, 40), 8), turning(LAP, 47, begin=-40, far=60))


def _dopping(*marks: Marks) -> Marks:
    """The finished flat on a plate, the dop straight above it."""
    plate = box(8, 62, 92, 70)
    upright = tuple(Stroke(((50, y), (50, y + 4)), 1.0) for y in range(2, 20, 7))
    stone = ((37, 62), (63, 62), (72, 50), (50, 34), (28, 50))
    dop = ((40, 42), (44, 30), (44, 8), (56, 8), (56, 30), (60, 42), (50, 34))
    return together(
        shaded(plate, 0.6, 1.4),
        shaded(stone, 0.0, 1.8),
        shaded(dop, 0.55, 1.4),
        upright,
        *marks,
    )


def _square(x: float) -> Marks:
    return (Stroke(((x, 30), (x, 62)), 1.4), Stroke(((x, 56), (x + 6, 56), (x + 6, 62)), 1.2))


def cold_dop() -> Marks:
    flame = ((18, 44), (12, 32), (16, 26), (18, 14), (25, 26), (27, 34))
    return _dopping(shaded(flame, 0.3, 1.4), cross((19, 30), 12))


def fine_index() -> Marks:
    """Along the dop: the side that stands off the lap, and stays dull, goes down."""
    stone = turned(((-22, 0), (24, 0), (32, -20), (24, -40), (-22, -40), (-32, -20)), (46, 66), -9)
    middle = (47, 47)
    return together(
        lap_edge(69),
        (*shaded(stone, 0.0, 1.8), Stroke(disc(middle, 8), 1.2), Fill(disc(middle, 3))),
        arrow(arc(middle, 36, -135, -50), 2.2, 8),
        arrow(((90, 34), (90, 60)), 2.4, 8),
    )


def angle() -> Marks:
    """From the side: tip the stone where it touches the lap."""
    tip = arrow(arc((44, 68), 58, -100, -48), 2.2, 7, both=True)
    return together(lap_edge(68), on_dop((44, 68), lean=30), tip, (Stroke(((44, 68),), 3.0),))


def height() -> Marks:
    mast = box(78, 6, 84, 68)
    arm = ((52, 22), (80, 16), (80, 21), (53, 28))
    return together(
        lap_edge(68),
        shaded(mast, 0.3, 1.4),
        shaded(arm, 0.6, 1.2),
        on_dop((40, 68), lean=20),
        arrow(((93, 12), (93, 58)), 2.2, 7, both=True),
    )


def _pressed(width: float) -> Marks:
    return together(lap_edge(66), on_dop((42, 66)), arrow(((74, 12), (74, 56)), width, 4 + 2 * width))


def _speed(far: float, width: float) -> Marks:
    path = arc(LAP, 25, 160, 160 + far)
    return together(lap(LAP, RADIUS), arrow(path, width, 5 + 1.5 * width), _stone((44, 66), 6))


def _drops(*drops: Point, film: bool = False) -> Marks:
    marks = [shaded((*arc((x, y), 3.6, 0, 180), (x, y - 8)), 0.5, 1.2) for x, y in drops]
    level = along((4, 61), (96, 61), waves(8, 1.0), 80)
    wet = (Fill((*level, (96, 66), (4, 66)), 0.2), Stroke(level, 1.2)) if film else ()
    return together(lap_edge(66), wet, on_dop((42, 65)), *marks)


def trailing_edge() -> Marks:
    """The sharp edge behind, so that the lap runs off it and not on to it."""
    stone = ((20, 60), (62, 60), (74, 48), (64, 36), (30, 36), (8, 50))
    bevel = ((62, 60), (66, 56))
    return together(
        lap_edge(60),
        (*shaded(stone, 0.2, 1.8), Stroke(bevel, 4.0)),
        arrow(((10, 76), (90, 76)), 2.2, 8),
        (Stroke(disc((67, 53), 10), 1.2),),
    )


def girdle_first() -> Marks:
    belt = ((6, 26), (94, 26), (90, 31), (10, 31))
    return together(facet(shape=GEM), (Fill(belt, 1.0),), arrow(((98, 8), (92, 22)), 2, 6), tick((50, 16), 5))


def off_cleavage() -> Marks:
    """The planes inside, and the facet tipped away from them."""
    body = ((8, 34), (88, 20), (76, 74), (20, 74))
    flat = tuple(Stroke(((x, 34), (x + 4, 34)), 1.6) for x in range(10, 96, 8))
    planes = facet(furrows((8, 12, 92, 80), 0, 8), shape=body)
    return together(planes, flat, (Stroke(((8, 34), (88, 20)), 3.0),), arrow(arc((8, 34), 78, 0, -9), 1.6, 5))


def scrub() -> Marks:
    brush = box(50, 30, 84, 40)
    hairs = tuple(Stroke(((x, 40), (x - 1, 48)), 1.2) for x in range(52, 84, 4))
    return together(
        lap(LAP, RADIUS, ring(LAP, 14, 22, 30)),
        (Fill(box(49, 29, 85, 49), 0.0), *shaded(brush, 0.7, 1.4), *hairs),
        arrow(((34, 60), (88, 60)), 2, 6, both=True),
    )


def pick_out() -> Marks:
    grain = (40, 22)
    rays = tuple(
        Stroke(((grain[0] + 5 * u, grain[1] + 5 * v), (grain[0] + 9 * u, grain[1] + 9 * v)), 1.2)
        for u, v in ((1, 0), (-1, 0), (0, 1), (0, -1))
    )
    needle = ((43, 21), (92, 4), (94, 8), (44, 24))
    face = lap(LAP, RADIUS, (Stroke(disc(LAP, 18.4), 1.0),), (Fill(disc(grain, 2.6)), *rays))
    return together(face, shaded(needle, 0.6, 1.0))


def lay_film() -> Marks:
    film = (*along((8, 58), (58, 58), bow(0)), *arc((62, 38), 20, 90, -20), (92, 12))
    roller = arrow(((14, 44), (46, 44)), 2.4, 8)
    return together(lap_edge(61), (Stroke(film, 3.0),), roller, arrow(((94, 34), (86, 50)), 1.6, 5))


def cool() -> Marks:
    air = tuple(Stroke(along((x, 30), (x + 14, 30), waves(1, 3)), 1.4) for x in (8, 70))
    return together(lap_edge(68), on_dop((46, 46)), air, arrow(((78, 60), (78, 40)), 2, 6))


MOTIONS: Mapping[str, Callable[[], Marks]] = {
    "change-sweep": change_sweep,
    "reverse-direction": reverse_direction,
    "step-back-one": across,
    "add-middle-step": across,
    "step-back-two": below_the_damage,
    "recut-surface": old_skin,
    "score-lap": score_lap,
    "recondition-lap": flatten,
    "break-in-lap": break_in,
    "re-dop": lambda: _dopping(arrow(((78, 14), (78, 40)), 2.2, 7), _square(14)),
    "cold-dop": cold_dop,
    "adjust-fine-index": fine_index,
    "adjust-angle": angle,
    "set-height": height,
    "press-lighter": lambda: _pressed(1.4),
    "press-harder": lambda: _pressed(5.0),
    "slow-down": lambda: _speed(50, 1.6),
    "speed-up": lambda: _speed(230, 3.0),
    "wetter": lambda: _drops((12, 20), (24, 40), (66, 14), (74, 36), (88, 22), (90, 48), film=True),
    "drier": lambda: _drops((78, 30)),
    "protect-edges": trailing_edge,
    "girdle-first": girdle_first,
    "shift-off-cleavage": off_cleavage,
    "clean-lap": scrub,
    "pick-out-grain": pick_out,
    "refit-film": lay_film,
    "new-film": lay_film,
    "to-polishing-film": lay_film,
    "let-cool": cool,
}
"""By remedy."""
