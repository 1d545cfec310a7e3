"""`lapwise record`: what worked on each material; recipe card, export, import, back-up, check, forget."""

from __future__ import annotations

import io
import sys
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import click

from lapwise.engine.errors import BadInput, Damaged, Issue, LapwiseError, NothingFound
from lapwise.engine.folders import Folders
from lapwise.tui.cli.opening import chosen, open_knowledge
from lapwise.tui.cli.output import common, note, say, say_json, wrap
from lapwise.tui.present.case import case_line

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge
    from lapwise.engine.learning.model import Works
    from lapwise.engine.record.model import CaseRecord, Counts
    from lapwise.engine.record.store import Record

BAR = 20
CHART_CAUSES = 12


def reading(where: Folders) -> Record:
    """The record for reading; an empty one if nothing was logged yet."""
    from lapwise.engine.record.store import Record

    record = Record.open(where, readonly=True)
    if record.message:
        note(f"lapwise: {record.message}")
    return record


def _writing(where: Folders) -> Record:
    from lapwise.tui.cli.log import writing

    return writing(where)


def _material(knowledge: Knowledge, material: str | None) -> str | None:
    if material is None or material == "unknown":
        return None
    if material not in knowledge.materials:
        raise BadInput.unknown("no such material", material, knowledge.materials, "--material")
    return material


@click.group("record")
def command() -> None:
    """What worked on each material in your own shop; export, import, back up, check, forget."""


# --- show -----------------------------------------------------------------------------------------------------


@command.command("show")
@click.argument("case_id", metavar="[CASE]", required=False)
@click.option("--material", metavar="ID", help="Only this stone, or its group.")
@click.option("--open", "only_open", is_flag=True, help="Only cases not closed yet.")
@click.option("--limit", type=click.IntRange(1, 10_000), default=10, show_default=True, help="Newest cases to list.")
@common
def show(
    case_id: str | None, material: str | None, only_open: bool, limit: int, as_json: bool, data: str | None
) -> int:
    """What works, and the newest cases. With a CASE id: that case step by step."""
    from lapwise.engine.learning.learner import members
    from lapwise.engine.learning.works import what_works

    where = chosen(data)
    knowledge = open_knowledge(where)
    with reading(where) as record:
        if case_id is not None:
            return _show_case(record, knowledge, record.find_case(case_id), as_json)
        name = _material(knowledge, material)
        if only_open:
            cases = record.open_cases(limit)
        else:
            cases = record.cases(members(knowledge, name) if name else None, limit)
        found = what_works(record, knowledge, name)
        if as_json:
            say_json({**found.as_json(), "newest": [c.as_json() for c in cases]})
        elif record.empty():
            note("lapwise: nothing has been logged yet; `lapwise log --help` shows how")
        elif only_open:
            for case in cases:
                say(_case_line(case, knowledge))
            if not cases:
                note("lapwise: no case is open")
            return 0 if cases else 1
        else:
            label = knowledge.materials[name].label if name else "all stones"
            say(f"{label}: {found.cases} {'case' if found.cases == 1 else 'cases'}")
            _works("Laps and compounds, best first", found.pairs, knowledge, pairs=True)
            _works("What cured troubles", found.remedies, knowledge, pairs=False)
            say()
            say("NEWEST CASES")
            for case in cases:
                say("  " + _case_line(case, knowledge))
    return 0 if cases or found.pairs else 1


def _works(title: str, items: tuple[Works, ...], knowledge: Knowledge, *, pairs: bool) -> None:
    from lapwise.engine.learning.card import about_minutes
    from lapwise.engine.learning.works import pair_label, percent_range

    if not items:
        return
    say()
    say(title.upper())
    for works in items:
        label = pair_label(works.name, knowledge) if pairs else knowledge.label(works.name)
        time = f", {about_minutes(works.minutes)}" if works.minutes else ""
        words = f"{works.worked} of {works.trials} ({percent_range(works.estimate.low, works.estimate.high)}){time}"
        say(wrap(f"{label}: {words}", "    ", "  "))


