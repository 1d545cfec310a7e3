"""`lapwise record`: what worked on each material; recipe card, export, import, back-up, check, forget."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapwise.engine.errors import NothingFound
from lapwise.engine.wording import counted
from lapwise.tui.cli import record_files
from lapwise.tui.cli.opening import known, opened, reading, whole_file
from lapwise.tui.cli.output import Group, heading, note, points, reply, say, say_all, say_json, wants_json, wrap
from lapwise.tui.present.case import case_line
from lapwise.tui.present.words import bar, interval

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge
    from lapwise.engine.learning.model import Works
    from lapwise.engine.record.model import CaseRecord

BAR = 20
CHART_CAUSES = 12


def _material(knowledge: Knowledge, material: str | None) -> str | None:
    if material is None or material == "unknown":
        return None
    return known(material, knowledge.materials, "material", "--material")


@click.group("record", cls=Group)
def command() -> None:
    """What worked on each material in your own shop; export, import, share, back up, check, forget."""


for _file_command in (
    record_files.export,
    record_files.import_,
    record_files.backup,
    record_files.check,
    record_files.forget,
    record_files.promises,
    record_files.share,
):
    command.add_command(_file_command)


# --- show -----------------------------------------------------------------------------------------------------


@command.command("show")
@click.argument("case_id", metavar="[CASE]", required=False)
@click.option("--material", metavar="ID", help="Only this stone, or its group.")
@click.option("--open", "only_open", is_flag=True, help="Only cases not closed yet.")
@click.option("--limit", type=click.IntRange(1, 10_000), default=10, show_default=True, help="Newest cases to list.")
def show(case_id: str | None, material: str | None, only_open: bool, limit: int) -> int:
    """What works, and the newest cases. With a CASE id: that case step by step."""
    from lapwise.engine.learning.learner import members  # start-up time
    from lapwise.engine.learning.works import what_works  # start-up time

    where, knowledge = opened()
    with reading(where) as record:
        if case_id is not None:
            case = record.find_case(case_id)
            reply(case.as_json(), _say_case, case, knowledge)
            return 0
        name = _material(knowledge, material)
        if only_open:
            cases = record.open_cases(limit, of_all=True)
        else:
            cases = record.cases(members(knowledge, name) if name else None, limit)
        found = what_works(record, knowledge, name)
        if wants_json():
            say_json({**found.as_json(), "newest": [c.as_json() for c in cases]})
        elif record.empty():
            note("lapwise: nothing has been logged yet; `lapwise log --help` shows how")
        elif only_open:
            say_all(_case_line(case, knowledge) for case in cases)
            if not cases:
                note("lapwise: no case is open")
            return 0 if cases else 1
        else:
            label = knowledge.materials[name].label if name else "all stones"
            say(f"{label}: {counted(found.cases, 'case')}")
            _works("Laps and compounds, best first", found.pairs, knowledge)
            _works("What cured troubles", found.remedies, knowledge)
            heading("Newest cases")
            say_all(f"  {_case_line(case, knowledge)}" for case in cases)
    return 0 if cases or found.pairs else 1


def _works(title: str, items: tuple[Works, ...], knowledge: Knowledge) -> None:
    from lapwise.engine.learning.card import about_minutes  # start-up time
    from lapwise.engine.learning.works import how_often, works_label  # start-up time

    if items:
        heading(title)
    for works in items:
        label = works_label(works.name, knowledge)
        time = f", {about_minutes(works.minutes)}" if works.minutes else ""
        words = how_often(works.worked, works.trials, works.estimate.low, works.estimate.high)
        say(wrap(f"{label}: {words}{time}", "    ", "  "))


def _case_line(case: CaseRecord, knowledge: Knowledge) -> str:
    state = case.result or "open"
    whose = "" if case.yours else " (imported)"
    return f"{case.id[-6:]}  {case.at[:10]}  {state:<9} {case_line(case.case, knowledge)}{whose}"


def _say_case(case: CaseRecord, knowledge: Knowledge) -> None:
    say(_case_line(case, knowledge))
    say(f"  id {case.id}")
    for key, value in sorted(case.case.facts.items()):
        say(f"  {key}: {value}")
    steps = (("(taken back) " if step.withdrawn else "") + _step_line(step, knowledge) for step in case.steps)
    points(steps, "      ", "  ")


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
        return f"{when} the entry before it was taken back"
    return f"{when} facts changed"


# --- chart ----------------------------------------------------------------------------------------------------


@command.command("chart")
@click.option("--material", metavar="ID", help="Only this stone, or its group.")
def chart(material: str | None) -> int:
    """What works as intervals, minutes spent by cause, minutes to a good facet month by month, cures by stone."""
    from lapwise.engine.learning.works import what_works, works_label  # start-up time

    where, knowledge = opened()
    with reading(where) as record:
        found = what_works(record, knowledge, _material(knowledge, material))
    if wants_json():
        say_json(found.as_json())
        return 0 if found.cases else 1
    if not found.cases:
        raise NothingFound("nothing has been logged for this yet")
    for title, items in (("LAPS AND COMPOUNDS", found.pairs), ("REMEDIES", found.remedies)):
        if items:
            say(title + "   ├──●──┤ from 0 to 100 %: ● is the share, the line holds the true one with 90 %")
        for works in items:
            label = works_label(works.name, knowledge)
            shown = works.estimate
            say(f"  {interval(shown.low, shown.mean, shown.high, BAR)} {works.worked}/{works.trials}  {label}")
    name = knowledge.label
    causes = list(found.minutes_by_cause.items())[:CHART_CAUSES]
    _measures("Minutes spent, by likely cause", [(name(c), m) for c, m in causes if m >= 0.5])
    _measures("Minutes to a good facet, by month", [(f"{m} ({n})", t) for m, n, t in found.by_month])
    _measures("Cures, by stone", [(f"{name(m) if m else 'stone not stated'}: {name(r)}", n) for m, r, n in found.cured])
    return 0


def _measures(title: str, items: list[tuple[str, float]]) -> None:
    if not items:
        return
    heading(title)
    highest = max(value for _, value in items) or 1.0
    for label, value in items:
        say(f"  {bar(value / highest, BAR)} {value:5.0f}  {label}")


# --- card -----------------------------------------------------------------------------------------------------


@command.command("card")
@click.option("--material", metavar="ID", required=True, help="The stone, or its group.")
@click.option("--markdown", is_flag=True, help="As Markdown.")
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), help="Write it to this new file (Markdown).")
def card(material: str, markdown: bool, out: Path | None) -> int:
    """The recipe card of a stone: what was tried, what worked, laps and compounds in order."""
    from lapwise.engine.learning import card as cards  # start-up time

    where, knowledge = opened()
    with reading(where) as record:
        found = cards.card(record, knowledge, material)
    if out is not None:
        with whole_file(out) as file:
            file.write(cards.markdown(found).encode())
        note(f"lapwise: written to {out}")
    if wants_json():
        say_json(found.as_json())
    elif out is None:
        for line in (cards.markdown if markdown else cards.text)(found).splitlines():
            say(line if markdown else wrap(line, "    ", "") if line else "")
    return 0 if found.cases else 1
