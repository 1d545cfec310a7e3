"""`lapwise laps`: your own laps, what each carries, when it was cleaned, what ran on it."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.flat import form
from lapwise.engine.numerals import read_length
from lapwise.engine.record.model import WEAR, OwnLap
from lapwise.tui.cli.opening import chosen, open_knowledge, opened, reading, writing
from lapwise.tui.cli.output import Group, note, options, points, reply, say, tell, wrap
from lapwise.tui.present.case import name_of
from lapwise.tui.present.record import lap_sizes, lap_state_words, logged_on

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge
    from lapwise.engine.record.model import LapView
    from lapwise.engine.record.store import Record


_fields = options(
    click.option("--type", "type_", metavar="ID", help="The type of lap."),
    click.option("--diameter", metavar="SIZE", help="Such as 200, 200 mm or 8 in."),
    click.option("--thickness", metavar="SIZE", help="Such as 6, 6 mm or 1/4 in."),
    click.option("--grade", metavar="TEXT", help="What it says on it, in your words."),
    click.option("--carries", metavar="ID", multiple=True, help="A compound it carries; may be repeated."),
    click.option("--wear", metavar="WORD", help=f"{', '.join(WEAR)}."),
    click.option("--note", "words", metavar="TEXT", help="Anything worth keeping."),
)


def _given(knowledge: Knowledge, options: dict[str, Any]) -> dict[str, Any]:
    problems: list[Issue] = []
    if options["type_"] is not None and options["type_"] not in knowledge.laps:
        problems += BadInput.unknown("no such type of lap", options["type_"], knowledge.laps, "--type").problems
    for compound in options["carries"]:
        if compound not in knowledge.compounds:
            problems += BadInput.unknown("no such compound", compound, knowledge.compounds, "--carries").problems
    sizes = {name: read_length(options[name] or "") for name in ("diameter", "thickness")}
    for name, mm in sizes.items():
        if options[name] is not None and mm is None:
            problems.append(Issue("mm or inches are required, such as 200 mm or 8 in", f"--{name}", options[name]))
    if problems:
        raise BadInput(problems)
    found = {
        "type": options["type_"],
        "diameter_mm": sizes["diameter"],
        "thickness_mm": sizes["thickness"],
        "grade": options["grade"],
        "carries": tuple(options["carries"]) or None,
        "wear": options["wear"],
        "note": options["words"],
    }
    return {k: v for k, v in found.items() if v is not None}


def _say_lap(view: LapView, knowledge: Knowledge, *, full: bool) -> None:
    lap = view.lap
    carries = ", ".join(knowledge.label(c) for c in lap.carries)
    head = f"{lap.name}: {knowledge.label(lap.type)}" + (f", {carries}" if carries else "")
    whose = "" if lap.yours else f", imported, id …{lap.id[-6:]}"
    say(wrap(f"{head} ({'taken out of use' if lap.removed else lap_state_words(view)}{whose})", "    ", ""))
    points((f"! {warning}" for warning in view.warnings), "      ", "    ")
    if not full:
        return
    wear = f"wear: {lap.wear}" if lap.wear else ""
    points(filter(None, (", ".join(lap_sizes(lap)), lap.grade, wear, lap.note)), "    ")
    say(f"    last cleaned: {logged_on(lap.last_cleaned)}")
    say(f"    last run: {logged_on(view.last_run)}")
    for use in view.ran:
        stone = name_of(knowledge, use.material, "unknown stone")
        on = name_of(knowledge, use.compound, "unknown compound")
        say(f"    {use.cases} x {stone} with {on}")
    say(f"    id {lap.id}")


@click.group("laps", cls=Group, invoke_without_command=True)
@click.pass_context
def command(ctx: click.Context, /) -> None:
    """Your own laps: what each carries, when it was cleaned, what ran on it."""
    if ctx.invoked_subcommand is None:
        ctx.exit(ctx.invoke(list_, everything=False))


@command.command("list")
@click.option("--all", "everything", is_flag=True, help="Also those taken out of use.")
def list_(everything: bool) -> int:
    """List your laps with what to beware of."""
    where, knowledge = opened()
    with reading(where) as record:
        laps = [record.lap_view(lap, knowledge) for lap in record.laps(removed=everything)]

        def show() -> None:
            for view in laps:
                _say_lap(view, knowledge, full=False)
            if not laps:
                note("lapwise: you have entered no laps yet: lapwise laps add NAME --type tin-lap")

        reply({"laps": form(laps)}, show)
    return 0 if laps else 1


@command.command("show")
@click.argument("name")
def show(name: str) -> None:
    """All about one lap, by its name or id."""
    where, knowledge = opened()
    with reading(where) as record:
        view = record.lap_view(record.lap(name), knowledge)
        reply(view.as_json(), partial(_say_lap, view, knowledge, full=True))


def _write(name: str, work: Callable[[Record, str], str]) -> None:
    """Write a row of the lap called ``name`` and print its id."""
    with writing(chosen()) as record:
        lap = record.lap(name).id
        new = work(record, lap)
        tell({"id": new, "lap": lap}, new)


@command.command("add")
@click.argument("name")
@_fields
def add(name: str, **options: Any) -> None:
    """Enter a lap under a NAME of your choice; --type is required."""
    where, knowledge = opened()
    given = _given(knowledge, options)
    if "type" not in given:
        raise BadInput(Issue("--type is required", "lapwise laps add", "", tuple(sorted(knowledge.laps))))
    with writing(where) as record:
        new = record.add_lap(OwnLap(name=name, **given))
    tell({"id": new, "lap": new}, new)


@command.command("change")
@click.argument("name")
@click.option("--rename", metavar="NAME", help="Another name.")
@_fields
def change(name: str, rename: str | None, **options: Any) -> None:
    """Change what is known of a lap; --carries replaces what it carries."""
    given = _given(open_knowledge(chosen()), options)
    if rename is not None:
        given["name"] = rename
    if not given:
        raise BadInput(Issue("say what to change", "lapwise laps change"))
    _write(name, lambda record, lap: record.change_lap(lap, **given))


@command.command("clean")
@click.argument("name")
@click.option("--resurfaced", is_flag=True, help="It was cut down to a fresh face.")
def clean(name: str, resurfaced: bool) -> None:
    """Log that a lap was cleaned now."""
    _write(name, lambda record, lap: record.clean_lap(lap, resurfaced=resurfaced))


@command.command("remove")
@click.argument("name")
def remove(name: str) -> None:
    """Take a lap out of use; what ran on it stays in the record."""
    _write(name, lambda record, lap: record.remove_lap(lap))
