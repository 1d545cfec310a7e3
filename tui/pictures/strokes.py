"""Shapes and textures, drawn by hand with a fixed seed: every drawing comes out the same each time."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence

from lapwise.tui.pictures.ink import Clip, Fill, Mark, Marks, Point, Points, Stroke

Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""

# --- shapes --------------------------------------------------------------------------------------------------


def arc(middle: Point, radius: float, begin: float, end: float, *, flat: float = 1.0) -> Points:
    """Part of a circle, degrees clockwise from the right; ``flat``: height over width of an ellipse."""
    steps = max(4, int(abs(end - begin) / (20 if radius < 8 else 10)))
    turns = [math.radians(begin + (end - begin) * i / steps) for i in range(steps + 1)]
    return tuple((middle[0] + radius * math.cos(t), middle[1] + radius * flat * math.sin(t)) for t in turns)


def disc(middle: Point, radius: float, *, flat: float = 1.0) -> Points:
    """A whole circle or ellipse."""
    return arc(middle, radius, 0, 360, flat=flat)


def polar(middle: Point, radius: float, turn: float) -> Point:
    """The point ``radius`` from the middle, ``turn`` radians clockwise from the right."""
    return (middle[0] + radius * math.cos(turn), middle[1] + radius * math.sin(turn))


def turned(points: Sequence[Point], to: Point, degrees: float, size: float = 1.0) -> Points:
    """Points about (0, 0) turned, made ``size`` times as large and put at ``to``."""
    u, v = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return tuple((to[0] + size * (x * u - y * v), to[1] + size * (x * v + y * u)) for x, y in points)


def shaded(shape: Points, tone: float, width: float) -> Marks:
    """A shape filled with ``tone``, with an edge of ``width``."""
    return (Fill(shape, tone), Stroke(closed(shape), width))


def ring(middle: Point, *radii: float, width: float = 0.0) -> Marks:
    """Circles about one middle."""
    return tuple(Stroke(disc(middle, r), width) for r in radii)


def closed(points: Sequence[Point]) -> Points:
    """The points and the first again."""
    return (*points, points[0])


def box(left: float, top: float, right: float, bottom: float) -> Points:
    """A rectangle."""
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def along(begin: Point, end: Point, bend: Callable[[float], float], steps: int = 24) -> Points:
    """A line from one point to another, moved sideways (to the right as one goes) by ``bend`` of 0..1."""
    dx, dy = end[0] - begin[0], end[1] - begin[1]
    far = math.hypot(dx, dy) or 1.0
    out = []
    for i in range(steps + 1):
        t = i / steps
        aside = bend(t)
        out.append((begin[0] + dx * t - dy / far * aside, begin[1] + dy * t + dx / far * aside))
    return tuple(out)


def waves(count: float, height: float) -> Callable[[float], float]:
    """A bend of ``count`` waves."""
    return lambda t: height * math.sin(2 * math.pi * count * t)


def bow(height: float) -> Callable[[float], float]:
    """A bend like a bow."""
    return lambda t: height * 4 * t * (1 - t)


# --- signs ---------------------------------------------------------------------------------------------------


def arrow(points: Sequence[Point], width: float = 1.6, head: float = 5.0, *, both: bool = False) -> Marks:
    """A line with a head at its end, or at ``both`` of them, rubbed free of what lies below."""
    line = tuple(points)
    shaft = (Stroke(line, width + 3.5, ink=False), Stroke(line, width))
    return together(shaft, _head(line, width, head), _head(line[::-1], width, head) if both else ())


def _head(line: Points, width: float, head: float) -> Marks:
    (x0, y0), (x1, y1) = line[-2], line[-1]
    turn = math.atan2(y1 - y0, x1 - x0)
    wings = [(x1 - head * math.cos(turn + s), y1 - head * math.sin(turn + s)) for s in (0.55, -0.55)]
    tip = (x1 + 1.0 * math.cos(turn), y1 + 1.0 * math.sin(turn))
    return (Fill((tip, *wings)), Stroke((wings[0], tip, wings[1]), width / 2))


def tick(middle: Point, size: float = 4.0) -> Marks:
    """It is good."""
    x, y = middle
    return (Stroke(((x - size, y), (x - size / 4, y + size * 0.8), (x + size, y - size)), 2.0),)


def cross(middle: Point, size: float = 4.0) -> Marks:
    """It is not."""
    x, y = middle
    return (
        Stroke(((x - size, y - size), (x + size, y + size)), 2.0),
        Stroke(((x - size, y + size), (x + size, y - size)), 2.0),
    )


def clock(middle: Point, radius: float, share: float) -> Marks:
    """A clock of which ``share`` has gone."""
    hand = polar(middle, radius * 0.75, -math.pi / 2 + 2 * math.pi * share)
    gone = Fill((middle, *arc(middle, radius, -90, -90 + 360 * share)), 0.35)
    face = disc(middle, radius)
    return (Fill(face, 0.0), gone, Stroke(face, 1.0), Stroke((middle, hand), 1.2))


def spark(middle: Point, size: float = 6.0) -> Marks:
    """A star of light: what it stands on is bright."""
    reach = (size, size * 0.16 * 1.5)
    return (Fill(tuple(polar(middle, reach[i % 2], math.pi / 4 * i - math.pi / 2) for i in range(8))),)


def shine(left: float, top: float, size: float = 10.0) -> Marks:
    """Two slanting streaks, as a pane of glass is drawn: it mirrors."""
    return (
        Stroke(((left, top + size), (left + size, top)), 1.6),
        Stroke(((left + size * 0.45, top + size * 1.1), (left + size * 1.1, top + size * 0.45)), 1.6),
    )


# --- textures ------------------------------------------------------------------------------------------------


def spread(seed: int, where: Box, gap: float) -> list[Point]:
    """Points spread evenly but not in rows, about ``gap`` apart."""
    rng = random.Random(seed)
    left, top, right, bottom = where
    out = []
    y, odd = top + gap / 2, False
    while y < bottom:
        x = left + (gap if odd else gap / 2)
        while x < right:
            out.append((x + rng.uniform(-0.3, 0.3) * gap, y + rng.uniform(-0.3, 0.3) * gap))
            x += gap
        y, odd = y + gap * 0.87, not odd
    return out


def hairlines(
    seed: int,
    where: Box,
    gap: float,
    length: float,
    *,
    turn: float | None = None,
    bend: float = 0.0,
    width: float = 0.0,
) -> Marks:
    """Single thin lines spread over a place, every way or all about ``turn`` degrees; ``bend``: how far they curve."""
    rng = random.Random(seed)
    out = []
    for x, y in spread(seed, where, gap):
        way = math.radians(rng.uniform(0, 180) if turn is None else turn + rng.uniform(-4, 4))
        half = length * rng.uniform(0.35, 0.65)
        dx, dy = math.cos(way) * half, math.sin(way) * half
        out.append(Stroke(along((x - dx, y - dy), (x + dx, y + dy), bow(rng.choice((-1, 1)) * bend), 6), width))
    return tuple(out)


def furrows(where: Box, turn: float, gap: float, *, width: float = 0.0, dotted: float = 0.0) -> Marks:
    """Even, parallel lines across a place, ``turn`` degrees from level; ``dotted``: from dot to dot, 0 unbroken."""
    left, top, right, bottom = where
    cx, cy = (left + right) / 2, (top + bottom) / 2
    far = math.hypot(right - left, bottom - top) / 2
    way = math.radians(turn)
    ux, uy = math.cos(way), math.sin(way)
    out: list[Mark] = []
    count = int(far // gap)
    for i in range(-count, count + 1):
        ox, oy = cx - uy * i * gap, cy + ux * i * gap
        if dotted:
            shift = (i % 2) * dotted / 2
            steps = int(2 * far / dotted)
            out += [
                Stroke(((ox + ux * (s * dotted - far + shift), oy + uy * (s * dotted - far + shift)),), width)
                for s in range(steps + 1)
            ]
        else:
            out.append(Stroke(((ox - ux * far, oy - uy * far), (ox + ux * far, oy + uy * far)), width))
    return tuple(out)


def holes(seed: int, where: Box, gap: float, least: float, most: float) -> Marks:
    """Separate black holes of several sizes."""
    rng = random.Random(seed)
    return tuple(Fill(rough(rng, p, rng.uniform(least, most), 0.18)) for p in spread(seed, where, gap))


def rough(
    rng: random.Random, middle: Point, radius: float, ragged: float, *, long: float = 1.0, turn: float = 0.0
) -> Points:
    """An uneven round; ``ragged`` as a share of the radius, ``long`` times as long as wide towards ``turn`` degrees."""
    out = []
    count = max(7, min(18, int(radius * 4)))
    for i in range(count):
        angle = 2 * math.pi * i / count
        r = radius * (1 + rng.uniform(-ragged, ragged))
        out.append((r * long * math.cos(angle), r * math.sin(angle)))
    return turned(out, middle, turn)


def comets(seed: int, where: Box, gap: float, turn: float, length: float, head: float) -> Marks:
    """Holes with a tail each, all one way, that grows thin and fades."""
    rng = random.Random(seed)
    way = math.radians(turn)
    ux, uy = math.cos(way), math.sin(way)
    heads: list[Mark] = []
    tails: list[Mark] = []
    for x, y in spread(seed, where, gap):
        far, r = length * rng.uniform(0.8, 1.15), head * rng.uniform(0.85, 1.15)
        side = r * 0.6
        thin = (x + ux * far * 0.6, y + uy * far * 0.6)
        heads.append(Fill(((x - uy * side, y + ux * side), thin, (x + uy * side, y - ux * side))))
        heads.append(Fill(disc((x, y), r)))
        tails.append(Stroke(((x, y), (x + ux * far * 0.7, y + uy * far * 0.7))))
        tails += [Stroke(((x + ux * far * s, y + uy * far * s),)) for s in (0.8, 0.9, 1.0)]
    return (*heads, *tails)


def dimples(seed: int, where: Box, gap: float, radius: float) -> Marks:
    """Shallow cups side by side, each a crescent of shade without a sharp rim."""
    rng = random.Random(seed)
    cups = [(p, radius * rng.uniform(0.85, 1.15)) for p in spread(seed, where, gap)]
    dark = (Stroke(arc(p, r, 20, 160), 1.0) for p, r in cups)
    return (*dark, *(Stroke(arc((x, y - r * 0.25), r * 0.75, 40, 140)) for (x, y), r in cups))


def within(shape: Points, *marks: Marks) -> Marks:
    """The marks, seen only inside ``shape``."""
    return (Clip(shape, tuple(m for group in marks for m in group)),)


def together(*groups: Marks) -> Marks:
    """Groups of marks, one over the other."""
    return tuple(m for group in groups for m in group)