def _case_line(case: CaseRecord, knowledge: Knowledge) -> str:
    state = case.result or "open"
    return f"{case.id[-6:]}  {case.at[:10]}  {state:<9} {case_line(case.case, knowledge)}"


def _show_case(record: Record, knowledge: Knowledge, case: CaseRecord, as_json: bool) -> int:
    if as_json:
        say_json(case.as_json())
        return 0
    say(_case_line(case, knowledge))
    say(f"  id {case.id}")
    for key, value in sorted(case.case.facts.items()):
        say(f"  {key}: {value}")
    for step in case.steps:
        say(wrap(("(taken back) " if step.withdrawn else "") + _step_line(step, knowledge), "      ", "  "))
    return 0


def _step_line(step: Any, knowledge: Knowledge) -> str:
    time = f", {step.minutes:g} min" if step.minutes is not None else ""
    words = f" - {step.note}" if step.note else ""
    when = step.at[:16].replace("T", " ")
    if step.kind == "try":
        return f"{when} tried: {knowledge.label(step.remedy)}: {step.outcome}{time}{words}"
    if step.kind == "look":
        return f"{when} looked: {knowledge.label(step.look)}: {step.result}{time}{words}"
    if step.kind == "close":
        return f"{when} closed: {step.result}{words}"
    if step.kind == "undo":
        return f"{when} the step before was taken back"
    return f"{when} facts changed"


# --- chart ----------------------------------------------------------------------------------------------------


def bar(low: float, mean: float, high: float, cells: int = BAR) -> str:
    """A chance from 0 to 1 as text: the interval as dashes, the mean as a full block."""
    a, b, m = (round(x * (cells - 1)) for x in (low, high, mean))
    return "".join("█" if i == m else "─" if a <= i <= b else "·" for i in range(cells))


@command.command("chart")
@click.option("--material", metavar="ID", help="Only this stone, or its group.")
@common
def chart(material: str | None, as_json: bool, data: str | None) -> int:
    """What works as intervals, minutes spent by cause, minutes to a good facet month by month."""
    from lapwise.engine.learning.works import pair_label, what_works

    where = chosen(data)
    knowledge = open_knowledge(where)
    with reading(where) as record:
        found = what_works(record, knowledge, _material(knowledge, material))
    if as_json:
        say_json(found.as_json())
        return 0 if found.cases else 1
    if not found.cases:
        raise NothingFound("nothing has been logged of this yet")
    for title, items in (("LAPS AND COMPOUNDS", found.pairs), ("REMEDIES", found.remedies)):
        if items:
            say(title + "   0 % to 100 %, the block is the share, the line holds the true one with 90 %")
        for works in items:
            label = pair_label(works.name, knowledge) if "|" in works.name else knowledge.label(works.name)
            shown = works.estimate
            say(f"  {bar(shown.low, shown.mean, shown.high)} {works.worked}/{works.trials}  {label}")
    _measures(
        "MINUTES SPENT, BY LIKELY CAUSE",
        [(knowledge.label(c), m) for c, m in list(found.minutes_by_cause.items())[:CHART_CAUSES] if m >= 0.5],
    )
    _measures("MINUTES TO A GOOD FACET, BY MONTH", [(f"{m} ({n})", t) for m, n, t in found.by_month])
    return 0


def _measures(title: str, items: list[tuple[str, float]]) -> None:
    if not items:
        return
    say()
    say(title)
    highest = max(value for _, value in items) or 1.0
    for label, value in items:
        cells = round(value / highest * BAR)
        say(f"  {'█' * cells:<{BAR}} {value:5.0f}  {label}")


# --- card -----------------------------------------------------------------------------------------------------


@command.command("card")
@click.option("--material", metavar="ID", required=True, help="The stone, or its group.")
@click.option("--markdown", is_flag=True, help="As Markdown.")
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), help="Write it to this new file (Markdown).")
@common
def card(material: str, markdown: bool, out: Path | None, as_json: bool, data: str | None) -> int:
    """The recipe card of a stone: what was tried, what worked, laps and compounds in order."""
    from lapwise.engine.learning import card as cards

    where = chosen(data)
    knowledge = open_knowledge(where)
    with reading(where) as record:
        found = cards.card(record, knowledge, material)
    if out is not None:
        _new_file(out, cards.markdown(found))
        note(f"lapwise: written to {out}")
    if as_json:
        say_json(found.as_json())
    elif out is None:
        for line in (cards.markdown if markdown else cards.text)(found).splitlines():
            say(line if markdown else wrap(line, "    ", "") if line else "")
    return 0 if found.cases else 1


