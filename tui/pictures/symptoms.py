"""What a cutter sees or feels, drawn. The looks are common practice, no source; each drawing is our own."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping

from lapwise.tui.pictures.ink import Fill, Mark, Marks, Stroke, moved
from lapwise.tui.pictures.scenes import (
    FIELD,
    SMALL,
    SURFACE,
    bright,
    cut,
    dull,
    facet,
    lap,
    lap_edge,
    loupe,
    on_dop,
    on_the_way,
    row,
)
from lapwise.tui.pictures.strokes import (
    along,
    arc,
    arrow,
    bow,
    box,
    clock,
    closed,
    comets,
    cross,
    dimples,
    disc,
    furrows,
    hairlines,
    holes,
    polar,
    ring,
    rough,
    shaded,
    shine,
    spark,
    spread,
    tick,
    together,
    waves,
)


def coarse_scratches() -> Marks:
    lines = (Stroke(((8, 58), (78, 6)), 3.0), Stroke(((44, 64), (90, 26)), 3.0))
    notch = ((8, SURFACE), (36, SURFACE), (43, SURFACE + 10), (50, SURFACE), (92, SURFACE))
    return together(facet(shine(24, 12, 12), lines), spark((57, 21.5), 10), cut(notch))


def scratches_return() -> Marks:
    before = facet(hairlines(3, (0, 0, 100, 80), 30, 46, width=2), shape=SMALL)
    after = facet(hairlines(8, (0, 0, 100, 80), 30, 46, width=2), shape=SMALL)
    return together(
        row(before, facet(bright(), shape=SMALL), after, middle=34),
        arrow(arc((33, 19), 15, 220, 320, flat=0.8), 1.8, 6),
        arrow(arc((67, 19), 15, 220, 320, flat=0.8), 1.8, 6),
        arrow(along((84, 54), (17, 54), bow(-20)), 1.8, 7),
    )


def partial_polish() -> Marks:
    half = ((50, -2), (102, -2), (102, 82), (40, 82), (48, 50))
    return facet(shine(16, 26, 18), (Fill(half, 0.5), Stroke(half[-1:] + half[:1], 1.4), Stroke(half[3:], 1.4)))


def _over_time(*tones: float) -> Marks:
    parts = [facet(dull(t), shape=SMALL) for t in tones]
    step = 100 / len(tones)
    clocks = [clock((step * (i + 0.5), 64), 11, (0.05, 0.4, 0.75)[i]) for i in range(len(tones))]
    return together(row(*parts), *clocks)


def uneven_results() -> Marks:
    bad = facet(hairlines(5, (0, 0, 100, 80), 26, 44, width=2), shape=SMALL)
    good = facet(bright(), shape=SMALL)
    signs = [tick((12.5, 62), 6), cross((37.5, 62), 6), tick((62.5, 62), 6), cross((87.5, 62), 6)]
    return together(row(good, bad, good, facet(dull(), shape=SMALL), middle=32), *signs)


def torn_facet() -> Marks:
    rng = random.Random(11)
    marks: list[Mark] = []
    for at, r in (((34, 22), 6), ((62, 33), 8), ((38, 55), 7), ((66, 62), 5)):
        marks.append(Fill(rough(rng, at, r, 0.55, long=2.0, turn=-20)))
    for x, y in spread(12, FIELD, 16):
        jag = tuple((x + s, y - s * 0.36 + rng.uniform(-2.2, 2.2)) for s in range(-9, 10, 3))
        marks.append(Stroke(jag, 1.2))
    return loupe(tuple(marks))


def curved_facet() -> Marks:
    top = along((8, SURFACE + 6), (92, SURFACE + 6), bow(-12))
    straight: tuple[Mark, ...] = tuple(Stroke(((x, SURFACE - 7), (x + 4, SURFACE - 7)), 1.4) for x in range(6, 93, 8))
    tube = (Stroke(arc((50, 78), 50, 232, 308), 7.0),)
    return together(facet(tube), cut(top, straight))


def undercutting() -> Marks:
    grains = (
        ((20, 8), (46, 0), (54, 22), (34, 34), (16, 26)),
        ((60, 20), (92, 16), (92, 44), (66, 48), (52, 36)),
        ((22, 42), (44, 40), (52, 62), (30, 72), (10, 58)),
    )
    s = SURFACE
    steps = ((8, s), (24, s), (24, s + 6), (42, s + 6), (42, s), (56, s), (56, s + 6), (80, s + 6), (80, s), (92, s))
    return together(loupe(*(shaded(grain, 0.45, 1.4) for grain in grains)), cut(steps))


def hot_stone() -> Marks:
    heat = tuple(Stroke(along((x, 50), (x, 18), waves(1.5, 3)), 1.4) for x in (12, 24, 60, 72))
    glass = (*arc((88, 64), 7, -60, 240), (84.5, 14), *arc((88, 14), 3.5, 180, 360))
    meter: Marks = (
        *shaded(glass, 0.0, 1.4),
        Fill(disc((88, 64), 4.6)),
        Stroke(((88, 62), (88, 18)), 2.4),
        *(Stroke(((80, y), (84, y)), 1.0) for y in (20, 28, 36, 44, 52)),
    )
    return together(lap_edge(64, right=76), on_dop((42, 63)), heat, meter)


def haze() -> Marks:
    return loupe(shine(26, 20, 26), spark((64, 52), 15), tuple(Stroke((p,)) for p in spread(2, FIELD, 3.4)))


def orange_peel() -> Marks:
    top = along((8, SURFACE), (92, SURFACE), waves(7, 2.6), 84)
    return together(loupe(dimples(6, FIELD, 12, 4)), cut(top))


def pits() -> Marks:
    s = SURFACE
    cups = [arc((x, s), r, 180, 0) for x, r in ((26, 4), (56, 6), (79, 3))]
    top = ((8, s), *(p for cup in cups for p in cup), (92, s))
    return together(loupe(holes(9, (14, 4, 88, 66), 17, 1.6, 4.2)), cut(top))


def rounded_edges() -> Marks:
    dashes: list[Mark] = []
    for s in range(0, 9):
        dashes.append(Stroke(((50 - 4 * s, 18 + 3.4 * s), (48.4 - 4 * s, 19.4 + 3.4 * s)), 1.2))
        dashes.append(Stroke(((50 + 4 * s, 18 + 3.4 * s), (51.6 + 4 * s, 19.4 + 3.4 * s)), 1.2))
    half = ((4, 57), (30, 40.5), (36, 36.6), (42, 33.6))
    top = (*half, (50, 32.4), *((100 - x, y) for x, y in half[::-1]))
    return (Fill((*top, (96, 78), (4, 78)), 0.38), Stroke(top, 2.4), *dashes)


def soft_meets() -> Marks:
    ways = [(math.cos(math.radians(t)), math.sin(math.radians(t))) for t in (-90, -30, 40, 90, 150, 215)]

    def meet(x: float, begin: float) -> Marks:
        lines = (Stroke(((x + begin * u, 40 + begin * v), (x + 21 * u, 40 + 21 * v)), 1.4) for u, v in ways)
        return (Stroke(disc((x, 40), 21), 2.0), *lines)

    blur = tuple(
        Stroke(((77 + r * u + side, 40 + r * v - side),), 1.0)
        for u, v in ways
        for r, side in ((14, 0), (12, 1), (12, -1), (9.5, 1.6), (9.5, -1.6), (9.5, 0))
    )
    spot = (Fill(disc((77, 40), 8.5), 0.3), Fill(disc((77, 40), 5), 0.5))
    return together(meet(23, 0), meet(77, 16), blur, spot, arrow(((45.5, 40), (54.5, 40)), 1.6, 5))


def chipped_edges() -> Marks:
    rng = random.Random(5)
    stone = ((-5, 34), (105, 34), (105, 90), (-5, 90))
    marks: list[Mark] = [Fill(stone, 0.38), Stroke(((-5, 34), (105, 34)), 2.2)]
    for x, r in ((24, 5), (42, 9), (60, 4), (77, 7)):
        bite = rough(rng, (x, 33), r, 0.2)
        marks += [Fill(bite, 0.0), Stroke(tuple(p for p in closed(bite) if p[1] > 33.5), 1.8)]
        marks.append(Stroke(arc((x, 33), r * 0.55, 30, 150), 1.0))
    marks.append(Fill(box(0, 0, 100, 33), 0.0))
    for at, size in (((32, 18), 2.6), ((50, 12), 3.4), ((68, 20), 2.2)):
        chip = rough(rng, at, size, 0.5)
        marks += shaded(chip, 0.4, 1.0)
    return loupe(tuple(marks))


def flaking() -> Marks:
    terraces = (
        ((10, 16), (58, 8), (82, 30), (70, 60), (26, 66), (8, 44)),
        ((22, 24), (54, 17), (70, 32), (60, 52), (32, 56), (20, 42)),
        ((34, 32), (52, 26), (59, 35), (52, 45), (38, 47)),
    )
    steps = [shaded(shape, tone, 1.6) for tone, shape in zip((0.16, 0.34, 0.62), terraces, strict=True)]
    s = SURFACE
    stairs = ((26, 0), (27, 3.5), (40, 3.5), (41, 7), (58, 7), (59, 3.5), (72, 3.5), (73, 0))
    flake = ((42, s - 2), (62, s - 7), (63, s - 4), (43, s + 1))
    top = ((8, s), *((x, s + down) for x, down in stairs), (92, s))
    return together(loupe(*steps), cut(top, shaded(flake, 0.7, 1.0)))


STONE = ((6, 30), (26, 10), (74, 10), (94, 30), (50, 76))
"""A stone from the side, table up."""


def cracks() -> Marks:
    girdle = (Stroke(((6, 30), (94, 30)), 1.0), Stroke(((6, 34), (10, 34), (90, 34), (94, 34)), 1.0))
    crack = ((66, 11), (60, 22), (66, 30), (54, 40), (58, 48), (46, 58))
    side = ((66, 30), (76, 36), (78, 44))
    other = ((54, 40), (42, 42), (38, 36))
    feather = (Stroke(crack, 2.6), Stroke(side, 1.8), Stroke(other, 1.8))
    return together((Stroke(closed(STONE), 2.2),), girdle, feather)


def one_direction_only() -> Marks:
    rough_face = facet(hairlines(7, (0, 0, 100, 80), 22, 30, width=2), holes(3, (0, 0, 100, 80), 34, 3, 6))
    return together(
        moved(facet(bright()), to=(25, 30), size=0.42),
        moved(rough_face, to=(75, 30), size=0.42),
        arrow(((6, 56), (44, 56)), 2.4, 8),
        arrow(((94, 56), (56, 56)), 2.4, 8),
        tick((25, 70), 6),
        cross((75, 70), 6),
    )


def drags() -> Marks:
    jerks = ((6, 52), (12, 38), (16, 52), (22, 38), (26, 52), (32, 38))
    sound = tuple(Stroke(arc((62, 58), r, -50, 10), 1.8) for r in (20, 28, 36))
    return together(
        lap_edge(62),
        on_dop((52, 62), lean=-22),
        (Stroke(jerks, 2.4),),
        arrow(((8, 75), (92, 75)), 2, 7),
        sound,
    )


def skates() -> Marks:
    film = along((4, 62), (96, 62), waves(9, 1.0), 90)
    gap = (Fill((*film, (96, 69), (4, 69)), 0.25), Stroke(film, 1.2))
    speed = tuple(Stroke(((6 + i * 4, y), (30 - i, y)), 1.4) for i, y in enumerate((24, 33, 42, 51)))
    return together(lap_edge(69), gap, on_dop((58, 57)), speed, arrow(((76, 42), (95, 42)), 2, 7))


def surface_film() -> Marks:
    rng = random.Random(3)
    rings: list[Mark] = []
    for middle, far in (((38, 26), 24), ((62, 62), 16)):
        for at, r in enumerate(range(4, far, 4)):
            blob = tuple(
                (middle[0] + r * 1.3 * math.cos(t), middle[1] + r * (0.8 + 0.1 * math.sin(2 * t)) * math.sin(t))
                for t in (2 * math.pi * i / 36 for i in range(37))
            )
            rings.append(Stroke(blob, 1.8 if at % 2 else 0))
    cloth = rough(rng, (80, 34), 13, 0.14)
    wiped = (Stroke(along((0, 62), (78, 36), bow(-3)), 17, ink=False), *shine(26, 46, 6))
    folds = tuple(Stroke(arc((80, 34), r, 190, 300), 1.4) for r in (5, 9))
    return together(loupe(tuple(rings), wiped), (*shaded(cloth, 0.3, 1.8), *folds))


def two_planes() -> Marks:
    s = SURFACE
    edge = ((52, -2), (46, 82))
    field = together(shine(24, 24, 14), moved(shine(40, 30, 26), to=(70, 36), size=0.5), (Stroke(edge, 1.0),))
    top = ((8, s + 7), (50, s - 2), (92, s + 7))
    return together(loupe(field), cut(top))


def facet_moved() -> Marks:
    upper = [Stroke(((x - 15, 6), (x, 40), (x + 15, 6)), 2.0) for x in (20, 50, 80)]
    lower = [Stroke(((x - 15, 74), (x, 40), (x + 15, 74)), 2.0) for x in (28, 58, 88)]
    sides = [(x, 15 * side) for side in (1, -1) for x in (20, 50, 80)]
    was = [Stroke(((x + far * s, 40 + 34 * s),), 1.2) for x, far in sides for s in (0.15, 0.3, 0.45, 0.6, 0.75, 0.9)]
    return together(tuple(upper), tuple(lower), tuple(was), (Stroke(((2, 40), (98, 40)), 1.0),))


def burnt_compound() -> Marks:
    rng = random.Random(8)
    crust = tuple(
        Fill(rough(rng, polar((50, 40), 25, t), rng.uniform(4, 6.5), 0.4))
        for t in (2 * math.pi * i / 22 for i in range(22))
    )
    return lap((50, 40), 38, ring((50, 40), 33), crust, ring((50, 40), 15))


def fumes() -> Marks:
    curls = tuple(Stroke(along((x, 58), (x + 16, 24), waves(1.2, 4)), 2.0) for x in (10, 22, 34))
    dish = ((4, 62), (48, 62), (42, 74), (10, 74))
    head = disc((74, 34), 20)
    eyes = together(cross((66, 30), 3.2), cross((82, 30), 3.2))
    mouth = (Fill(disc((74, 44), 4.6, flat=1.2), 1.0),)
    cough = tuple(Stroke(((74 - 4 + i * 4, 58), (74 - 9 + i * 9, 70)), 1.4) for i in range(3))
    return together(curls, shaded(dish, 0.6, 1.6), (Stroke(head, 2.2),), eyes, mouth, cough)


SYMPTOMS: Mapping[str, Callable[[], Marks]] = {
    "fine-scratches": lambda: loupe(hairlines(4, FIELD, 15, 15, bend=2.5)),
    "coarse-scratches": coarse_scratches,
    "scratches-with-travel": lambda: on_the_way(furrows(FIELD, 0, 7.5)),
    "scratches-cutting-direction": lambda: on_the_way(furrows(FIELD, -58, 10, width=1.8, dotted=5)),
    "scratches-return": scratches_return,
    "partial-polish": partial_polish,
    "stays-dull": lambda: _over_time(0.5, 0.5, 0.5),
    "slow-polish": lambda: _over_time(0.65, 0.38, 0.14),
    "uneven-results": uneven_results,
    "torn-facet": torn_facet,
    "curved-facet": curved_facet,
    "undercutting": undercutting,
    "hot-stone": hot_stone,
    "haze": haze,
    "orange-peel": orange_peel,
    "pits": pits,
    "comet-tails": lambda: loupe(comets(21, (4, 8, 78, 84), 19, -24, 19, 2.8)),
    "rounded-edges": rounded_edges,
    "soft-meets": soft_meets,
    "chipped-edges": chipped_edges,
    "flaking": flaking,
    "cracks": cracks,
    "one-direction-only": one_direction_only,
    "drags": drags,
    "skates": skates,
    "surface-film": surface_film,
    "two-planes": two_planes,
    "facet-moved": facet_moved,
    "burnt-compound": burnt_compound,
    "fumes": fumes,
}
