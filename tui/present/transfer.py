"""How the stone sits on its dop, in words and as a curve."""

from __future__ import annotations

from lapwise.engine.transfer import Fit, Row, Suspect
from lapwise.tui.present.drawing import Point, curve_lines

REDOP = (
    "The stone leans too far to be cured facet by facet: each facet would need its own correction beyond what fine "
    "adjustment is for, and the meets would suffer. Re-dop it."
)


_SLIPS = {
    "sign": "the sign of its {column} looks wrong: {found:+.3g}, where the other rows call for {expected:+.3g}",
    "tenfold": "its {column} looks ten times too large or too small: {found:+.3g}, where the other rows call for "
    "{expected:+.3g}",
    "swapped": "its index change and angle change look swapped",
    "angle": "its angle looks wrong: {found:g}°, where {expected:g}° would agree with the other rows",
    "index": "its index looks wrong: {found:g}, where {expected:g} would agree with the other rows",
    "unlike": "it does not agree with the other rows: its {column} is {found:+.3g}, they call for {expected:+.3g}",
}


def suspect_words(suspect: Suspect) -> str:
    """What looks mistyped in a row, and what was done with it."""
    column = suspect.column.replace("_", " ")
    what = _SLIPS[suspect.slip].format(column=column, found=suspect.found, expected=suspect.expected)
    return f"Row {suspect.row}: {what}. It was left out: measure or type it again before anything else."


def sentences(answer: Fit) -> list[str]:
    """How the stone sits, in words, each with its standard error where there is one."""
    e = answer.errors
    lean, way, zero, offset = (
        _give(e.tilt if e else None, "°"),
        _give(e.toward_index if e else None, "", 1),
        _give(e.index_zero if e else None, ""),
        _give(e.angle_offset if e else None, "°"),
    )
    toward = answer.toward_index
    out = []
    if toward is None:
        out.append("The stone does not lean on its dop.")
    else:
        out.append(
            f"The stone leans {answer.tilt:.3f}°{lean} on its dop; its tip end leans towards index "
            f"{toward:.1f}{way} of {answer.gear}. Facets there need a higher angle, facets opposite a lower one."
        )
    out.insert(0, f"Worked out for a {answer.gear} index gear.")
    out.append(f"Every facet needs its index moved by {answer.index_zero:+z.3f} teeth{zero}.")
    out.append(f"Every facet needs its angle changed by {answer.angle_offset:+z.3f}°{offset}.")
    if answer.pattern == "one-wave":
        out.append("The corrections run as one wave round the stone: the dop or the stone on it leans.")
    elif answer.pattern == "constant":
        out.append("The corrections are much the same all round the stone: the index or angle setting is off.")
    if e is None:
        out.append("There are just enough facets to tell this, none to check it: correct one more and add its row.")
    else:
        out.append(f"The rows agree with this to {answer.rms:.3f}° on average.")
        if toward is not None and answer.tilt < 2 * e.tilt:
            out.append("The lean is less than twice its uncertainty: it may be none at all.")
    for m in answer.mirror_checks:
        out.append(
            f"Mirror settings {m.index:g} and {m.mirror:g} at {m.angle:g}°: their angle changes differ by "
            f"{m.found:+z.3f}°, the lean calls for {m.expected:+z.3f}°."
        )
    return out


def _give(error: float | None, unit: str, digits: int = 3) -> str:
    return "" if error is None else f" ± {error:.{digits}f}{unit}"


def curve(answer: Fit, kind: str, columns: int = 60, lines: int = 8) -> list[str]:
    """The correction round the stone as a curve for the commonest angle, with the measured points; `!` for a doubt."""
    angles = [row.angle for row in answer.rows]
    angle = max(sorted(set(angles)), key=angles.count)
    if kind == "index" and not 0.5 <= angle <= 90:
        return []
    doubtful = {(s.row, s.column) for s in answer.suspects}
    points = [
        Point(row.index % answer.gear, value, "!" if (row.number, f"{kind}_change") in doubtful else "●")
        for row in answer.rows
        if row.angle == angle and (value := row.angle_change if kind == "angle" else row.index_change) is not None
    ]
    path = []
    for step in range(97):
        index = step * answer.gear / 96
        asked = answer.predict(Row(0, index, angle))
        value = asked.angle_change if kind == "angle" else asked.index_change
        path.append((index, value or 0.0))
    quarters = [f"{answer.gear * n / 4:g}" for n in range(5)]
    drawn = curve_lines(path, points, columns=columns, lines=lines, x_labels=quarters)
    return [*drawn, f"  index, for facets at {angle:g}°   ● measured" + ("   ! doubtful" if doubtful else "")]
