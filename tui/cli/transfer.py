"""`lapwise transfer`: how the stone sits on its dop, and the corrections for the facets not tried yet."""

from __future__ import annotations

from pathlib import Path

import click

from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.folders import Folders
from lapwise.engine.machine import USUAL_GEAR, load_profile
from lapwise.engine.transfer import Fit, Row, fit, read_table, write_table
from lapwise.tui.cli.opening import chosen
from lapwise.tui.cli.output import Command, note, points, reply, say, say_all, width, wrap
from lapwise.tui.present.transfer import REDOP, curve, sentences, suspect_words
from lapwise.tui.typed import read_facet


@click.command("transfer", cls=Command)
@click.argument("file", metavar="FILE.csv", type=click.Path(path_type=Path))
@click.option("--gear", metavar="TEETH", help="Teeth of the index gear; else your machine's, else 96.")
@click.option("--out", metavar="FILE", type=click.Path(path_type=Path), help="Write the predictions to a new CSV file.")
def command(file: Path, gear: str | None, out: Path | None) -> None:
    """How the stone sits on its dop, from the corrections found on two or more facets.

    FILE.csv has the columns index,angle,index_change,angle_change: index_change in teeth, + towards higher numbers;
    angle_change in degrees, + raise. Leave both changes empty for a facet whose corrections you want.
    """
    teeth = _gear(gear, chosen())
    if file.is_dir() or not file.exists():
        what = "this is a folder" if file.is_dir() else "no such file"
        raise BadInput(Issue(what, "FILE.csv", str(file), ("a CSV file",)))
    table = read_table(file, teeth)
    for problem in table.problems:
        note(f"lapwise: {problem}; the other rows are used")
    answer = fit(table.rows, teeth)
    if out is not None:
        _write(out, answer)
    reply(answer.as_json(), print_fit, answer)


def _gear(text: str | None, where: Folders) -> int:
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
    doubts = [*map(suspect_words, answer.suspects), *([REDOP] if answer.redop else [])]
    points(doubts, first="! ")
    if doubts:
        say()
    points(sentences(answer), indent="")
    for kind, title in (
        ("angle", "Angle change round the stone, in degrees (+ raise):"),
        ("index", "Index change round the stone, in teeth (+ towards higher numbers):"),
    ):
        lines = curve(answer, kind, columns=min(64, width() - 10))
        if lines:
            say()
            say(wrap(title))
            say_all(lines)
    _table("The facets you did not try yet:", answer.predictions)
    _table("The mirror settings of the facets you tried:", answer.mirrored)


def _table(title: str, rows: tuple[Row, ...]) -> None:
    if not rows:
        return
    say()
    say(title)
    say("   index   angle   index change   angle change")
    for row in rows:
        say(f"  {row.index:6g}  {row.angle:6g}   {row.index_change or 0.0:+9.3f}      {row.angle_change or 0.0:+8.3f}°")