def _new_file(path: Path, content: str) -> None:
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(content)
    except FileExistsError:
        raise BadInput(Issue("there is such a file already; it was left as it is", str(path))) from None


# --- export and import ----------------------------------------------------------------------------------------


@command.command("export")
@click.argument("file", metavar="[FILE|-]", default="-")
@click.option("--csv", "as_csv", is_flag=True, help="A table for a spreadsheet (cannot be imported again).")
@common
def export(file: str, as_csv: bool, as_json: bool, data: str | None) -> int:
    """Write the whole record as JSON Lines, or as a table for a spreadsheet."""
    with reading(chosen(data)) as record:
        if file == "-":
            rows = _write_out(record, sys.stdout, as_csv)
        else:
            try:
                with open(file, "x", encoding="utf-8", newline="") as target:
                    rows = _write_out(record, target, as_csv)
            except FileExistsError:
                raise BadInput(Issue("there is such a file already; it was left as it is", file)) from None
    if as_json and file != "-":
        say_json({"file": file, "rows": rows})
    else:
        note(f"lapwise: {rows} rows written")
    return 0


def _write_out(record: Record, target: IO[str], as_csv: bool) -> int:
    if as_csv:
        from lapwise.engine.record.table import write_csv

        return write_csv(record, target)
    from lapwise.engine.record.exchange import export_lines

    count = -1
    for line in export_lines(record):
        target.write(line + "\n")
        count += 1
    return count


class Progress:
    """A bar on stderr, or a count of rows where the size is not known; silent where stderr is no terminal."""

    def __init__(self, word: str) -> None:
        self._word = word
        self._on = sys.stderr.isatty()

    def rows(self, done: int) -> None:
        """Show that ``done`` rows are done."""
        if self._on:
            sys.stderr.write(f"\r{self._word}: {done} rows")
            sys.stderr.flush()

    def share(self, share: float) -> None:
        """Show the share from 0 to 1 that is done."""
        if self._on:
            cells = round(min(share, 1.0) * BAR)
            sys.stderr.write(f"\r{self._word} [{'#' * cells}{'.' * (BAR - cells)}] {100 * min(share, 1.0):3.0f} %")
            sys.stderr.flush()

    def end(self) -> None:
        """Clear the line."""
        if self._on:
            sys.stderr.write("\r" + " " * 60 + "\r")


@command.command("import")
@click.argument("file", metavar="FILE|-")
@click.option("--trial", is_flag=True, help="Only say what would happen.")
@common
def import_(file: str, trial: bool, as_json: bool, data: str | None) -> int:
    """Take in another record (JSON Lines), row by row, by id: what is known already changes nothing."""
    from lapwise.engine.record.exchange import import_lines

    progress = Progress("importing")
    with _writing(chosen(data)) as record:
        if file == "-":
            counts = import_lines(record, sys.stdin, progress=progress.rows, trial=trial)
        else:
            try:
                with open(file, "rb") as raw:
                    size = max(Path(file).stat().st_size, 1)
                    source = io.TextIOWrapper(raw, encoding="utf-8", errors="replace", newline="\n")
                    counts = import_lines(
                        record, source, progress=lambda _: progress.share(raw.tell() / size), trial=trial
                    )
            except OSError as error:
                raise BadInput(Issue(f"cannot be read: {error.strerror}", file)) from error
            finally:
                progress.end()
    if as_json:
        say_json({**counts.as_json(), "trial": trial})
    else:
        _say_counts(counts, trial)
    return 0 if sum(counts.added.values()) or counts.known or not counts.refused else 1


