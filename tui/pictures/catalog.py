"""Which drawing belongs to what: an id of the knowledge, or ``key=value`` for what a look showed and a fact stated."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache, lru_cache, partial

from lapwise.tui.pictures.ink import HIGH, WIDE, Marks
from lapwise.tui.pictures.looks import LOOKS, RESULTS, SEEN
from lapwise.tui.pictures.motions import MOTIONS
from lapwise.tui.pictures.rings import FACES, WORDS, lap_rings
from lapwise.tui.pictures.symptoms import SYMPTOMS

DRAWINGS: Mapping[str, Callable[[], Marks]] = {
    **SYMPTOMS,
    **LOOKS,
    **RESULTS,
    **SEEN,
    **MOTIONS,
    **{lap: partial(lap_rings, face) for lap, face in FACES.items()},
}
"""All there are, by id."""
CELLS = (40, 16)
"""Columns and lines from which on a drawing is told by sight."""
SHAPE = 2 * WIDE / HIGH
"""Columns to a line."""


@cache
def marks(name: str) -> Marks:
    """The drawing of an id; () if it has none."""
    draw = DRAWINGS.get(name)
    return draw() if draw is not None else ()


@lru_cache(maxsize=256)
def text(name: str, columns: int, lines: int) -> tuple[str, ...]:
    """The drawing of an id in braille, ``lines`` lines of ``columns`` characters; () if it has none or no room."""
    if name not in DRAWINGS or columns < 1 or lines < 1:
        return ()
    from lapwise.tui.pictures.raster import braille  # numpy is not needed before the first drawing

    return tuple(braille(marks(name), columns, lines))


def fitted(columns: int, lines: int) -> tuple[int, int]:
    """The largest place of a drawing's own shape within ``columns`` by ``lines``."""
    wide = min(columns, int(lines * SHAPE))
    return wide, min(lines, -int(-wide // SHAPE))


def words(name: str) -> str:
    """What must be said of a drawing for it to be read, "" for nothing."""
    return WORDS if name in FACES else ""


def svg(name: str, title: str) -> str:
    """The drawing of an id as the text of an SVG file, "" if it has none; ``title`` says what it shows."""
    from lapwise.tui.pictures.vector import svg as written  # needed by few

    return written(marks(name), title) if name in DRAWINGS else ""
