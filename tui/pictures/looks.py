"""What a look shows, and the facts told by sight, drawn."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from lapwise.tui.pictures.ink import HIGH, WIDE, Fill, Marks, Points, Stroke, moved
from lapwise.tui.pictures.scenes import FIELD, bright, dull, facet, lap, lap_edge, loupe, on_dop, on_the_way
from lapwise.tui.pictures.strokes import (
    Box,
    along,
    arc,
    arrow,
    bow,
    box,
    cross,
    disc,
    furrows,
    hairlines,
    holes,
    ring,
    shaded,
    shine,
    spark,
    spread,
    tick,
    together,
    waves,
    within,
)

SHEET: Box = (0, 0, WIDE, HIGH)
Draw = Callable[[], Marks]

# --- ink on a facet, tip end up ------------------------------------------------------------------------------

INKED: Points = ((36, 4), (64, 4), (92, 76), (8, 76))
"""A facet as one faces it, tip end up."""
_LEFT = box(-2, -2, 50, 82)
_TOP = box(-2, -2, 102, 40)
_MIDDLE = disc((50, 44), 17)


def inked(*rubbed: Points) -> Marks:
    """A facet full of ink, rubbed bright where ``rubbed`` says."""
    clean = tuple(Fill(part, 0.0) for part in rubbed)
    return facet((Fill(box(*SHEET), 0.6), *clean), shape=INKED)


def _all_over() -> Marks:
    return together(inked(box(*SHEET)), shine(38, 18, 14), spark((58, 56), 14))


def _pair(one: Marks, other: Marks, *signs: Marks) -> Marks:
    return together(moved(one, to=(25, 36), size=0.46), moved(other, to=(75, 36), size=0.46), *signs)


# --- lines under the loupe -----------------------------------------------------------------------------------


def dotted() -> Marks:
    return loupe(furrows(FIELD, -40, 9, width=1.4, dotted=4.5))


def crooked() -> Marks:
    return loupe(hairlines(31, FIELD, 15, 17, bend=3.5))


def continuous() -> Marks:
    return loupe(furrows(FIELD, -40, 9))


def _rings(most: int) -> Marks:
    return tuple(Stroke(disc((50, 40), r, flat=0.75), 2.4) for r in range(8, 8 + most * 10, 10))


def _wiped(left: int) -> Marks:
    drop = (*arc((50, 62), 5, 0, 180), (50, 52))
    before, after = loupe(_rings(4)), loupe(_rings(left)) if left else loupe(bright())
    return _pair(before, after, arrow(((47, 36), (54, 36)), 1.6, 5), shaded(drop, 0.4, 1.4))


def _other(good: bool, shape: Points | None = None) -> Marks:
    scratched = hairlines(7, SHEET, 26, 34, width=2)
    bad = facet(scratched)
    second = bright() if good else scratched
    other = facet(second, shape=shape) if shape else facet(second)
    return _pair(bad, other, cross((25, 68), 6), tick((75, 68), 6) if good else cross((75, 68), 6))


def _dropped(mark: float) -> Marks:
    """A drop on a bright facet, and the spot after it is rinsed off: clouded by ``mark``, or as bright as before."""
    drop = (*arc((50, 46), 17, 0, 180), (50, 8))
    wet = facet(shaded(drop, 0.35, 2.4))
    spot = disc((50, 42), 22)
    dry = facet((Fill(spot, mark),)) if mark else facet(bright())
    return _pair(wet, dry, arrow(((46.5, 36), (53.5, 36)), 1.6, 5), cross((75, 68), 6) if mark else tick((75, 68), 6))


ROUND: Points = disc((50, 40), 38)


def turned(new_way: bool) -> Marks:
    """Lines after a stroke across them, the arrow: along it, or as they were."""
    lines = furrows(FIELD, 0, 7.5) if new_way else furrows(FIELD, 90, 10, width=1.8, dotted=5)
    return on_the_way(lines)


GEM: Points = ((6, 26), (22, 8), (78, 8), (94, 26), (50, 76))


def _cleavage(turn: float | None) -> Marks:
    planes = furrows((10, 0, 90, 80), turn, 8) if turn is not None else ()
    asked = (Stroke((*arc((50, 26), 8, 180, 400), (50, 40), (50, 45)), 2.4), Stroke(((50, 52),), 3.0))
    table = Stroke(((22, 8), (78, 8)), 4.0)
    return together(facet(planes if turn is not None else asked, shape=GEM), (table,))


def _named(same: bool) -> Marks:
    one = facet(shape=GEM)
    other = facet(shape=GEM) if same else facet(shape=((20, 10), (80, 10), (80, 70), (20, 70)))
    middle = [Stroke(((45, y), (55, y)), 2.0) for y in (32, 40)]
    if not same:
        middle.append(Stroke(((46, 46), (54, 26)), 2.0))
    return _pair(one, other, tuple(middle), tick((50, 68), 6) if same else cross((50, 68), 6))


def _straight_edge(top: Points, *more: Marks) -> Marks:
    body = (*top, (96, 74), (4, 74))
    rule = box(4, 26, 96, 34)
    ticks = tuple(Stroke(((x, 34), (x, 30)), 0) for x in range(10, 95, 8))
    return together(shaded(body, 0.6, 1.6), shaded(rule, 0.0, 1.4), ticks, *more)


def _wobble() -> Marks:
    tilted = ((6, 50), (94, 40), (95, 48), (7, 58))
    other = tuple(Stroke(((x, 40 + x * 0.11), (x + 4, 40.4 + x * 0.11)), 1.4) for x in range(6, 92, 9))
    up = together(arrow(((97, 56), (97, 36)), 1.2, 4), arrow(((3, 34), (3, 54)), 1.2, 4))
    return together(shaded(tilted, 0.6, 1.6), other, (Stroke(((50, 50), (50, 76)), 4.0),), up)


RESULTS: Mapping[str, Draw] = {
    "ink-facet=even": _all_over,
    "ink-facet=one-side": lambda: inked(_LEFT),
    "ink-facet=one-end": lambda: inked(_TOP),
    "ink-facet=centre": lambda: inked(_MIDDLE),
    "ink-facet=edges": lambda: facet((Fill(disc((50, 46), 21), 0.6),), shape=INKED),
    "loupe-check=dotted": dotted,
    "loupe-check=crooked": crooked,
    "loupe-check=continuous": continuous,
    "loupe-check=pits": lambda: loupe(holes(9, FIELD, 17, 1.6, 4.2)),
    "loupe-check=clean": lambda: loupe(bright()),
    "soak-and-wipe=gone": lambda: _wiped(0),
    "soak-and-wipe=less": lambda: _wiped(2),
    "soak-and-wipe=same": lambda: _wiped(4),
    "drop-test=clouded": lambda: _dropped(0.45),
    "drop-test=unchanged": lambda: _dropped(0.0),
    "test-other-stone=good": lambda: _other(True, ROUND),
    "test-other-stone=same": lambda: _other(False, ROUND),
    "test-other-facet=good": lambda: _other(True, INKED),
    "test-other-facet=same": lambda: _other(False, INKED),
    "cross-stroke=turns": lambda: turned(True),
    "cross-stroke=stays": lambda: turned(False),
    "find-cleavage=near": lambda: _cleavage(4),
    "find-cleavage=far": lambda: _cleavage(48),
    "find-cleavage=not-found": lambda: _cleavage(None),
    "identify-stone=as-named": lambda: _named(True),
    "identify-stone=other": lambda: _named(False),
    "check-alignment=level": lambda: _pair(_all_over(), _all_over(), tick((50, 72), 5)),
    "check-alignment=one-side": lambda: _pair(inked(_LEFT), inked(_LEFT)),
    "check-alignment=one-end": lambda: _pair(inked(_TOP), inked(_TOP)),
    "check-alignment=wave": lambda: _pair(inked(_LEFT), inked(box(50, -2, 102, 82))),
    "check-lap-true=true": lambda: _straight_edge(((4, 36), (96, 36)), tick((50, 14), 7)),
    "check-lap-true=wobbles": _wobble,
    "check-lap-true=hollow": lambda: _straight_edge(along((4, 36), (96, 36), bow(15)), cross((50, 14), 7)),
}
"""By ``look=result``."""


def _ink_facet() -> Marks:
    return together(
        lap_edge(62, (Stroke(((32, 61), (46, 61)), 2.4),)), on_dop((40, 60)), arrow(((66, 20), (66, 52)), 2, 7)
    )


def _loupe_check() -> Marks:
    return together(
        (*ring((40, 44), 22, width=2.6), Stroke(((56, 60), (74, 76)), 6.0), *shine(30, 32, 12)),
        tuple(Stroke(((92, 6), (92 - x, 6 + y)), 1.4) for x, y in ((22, 8), (18, 16), (10, 22))),
        (Fill(disc((92, 6), 5)),),
    )


LOOKS: Mapping[str, Draw] = {
    "ink-facet": _ink_facet,
    "loupe-check": _loupe_check,
    "soak-and-wipe": lambda: _wiped(2),
    "drop-test": lambda: _dropped(0.45),
    "test-other-stone": lambda: _other(True, ROUND),
    "test-other-facet": lambda: _other(True, INKED),
    "cross-stroke": lambda: turned(False),
    "find-cleavage": lambda: _cleavage(20),
    "check-alignment": lambda: _pair(inked(_LEFT), inked(_LEFT)),
    "check-lap-true": lambda: _straight_edge(along((4, 36), (96, 36), bow(9))),
}
"""How a look is taken."""


# --- facts told by sight -------------------------------------------------------------------------------------


def _placed(*where: Points, shape: Points = INKED) -> Marks:
    """Scratches on a facet, tip end up, at some places only."""
    lines = hairlines(17, SHEET, 11, 13, width=1.2)
    return facet(*(within(part, lines) for part in where), shape=shape)


def _ring_of_scratches() -> Marks:
    grain = tuple(Fill(disc(p, 2.4)) for p in ((26, 22), (62, 12), (78, 52)))
    rings = ring((50, 40), 31, 23)
    return together(lap((50, 40), 38, rings, (Fill(disc((50, 40), 27), 0.0), Stroke(disc((50, 40), 27), 4.0)), grain))


def _face(*marks: Marks) -> Marks:
    return lap((50, 40), 38, *marks)


def _torn() -> Marks:
    rip = ((50, 30), (62, 26), (60, 20), (72, 18), (70, 10), (86, 12), (80, 24), (72, 30), (66, 28), (58, 36))
    return _face(shaded(rip, 0.7, 1.6))


SEEN: Mapping[str, Draw] = {
    "scratch_form=dotted": dotted,
    "scratch_form=continuous": continuous,
    "scratch_form=crooked": crooked,
    "scratch_form=curved": lambda: loupe(tuple(Stroke(arc((8, 96), r, -100, 10)) for r in range(24, 110, 8))),
    "scratch_place=whole-facet": lambda: _placed(box(*SHEET)),
    "scratch_place=one-zone-of-lap": _ring_of_scratches,
    "scratch_place=edges": lambda: together(_placed(box(*SHEET)), (Fill(disc((50, 46), 22), 0.0),)),
    "scratch_place=centre": lambda: _placed(disc((50, 46), 20)),
    "scratch_place=tip-end": lambda: _placed(box(0, 0, 100, 30)),
    "scratch_place=dop-end": lambda: _placed(box(0, 52, 100, 80)),
    "scratch_place=one-side": lambda: _placed(_LEFT),
    "lap_surface=fresh": lambda: _face(tuple(Stroke((p,), 1.0) for p in spread(4, (0, 0, 100, 80), 5))),
    "lap_surface=worked-in": lambda: _face(ring((50, 40), *range(8, 38, 5))),
    "lap_surface=smooth": _face,
    "lap_surface=glazed": lambda: _face(shine(26, 18, 16), shine(52, 40, 14)),
    "lap_surface=caked": lambda: _face(
        tuple(Fill(disc(p, 4.2, flat=0.8), 0.7) for p in spread(12, (12, 4, 88, 76), 11))
    ),
    "lap_surface=grooved": lambda: _face(ring((50, 40), 14, 24, 32, width=3.0)),
    "lap_surface=torn": _torn,
    "lap_surface=bubbled": lambda: _face(
        tuple(m for p in spread(5, (12, 4, 88, 76), 19) for m in (Stroke(disc(p, 5), 1.4), Stroke(arc(p, 3, 180, 270))))
    ),
    "lap_surface=wrinkled": lambda: _face(
        tuple(Stroke(along((8, y), (92, y - 14), waves(2.5, 2.5), 40), 1.4) for y in range(8, 96, 11))
    ),
    "lap_surface=worn-out": lambda: _face(dull(0.2), (Fill(disc((50, 40), 28), 0.0), Fill(disc((50, 40), 13), 0.2))),
}
"""By ``condition=value``."""