def _say_counts(counts: Counts, trial: bool) -> None:
    added = ", ".join(f"{n} {kind} rows" for kind, n in counts.added.items()) or "nothing new"
    say(("Would be added: " if trial else "Added: ") + added)
    say(f"Known already: {counts.known}")
    if counts.cleaned:
        say(f"Cleaned: {counts.cleaned}")
    if counts.refused:
        say(f"Refused: {counts.refused}")
        for reason, number in counts.reasons[:20]:
            say(f"  {number} x {reason}")
    for example in counts.examples:
        note(f"lapwise: {example}")


# --- care -----------------------------------------------------------------------------------------------------


@command.command("backup")
@click.argument("file", metavar="[FILE]", required=False, type=click.Path(path_type=Path))
@click.option(
    "--restore",
    "source",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Bring back what this backup holds; nothing here is lost by it.",
)
@click.option("--list", "only_list", is_flag=True, help="List the backups there are.")
@common
def backup(file: Path | None, source: Path | None, only_list: bool, as_json: bool, data: str | None) -> int:
    """Make a checked copy of the record, or bring one back."""
    from lapwise.engine.record.backup import backups_in
    from lapwise.engine.record.care import make_backup, restore
    from lapwise.engine.record.store import backup_folder

    where = chosen(data)
    if only_list:
        found = backups_in(backup_folder(where))
        if as_json:
            say_json({"backups": [str(p) for p in found]})
        else:
            for path in found:
                say(str(path))
        return 0 if found else 1
    if source is not None:
        progress = Progress("restoring")
        with _writing(where) as record:
            counts = restore(record, source, progress.rows)
        progress.end()
        if as_json:
            say_json(counts.as_json())
        else:
            _say_counts(counts, trial=False)
        return 0
    with reading(where) as record:
        made = make_backup(record, file)
    if as_json:
        say_json({"backup": str(made)})
    else:
        say(str(made))
    return 0


@command.command("check")
@click.option("--repair", is_flag=True, help="Work out again what is worked out from the rows, if it is wrong.")
@common
def check(repair: bool, as_json: bool, data: str | None) -> int:
    """Read the whole record through and say whether it is sound."""
    from lapwise.engine.record.care import check as check_record

    where = chosen(data)
    opened = _writing(where) if repair else reading(where)
    with opened as record:
        try:
            found = check_record(record, repair=repair)
        except LapwiseError as error:
            raise Damaged(error.problems) from error
    if as_json:
        say_json(
            {
                "cases": found.cases,
                "steps": found.steps,
                "lap_rows": found.lap_rows,
                "faults": list(found.faults),
                "stray_steps": found.stray_steps,
                "rebuilt": found.rebuilt,
                "sound": not found.faults,
            }
        )
    else:
        say(f"{found.cases} cases, {found.steps} steps, {found.lap_rows} rows of laps")
        if found.stray_steps:
            say(f"{found.stray_steps} steps belong to cases that have not been imported yet")
        if found.rebuilt:
            say("What learning reads was worked out again.")
        for fault in found.faults:
            say(wrap(fault, "  ", "  "))
        say("Faults were found." if found.faults else "The record is sound.")
    return 3 if found.faults else 0


@command.command("forget")
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.option("--undo", is_flag=True, help="Learn from all cases again.")
@common
def forget(yes: bool, undo: bool, as_json: bool, data: str | None) -> int:
    """Let learning start afresh: the advice is as shipped again. No case is removed, and it can be taken back."""
    from lapwise.engine.record.care import forget as forget_learned
    from lapwise.engine.record.care import remember

    where = chosen(data)
    if not where.record.exists():
        raise NothingFound("nothing has been logged yet: there is nothing to forget")
    if not (yes or undo):
        if not sys.stdin.isatty():
            raise BadInput(Issue("say --yes to let learning start afresh", "lapwise record forget"))
        click.confirm("Let learning start afresh? The cases stay in the record", abort=True, err=True)
    with _writing(where) as record:
        cases = remember(record) if undo else forget_learned(record)
    if as_json:
        say_json({"cases": cases, "forgotten": not undo})
    else:
        say(f"Learning from {cases} cases again." if undo else f"{cases} cases teach nothing any more; they stay here.")
    return 0
