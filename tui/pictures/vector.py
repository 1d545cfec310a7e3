"""Drawings as SVG: ink on a sheet of paper, with a title that says what is shown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from xml.sax.saxutils import escape, quoteattr

from lapwise.tui.pictures.ink import HIGH, WIDE, Clip, Fill, Mark, Points, runs

PIXELS = 500
"""Width of the picture."""
INK, PAPER = "#1b1a17", "#fbf8ee"
_FINEST = 0.7
"""Width of the finest line, in units."""
_STEP = 2.5
"""From dot to dot of a mesh, in units."""


def svg(marks: Sequence[Mark], title: str) -> str:
    """The drawing as the text of an SVG file."""
    body: list[str] = []
    tones: set[int] = set()
    clips: list[str] = []
    _put(marks, body, tones, clips)
    defs = "".join(_mesh(tone) for tone in sorted(tones)) + "".join(clips)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{PIXELS}" height="{round(PIXELS * HIGH / WIDE)}" '
        f'viewBox="0 0 {WIDE:g} {HIGH:g}" role="img" aria-label={quoteattr(title)}>'
        f"<title>{escape(title)}</title><defs>{defs}</defs>"
        f'<rect width="{WIDE:g}" height="{HIGH:g}" fill="{PAPER}"/>'
        f'<g fill="none" stroke-linecap="round" stroke-linejoin="round">{"".join(body)}</g></svg>\n'
    )


def _mesh(tone: int) -> str:
    """A mesh of dots that covers ``tone`` hundredths of its ground."""
    radius = _STEP * math.sqrt(tone / 100 / math.pi)
    middle = _STEP / 2
    return (
        f'<pattern id="t{tone}" width="{_STEP}" height="{_STEP}" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><rect width="{_STEP}" height="{_STEP}" fill="{PAPER}"/>'
        f'<circle cx="{middle}" cy="{middle}" r="{radius:.2f}" fill="{INK}"/></pattern>'
    )


def _path(points: Points) -> str:
    if len(points) == 1:
        points = (points[0], points[0])  # with round caps this is a dot
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _put(marks: Sequence[Mark], body: list[str], tones: set[int], clips: list[str]) -> None:
    for mark, lines in runs(marks):
        if isinstance(mark, Clip):
            name = f"c{len(clips)}"
            clips.append(f'<clipPath id="{name}"><path d="{_path(mark.points)}Z"/></clipPath>')
            body.append(f'<g clip-path="url(#{name})">')
            _put(mark.marks, body, tones, clips)
            body.append("</g>")
        elif isinstance(mark, Fill):
            tone = round(mark.tone * 100)
            paint = PAPER if tone <= 0 else INK if tone >= 100 else f"url(#t{tone})"
            if 0 < tone < 100:
                tones.add(tone)
            body.append(f'<path d="{_path(mark.points)}Z" fill="{paint}" fill-rule="evenodd"/>')
        else:
            path = "".join(map(_path, lines))
            colour = INK if mark.ink else PAPER
            body.append(f'<path d="{path}" stroke="{colour}" stroke-width="{max(mark.width, _FINEST):g}"/>')
