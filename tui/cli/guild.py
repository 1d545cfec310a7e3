"""`lapwise guild`: what many benches gave, added up into one experience file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapwise.tui.cli.opening import chosen, long_work, whole_file
from lapwise.tui.cli.output import Group, note, points, reply, say

if TYPE_CHECKING:
    from lapwise.engine.guild.make import Made

MOST_NAMED = 10


@click.group("guild", cls=Group)
def command() -> None:
    """Add up what many benches gave (lapwise record share) into one experience file. Needs the extra 'guild'."""


@command.command("pool")
@click.argument("shares", metavar="FOLDER|GLOB")
@click.option(
    "--out",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    help="The experience file to write; it must not exist yet.",
)
@click.option(
    "--engine",
    type=click.Choice(["duckdb", "spark"]),
    default="duckdb",
    show_default=True,
    help="The engine that does the sums.",
)
@click.option("--master", default="local[2]", show_default=True, help="With spark: where its cluster is.")
@click.option("--memory", default="2GB", show_default=True, help="With duckdb: the most memory it may take.")
def pool(shares: str, out: Path, engine: str, master: str, memory: str) -> None:
    """Add up all shares, and whole exports of records, that are in FOLDER or match GLOB.

    Shares in one sub-folder are one bench's. A broken file is named and passed over, one that came twice counts once,
    a bench that lies far from all others is named and left out. Then any bench takes it: lapwise knowledge add FILE.
    """
    from lapwise.engine.guild.make import make  # start-up time
    from lapwise.engine.knowledge.loader import load_shipped  # start-up time

    shipped = load_shipped(chosen())
    with long_work("reading shares") as progress:
        made = make(shares, shipped, engine=engine, master=master, memory=memory, progress=progress)
    with whole_file(out) as target:
        target.write(made.text.encode())
    reply(_as_json(made, out), _print, made, out)


def _as_json(made: Made, out: Path) -> dict[str, Any]:
    taken, outcome = made.taken, made.outcome
    return {
        "file": str(out),
        "benches": len(taken.benches),
        "shares": taken.shares,
        "exports": taken.exports,
        "cases": taken.cases,
        "numbers": len(outcome.numbers),
        "outliers": [{"bench": name, "times": round(times, 2)} for name, times in outcome.far],
        "broken": [{"file": name, "why": why} for name, why in taken.broken],
        "twice": [{"file": name, "same_as": first} for name, first in taken.twice],
        "other_knowledge": taken.other_knowledge,
        "unknown": outcome.unknown,
    }


def _print(made: Made, out: Path) -> None:
    taken, outcome = made.taken, made.outcome
    exports = f" and {taken.exports} whole exports" if taken.exports else ""
    say(f"{out}: {len(outcome.numbers)} numbers from {len(taken.benches)} benches")
    say(f"  {taken.shares} shares{exports}, {taken.cases} cases")
    if taken.other_knowledge:
        say(f"  {taken.other_knowledge} shares were made with another version of the knowledge: they are read by id")
    for what, count in outcome.unknown.items():
        say(f"  left out: {count} rows whose {what} is not known here")
    if taken.exports_left_out:
        say(f"  left out: {taken.exports_left_out} cases that are in more than one export")
    far = [(name, f"{times:.1f} times as far as the usual bench") for name, times in outcome.far]
    _named("left out, too far from all others", far)
    _named("passed over, broken", taken.broken)
    _named("counted once", [(name, f"the same as {first}") for name, first in taken.twice])
    note("lapwise: a bench takes it with: lapwise knowledge add FILE")


def _named(title: str, items: list[tuple[str, str]]) -> None:
    if items:
        say(f"  {title} ({len(items)}):")
    points((f"{name}: {why}" for name, why in items[:MOST_NAMED]), "      ", "    ")
    if len(items) > MOST_NAMED:
        say(f"    and {len(items) - MOST_NAMED} more (--json names all)")
