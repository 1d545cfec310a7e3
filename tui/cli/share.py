"""`lapwise record share`: what this bench gives to a guild, shown first in plain words."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from lapwise.engine.errors import BadInput, Issue, NothingFound
from lapwise.tui.cli.keeping import long_work, reading, whole_file
from lapwise.tui.cli.opening import chosen, open_knowledge
from lapwise.tui.cli.output import common, note, say, say_json, wrap


@click.command("share")
@click.argument("file", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--noise", "epsilon", metavar="EPSILON", type=float, help="Blur it: differential privacy for each case.")
@click.option("--without", metavar="STONE", multiple=True, help="Leave out the cases of this stone.")
@click.option("--all", "everything", is_flag=True, help="Also cases given before: for another guild.")
@click.option("--trial", is_flag=True, help="Only show what would be given.")
@click.option("--yes", is_flag=True, help="Do not ask.")
@common
def share(
    file: Path,
    epsilon: float | None,
    without: tuple[str, ...],
    everything: bool,
    trial: bool,
    yes: bool,
    as_json: bool,
    data: str | None,
) -> int:
    """Write what this bench gives to a guild: sums of what its finished cases taught. No notes, no names, no dates.

    FILE ends in .jsonl, or in .parquet (with the extra 'guild'). It is shown in plain words first. Each case is given
    once: the next share holds only newer ones.
    """
    from lapwise.engine.guild import share as shares  # start-up time
    from lapwise.engine.guild.sharefile import check_name, write  # start-up time
    from lapwise.engine.knowledge.loader import load_shipped  # start-up time
    from lapwise.engine.record.ids import version  # start-up time

    check_name(file.name)
    where = chosen(data)
    mine = open_knowledge(where)
    for stone in without:
        if stone not in mine.materials:
            raise BadInput.unknown("no such stone", stone, mine.materials, "--without")
    shipped = load_shipped(where)
    before = frozenset[str]() if everything else shares.given(where)
    with reading(where) as record, long_work("adding up") as progress:
        found = shares.gather(
            record,
            shares.Names(shipped, mine),
            before,
            without=without,
            noise=epsilon is not None,
            progress=progress,
        )
    if not found.cases:
        given = f"; {found.before} were given before" if found.before else ""
        raise NothingFound(f"there is no finished case to give{given}")
    made = shares.share_of(found, shipped, version(), epsilon)
    words = shares.in_words(made, found, shipped)
    for line in words:
        inner = line.lstrip()
        (note if as_json else say)(wrap(inner, "    ", line[: len(line) - len(inner)]))
    if not trial:
        if not yes:
            if not sys.stdin.isatty():
                raise BadInput(Issue("say --yes to write it, or --trial only to see it", "lapwise record share"))
            click.confirm(f"Write it to {file}?", abort=True, err=True)
        with whole_file(file) as target:
            write(made, target, file.name)
        shares.note_given(where, found.cases)
        note(f"lapwise: written to {file}; it goes nowhere unless you send it")
    if as_json:
        say_json(
            {
                "file": None if trial else str(file),
                "cases": len(found.cases),
                "rows": len(made.rows),
                "left_out": {"given_before": found.before, "own_ids": found.own},
                "epsilon": epsilon,
                "token": made.token,
            }
        )
    return 0
