"""`lapwise transfer`: how the stone sits on its dop, and the corrections for the facets not tried yet."""

from __future__ import annotations

from pathlib import Path

import click

from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.folders import Folders
from lapwise.engine.machine import load_profile
from lapwise.engine.transfer import Fit, Row, Suspect, fit, read_table, write_table
from lapwise.tui.cli.output import common, note, say, say_json, width, wrap

USUAL_GEAR = 96


@click.command("transfer")
@click.argument("file", metavar="FILE.csv", type=click.Path(path_type=Path))
@click.option("--gear", metavar="TEETH", help="Teeth of the index gear; else your machine's, else 96.")
@click.option("--out", metavar="FILE", type=click.Path(path_type=Path), help="Write the predictions to a new CSV file.")
@common
def command(file: Path, gear: str | None, out: Path | None, as_json: bool, data: str | None) -> int:
    """How the stone sits on its dop, from the corrections found on two or more facets.

    FILE.csv has the columns index,angle,index_change,angle_change: index_change in teeth, + towards higher numbers;
    angle_change in degrees, + raise. Leave both changes empty for a facet whose corrections you want.
    """
    from lapwise.tui.cli.bench import chosen

    teeth = _gear(gear, chosen(data))
    if file.is_dir() or not file.exists():
        what = "this is a folder" if file.is_dir() else "no such file"
        raise BadInput(Issue(what, "FILE.csv", str(file), ("a CSV file",)))
    table = read_table(file, teeth)
    for problem in table.problems:
        note(f"lapwise: {problem}; the other rows are used")
    answer = fit(table.rows, teeth)
    if out is not None:
        _write(out, answer)
    if as_json:
        say_json(answer.as_json())
    else:
        print_fit(answer)
    return 0


def _gear(text: str | None, where: Folders) -> int:
    from lapwise.tui.cli.facet_options import read_facet

    if text is not None:
        return read_facet(gear=text).gear or USUAL_GEAR
    profile = load_profile(where)
    if profile is not None and profile.gear is not None:
        return profile.gear
    note(f"lapwise: no gear given, {USUAL_GEAR} teeth taken")
    return USUAL_GEAR


def _write(path: Path, answer: Fit) -> None:
    try:
        with path.open("x", encoding="utf-8", newline="") as file:
            file.write(write_table(answer.predictions))
    except FileExistsError:
        raise BadInput(Issue("this file is there already; nothing was written", "--out", str(path))) from None
    note(f"lapwise: {len(answer.predictions)} predictions written to {path}")


def print_fit(answer: Fit) -> None:
    """The answer for reading: what to doubt, how the stone sits, the curve round it, the other facets."""
    for suspect in answer.suspects:
        say(wrap(_suspect(suspect), "  ", "! "))
    if answer.redop:
        say(wrap(REDOP, "  ", "! "))
    if answer.suspects or answer.redop:
        say()
    for sentence in sentences(answer):
        say(wrap(sentence))
    for kind, title in (
        ("angle", "Angle change round the stone, in degrees (+ raise):"),
        ("index", "Index change round the stone, in teeth (+ towards higher numbers):"),
    ):
        lines = curve(answer, kind, columns=min(64, width() - 10))
        if lines:
            say()
            say(wrap(title))
            for line in lines:
                say(line)
    _table("The facets you did not try yet:", answer.predictions)
    _table("The mirror settings of the facets you tried:", answer.mirrored)


REDOP = (
    "The stone leans too far to be cured facet by facet: each facet would need its own correction beyond what fine "
    "adjustment is for, and the meets would suffer. Dop it again."
)


def _suspect(suspect: Suspect) -> str:
    column = suspect.column.replace("_", " ")
    return (
        f"Row {suspect.row}: the sign of its {column} looks mistyped. It says {suspect.found:+.3g}, the other rows ask "
        f"for {suspect.expected:+.3g}. This value was left out; correct the file and run it again."
    )


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
    out.append(f"Every facet wants its index moved by {answer.index_zero:+.3f} teeth{zero}.")
    out.append(f"Every facet wants its angle changed by {answer.angle_offset:+.3f}°{offset}.")
    if answer.pattern == "one-wave":
        out.append("The corrections run as one wave round the stone: the dop or the stone on it leans.")
    elif answer.pattern == "constant":
        out.append("The corrections are much the same all round the stone: index or angle is set off.")
    if e is None:
        out.append("There are just enough facets to tell this, none to check it: correct one more and add its row.")
    else:
        out.append(f"The rows agree with this to {answer.rms:.3f}° on average.")
        if toward is not None and answer.tilt < 2 * e.tilt:
            out.append("The lean is less than twice its uncertainty: it may be none at all.")
    for m in answer.mirror_checks:
        out.append(
            f"Mirror settings {m.index:g} and {m.mirror:g} at {m.angle:g}°: their angle changes differ by "
            f"{m.found:+.3f}°, the lean asks for {m.expected:+.3f}°."
        )
    return out


def _give(error: float | None, unit: str, digits: int = 3) -> str:
    return "" if error is None else f" ± {error:.{digits}f}{unit}"


def curve(answer: Fit, kind: str, columns: int = 60, lines: int = 8) -> list[str]:
    """The correction round the stone as a curve for the commonest angle, with the measured points; `!` for a doubt."""
    from lapwise.tui.drawing import Point, curve_lines

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


def _table(title: str, rows: tuple[Row, ...]) -> None:
    if not rows:
        return
    say()
    say(title)
    say("   index   angle   index change   angle change")
    for row in rows:
        say(f"  {row.index:6g}  {row.angle:6g}   {row.index_change or 0.0:+9.3f}      {row.angle_change or 0.0:+8.3f}°")
