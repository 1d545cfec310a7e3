"""`lapwise record`: the record as files: export, import, back up, bring back, check; and learning afresh."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, TYPE_CHECKING, BinaryIO

import click

from lapwise.engine.errors import BadInput, Damaged, Issue, NothingFound
from lapwise.tui.cli.opening import (
    chosen,
    help_text,
    known,
    long_work,
    open_knowledge,
    reading,
    sure,
    whole_file,
    writing,
)
from lapwise.tui.cli.output import Command, note, points, reply, say, say_all, say_json, tell, wants_json, wrap
from lapwise.tui.present.record import counts_lines

if TYPE_CHECKING:
    from lapwise.engine.record.care import Checked
    from lapwise.engine.record.model import Counts
    from lapwise.engine.record.store import Record
    from lapwise.engine.record.work import Progress


@click.command("export", cls=Command)
@click.argument("file", metavar="[FILE|-]", default="-")
@click.option("--csv", "as_csv", is_flag=True, help="A table for a spreadsheet (cannot be imported again).")
def export(file: str, as_csv: bool) -> int:
    """Write the whole record as JSON Lines, or as a table for a spreadsheet; UTF-8 whatever the terminal."""
    left_out: list[str] = []
    with reading(chosen()) as record, long_work("exporting") as progress:
        if file == "-":
            sys.stdout.flush()
            rows = _write_out(record, sys.stdout.buffer, as_csv, left_out)
            sys.stdout.buffer.flush()
        else:
            with whole_file(Path(file)) as target:
                rows = _write_out(record, target, as_csv, left_out, progress)
    if wants_json() and file != "-":
        say_json({"file": file, "rows": rows, "left_out": left_out})
    else:
        note(f"lapwise: {rows} rows written")
    for words in left_out[:20]:
        note(f"lapwise: left out: {words}")
    if left_out:
        note(f"lapwise: {len(left_out)} rows left out, the record is damaged: see `lapwise record check`")
    return Damaged.exit_code if left_out else 0


def _write_out(
    record: Record, target: BinaryIO, as_csv: bool, left_out: list[str], progress: Progress | None = None
) -> int:
    if as_csv:
        from lapwise.engine.record.table import write_csv  # start-up time

        return write_csv(record, target, progress)
    from lapwise.engine.record.exchange import write_lines  # start-up time

    return write_lines(record, target, left_out, progress)


@click.command("import", cls=Command)
@click.argument("file", metavar="FILE|-")
@click.option("--trial", is_flag=True, help="Only say what would happen.")
@click.option("--mine", is_flag=True, help="It is your own record from another machine: its open cases are yours.")
def import_(file: str, trial: bool, mine: bool) -> int:
    """Take in another record (JSON Lines), row by row, by id: what is known already changes nothing.

    Cases and laps of others stay theirs: they are learned from, and nothing is added to them unless you name them.
    """
    from lapwise.engine.record.exchange import import_lines  # start-up time

    with writing(chosen()) as record, long_work("importing") as progress, _opened(file) as (source, share):
        counts = import_lines(record, source, progress=progress, share=share, trial=trial, mine=mine)
    reply({**counts.as_json(), "trial": trial}, _say_counts, counts, trial)
    return 0 if sum(counts.added.values()) or counts.known or not counts.refused else 1


@contextmanager
def _opened(file: str) -> Iterator[tuple[IO[str], Callable[[], float] | None]]:
    """The text of a file, a pipe or stdin; and how much of it was read, if known."""
    from lapwise.engine.record.exchange import reading_from  # start-up time

    if file == "-":
        yield reading_from(sys.stdin.buffer)
        return
    try:
        with open(file, "rb") as raw:
            yield reading_from(raw)
    except OSError as error:
        raise BadInput(Issue(f"cannot be read: {error.strerror}", file)) from error


def _say_counts(counts: Counts, trial: bool) -> None:
    say_all(counts_lines(counts, trial=trial))
    for example in counts.examples:
        note(f"lapwise: {example}")


@click.command("backup", cls=Command)
@click.argument("file", metavar="[FILE]", required=False, type=click.Path(path_type=Path))
@click.option(
    "--restore",
    "source",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Bring back what this backup holds; nothing here is lost by it.",
)
@click.option("--list", "only_list", is_flag=True, help="List the backups there are.")
def backup(file: Path | None, source: Path | None, only_list: bool) -> int:
    """Make a checked copy of the record, or bring one back."""
    from lapwise.engine.record.backup import backups_in  # start-up time
    from lapwise.engine.record.care import make_backup, restore  # start-up time
    from lapwise.engine.record.file import backup_folder  # start-up time

    where = chosen()
    if only_list:
        found = backups_in(backup_folder(where))
        names = [str(path) for path in found]
        tell({"backups": names}, *names)
        return 0 if found else 1
    if source is not None:
        with writing(where) as record, long_work("restoring") as progress:
            counts = restore(record, source, progress)
        reply(counts.as_json(), _say_counts, counts, False)
        return Damaged.exit_code if counts.refused else 0
    with reading(where) as record, long_work("backing up") as progress:
        made = make_backup(record, file, progress)
    tell({"backup": str(made)}, str(made))
    return 0


@click.command("check", cls=Command)
@click.option(
    "--repair",
    is_flag=True,
    help="Work out again what is wrong; bring what can be read of a damaged record into a new one.",
)
def check(repair: bool) -> int:
    """Read the whole record through and say whether it is sound, and what can be read of it if it is not.

    --repair sets a damaged file aside under another name; nothing of it is removed.
    """
    from lapwise.engine.record.care import check as check_record  # start-up time
    from lapwise.engine.record.care import unreadable  # start-up time

    where = chosen()
    with long_work("checking") as progress:
        try:
            with writing(where) if repair else reading(where) as record:
                found = check_record(record, repair=repair, progress=progress)
        except Damaged as error:
            found = unreadable(where, error, progress)
    reply(found.as_json(), _say_checked, found)
    return 0 if found.sound and not (found.salvage and found.salvage.lost) else Damaged.exit_code


def _say_checked(found: Checked) -> None:
    say(f"{found.cases} cases, {found.steps} steps, {found.lap_rows} rows of laps")
    if found.stray_steps:
        say(f"{found.stray_steps} steps belong to cases that have not been imported yet")
    points(found.faults)
    if found.salvage and found.aside:
        say(wrap(f"The damaged file is set aside as {found.aside}. What it holds is in the new one: {found.salvage}."))
    elif found.salvage:
        say(wrap(f"Of the damaged file {found.salvage}. `lapwise record check --repair` brings it into a new one."))
    elif found.rebuilt:
        say("What learning reads was worked out again.")
    for path, rows in found.elsewhere:
        what = f"{path} holds {rows} rows that the record lacks: `lapwise record backup --restore {path}`"
        say(wrap(what, "  ", "  "))
    if found.faults:
        say("Faults were found.")
    else:
        say("Rows are missing." if found.elsewhere else "The record is sound.")


@click.command("forget", cls=Command)
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.option("--undo", is_flag=True, help="Learn from all cases again.")
def forget(yes: bool, undo: bool) -> None:
    """Let learning start afresh: the advice is as shipped again. No case is removed, and it can be taken back."""
    from lapwise.engine.record.care import forget as forget_learned  # start-up time
    from lapwise.engine.record.care import remember  # start-up time

    where = chosen()
    if not where.record.exists():
        raise NothingFound("nothing has been logged yet: there is nothing to forget")
    if not (yes or undo):
        question = "Let learning start afresh? The cases stay in the record"
        sure(question, "say --yes to let learning start afresh", "lapwise record forget")
    with writing(where) as record, long_work("learning afresh") as progress:
        cases = remember(record, progress) if undo else forget_learned(record, progress)
    words = f"Learning from {cases} cases again." if undo else f"{cases} cases teach nothing any more; they stay here."
    tell({"cases": cases, "forgotten": not undo}, words)


@click.command("promises", cls=Command)
def promises() -> None:
    """What is kept, when it is on disk, what can be lost, and the test that tries to break each promise."""
    text = help_text("promises")
    tell({"text": text}, *text.splitlines())


@click.command("share", cls=Command)
@click.argument("file", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--noise", "epsilon", metavar="EPSILON", type=float, help="Blur it: differential privacy for each case.")
@click.option("--without", metavar="STONE", multiple=True, help="Leave out the cases of this stone.")
@click.option("--all", "everything", is_flag=True, help="Also cases given before: for another guild.")
@click.option("--trial", is_flag=True, help="Only show what would be given.")
@click.option("--yes", is_flag=True, help="Do not ask.")
def share(
    file: Path, epsilon: float | None, without: tuple[str, ...], everything: bool, trial: bool, yes: bool
) -> None:
    """Write what this bench gives to a guild: sums of what its finished cases taught. No notes, no names, no dates.

    FILE ends in .jsonl, or in .parquet (with the extra 'guild'). It is shown in plain words first. Each case is given
    once: the next share holds only newer ones.
    """
    from lapwise.engine.guild import share as shares  # start-up time
    from lapwise.engine.guild.sharefile import check_name, write  # start-up time
    from lapwise.engine.knowledge.loader import load_shipped  # start-up time
    from lapwise.engine.record.ids import version  # start-up time

    check_name(file.name)
    where = chosen()
    mine = open_knowledge(where)
    for stone in without:
        known(stone, mine.materials, "stone", "--without")
    shipped = load_shipped(where)
    before = frozenset[str]() if everything else shares.given(where)
    with reading(where) as record, long_work("adding up") as progress:
        names = shares.Names(shipped, mine)
        found = shares.gather(record, names, before, without=without, noise=epsilon is not None, progress=progress)
    if not found.cases:
        given = f"; {found.before} were given before" if found.before else ""
        raise NothingFound(f"there is no finished case to give{given}")
    made = shares.share_of(found, shipped, version(), epsilon)
    for line in shares.in_words(made, found, shipped):
        inner = line.lstrip()
        (note if wants_json() else say)(wrap(inner, "    ", line[: len(line) - len(inner)]))
    if not trial:
        if not yes:
            sure(f"Write it to {file}?", "say --yes to write it, or --trial only to see it", "lapwise record share")
        with whole_file(file) as target:
            write(made, target, file.name)
        shares.note_given(where, found.cases)
        note(f"lapwise: written to {file}; it goes nowhere unless you send it")
    if wants_json():
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
