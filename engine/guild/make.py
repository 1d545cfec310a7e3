"""From a folder of shares to an experience file, with all that was met on the way."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from lapwise.engine.errors import BadInput, Damaged, Issue
from lapwise.engine.guild.engines import DuckDB, Engine, Spark
from lapwise.engine.guild.intake import Intake, Taken, found_files
from lapwise.engine.guild.pool import Outcome, Pooled, pool, vocabulary
from lapwise.engine.knowledge import experience
from lapwise.engine.knowledge.entries import entries_of
from lapwise.engine.knowledge.experience import ALL
from lapwise.engine.knowledge.files import File
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.record.work import Progress

ENGINES = ("duckdb", "spark")


@dataclass(frozen=True, slots=True)
class Made:
    """``text``: the experience file."""

    text: str
    taken: Taken
    outcome: Outcome


def make(
    what: str,
    shipped: Knowledge,
    *,
    engine: str = "duckdb",
    master: str = "local[2]",
    memory: str = "2GB",
    progress: Progress | None = None,
) -> Made:
    """Add up the shares of a folder, a pattern or one file. Raises :class:`BadInput` where nothing can be added up."""
    files, base = found_files(what)
    with tempfile.TemporaryDirectory(prefix="lapwise-guild-") as name:
        work = Path(name)
        given = work / "given.parquet"
        taken = Intake(given, shipped).all(files, base, progress)
        if not taken.rows:
            whys = tuple(Issue(why, file) for file, why in taken.broken[:10])
            raise BadInput([Issue("none of the shares can be read or holds anything", what), *whys])
        running: Engine = Spark(master) if engine == "spark" else DuckDB(work, memory)
        try:
            outcome = pool(running, given, taken.benches, vocabulary(shipped), work)
        finally:
            running.close()
    made = max(b.quarter for b in taken.benches)
    text = text_of(
        outcome,
        benches=len(taken.benches),
        shares=taken.shares + taken.exports,
        cases=taken.cases,
        made=made,
        knowledge=shipped.digest,
    )
    check(text)
    return Made(text, taken, outcome)


def text_of(outcome: Outcome, *, benches: int, shares: int, cases: int, made: str, knowledge: str) -> str:
    """The YAML of an experience file. The same numbers always give the same text."""
    head = [
        "# What benches of a guild found, added up. Take it with: lapwise knowledge add FILE",
        f"# {shares} shares of {benches} benches, {cases} cases, {made}; {len(outcome.far)} left out as odd.",
        "# A row: value (range that holds it with 90 %) of the trials behind it, a few at most from each bench.",
        "experience:",
    ]
    return "\n".join([*head, *_groups(outcome.numbers, benches - len(outcome.far), made, knowledge)]) + "\n"


def _groups(numbers: Sequence[Pooled], benches: int, made: str, knowledge: str) -> Iterator[str]:
    by_group: dict[str, list[Pooled]] = {ALL: []}
    for number in numbers:
        by_group.setdefault(ALL if number.level == ALL else f"{number.level}.{number.name}", []).append(number)
    for group, inside in sorted(by_group.items(), key=lambda item: (item[0] != ALL, item[0])):
        yield f"  {group}:"
        if group == ALL:
            yield f"    benches: {max(benches, 1)}"
            yield f"    made: {made}"
            yield f"    knowledge: '{knowledge}'"
        fixes = sorted((n.remedy, n.cause, n) for n in inside if n.kind == "fix")
        causes = sorted((n.cause, n) for n in inside if n.kind == "cause")
        if fixes:
            yield "    fixes:"
        last = ""
        for remedy, cause, number in fixes:
            if remedy != last:
                yield f"      {remedy}:"
            last = remedy
            yield f"        {cause}: {experience.row(number.found)}"
        if causes:
            yield "    causes:"
        for cause, number in causes:
            yield f"      {cause}: {experience.row(number.found)}"


def check(text: str) -> None:
    """Read an experience file as a bench would. Raises :class:`Damaged` with what is wrong in it."""
    entries, problems = entries_of(File("experience", Path("experience.yaml"), True, ""), text.encode())
    problems += tuple(p for entry in entries for p in entry.problems)
    if problems:
        raise Damaged(problems)
