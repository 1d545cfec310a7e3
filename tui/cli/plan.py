"""`lapwise plan`: steps from cutting to polish for one material."""

from __future__ import annotations

import click

from lapwise.engine.diagnosis.views import caution_text
from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.flat import form
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.planning import Owned, WorkPlan, compound_group, plan
from lapwise.engine.wording import LEGAL, capital, small
from lapwise.tui.cli.opening import known, opened, own_laps
from lapwise.tui.cli.output import Command, heading, points, reply, say, section, wrap
from lapwise.tui.present.answer import first_sentence
from lapwise.tui.present.case import STAGE_WORDS, name_of


def read_laps(text: str, knowledge: Knowledge) -> tuple[Owned, ...]:
    """``tin-lap,plated-diamond-lap=diamond-600`` as own laps; raises :class:`BadInput`."""
    out = []
    for item in filter(None, (part.strip() for part in text.split(","))):
        lap, _, compound = item.partition("=")
        known(lap, knowledge.laps, "lap", "--laps")
        if compound:
            known(compound, knowledge.compounds, "compound", f"--laps {lap}")
        out.append(Owned(lap, (compound,) if compound else ()))
    if not out:
        raise BadInput(Issue("a list of laps is required, like tin-lap,plated-diamond-lap=diamond-600", "--laps", text))
    return tuple(out)


@click.command("plan", cls=Command)
@click.option(
    "--material", metavar="ID", required=True, help="The stone, or its family (lapwise knowledge list materials)."
)
@click.option("--laps", metavar="LIST", help="Laps you have: tin-lap,plated-diamond-lap=diamond-600.")
def command(material: str, laps: str | None) -> None:
    """A stone from start to finish: orientation, dopping, cutting to polish, girdle, transfer and table.

    With speeds, wetness, what to watch for, other ways and cautions.

    Without --laps your own laps are taken, if you have entered any (see lapwise laps); each serves one step.

    --json gives material, steps (stage, lap, compound, um, rpm, wetness, watch, because, missing, pace: why slower than
    usual), jobs (id, label, before: the place among the steps, from 0, do, source), alternatives (lap, compound,
    because, source, own), warnings and cautions (id, text).
    """
    where, knowledge = opened()
    known(material, knowledge.materials, "material", "--material")
    if laps is not None:
        own = read_laps(laps, knowledge)
    else:
        own = tuple(Owned(lap.type, lap.carries) for lap in own_laps(where))
    result = plan(material, knowledge, own)
    reply(plan_json(result, knowledge), print_plan, result, knowledge)


def plan_json(result: WorkPlan, knowledge: Knowledge) -> dict[str, object]:
    """The plan as flat JSON."""
    return {
        "material": result.material,
        "steps": form(result.steps),
        "jobs": form(result.jobs),
        "alternatives": [
            {**c.as_json(), "because": c.because, "source": c.source, "own": c.own} for c in result.alternatives
        ],
        "warnings": list(result.warnings),
        "cautions": [{"id": c, "text": caution_text(knowledge.cautions[c])} for c in result.cautions],
    }


def print_jobs(result: WorkPlan, before: int, seen: set[str]) -> None:
    """The jobs off the lap that come before this step; what was ``seen`` is not said again."""
    for job in result.jobs:
        if job.before == before:
            say(wrap(f"*  {job.label}", indent="   ", first=""))
            print_new(job.do, seen)


def print_new(texts: tuple[str, ...], seen: set[str]) -> None:
    """What to do or watch for that was not ``seen`` before."""
    points((text for text in texts if text not in seen), "     ", "   - ")
    seen.update(texts)


def print_plan(result: WorkPlan, knowledge: Knowledge) -> None:
    """The plan laid out for reading."""
    say(f"{knowledge.label(result.material)}: from cutting to polish")
    heading("Take care")
    special = knowledge.materials[result.material].cautions
    for caution in result.cautions:
        about = knowledge.cautions[caution]
        brief = f"{about.label}: {first_sentence(about.action)}"
        text = brief if about.general and caution not in special else caution_text(about)
        say(wrap(text, indent="  ", first="! "))
    say(wrap(LEGAL, indent="  "))
    heading("Steps")
    seen: set[str] = set()
    for place, step in enumerate(result.steps, 1):
        print_jobs(result, place - 1, seen)
        lap, compound = knowledge.label(step.lap), knowledge.label(step.compound)
        size = f", {step.um:g} µm" if step.um else ""
        mark = "  (you have none)" if step.missing else ""
        what = f"{place}. {capital(STAGE_WORDS[step.stage])}: {lap} with {compound}{size}{mark}"
        say(wrap(what, indent="   ", first=""))
        speed = f"{step.rpm[0]} to {step.rpm[1]}" if step.rpm[0] < step.rpm[1] else f"about {step.rpm[0]}"
        say(wrap(f"{speed} rpm; {step.wetness}", indent="   "))
        if step.pace and step.pace not in seen:
            say(wrap(step.pace, indent="   "))
            seen.add(step.pace)
        print_new(step.watch, seen)
        if step.because and step.stage == "polish":
            say(wrap(step.because, indent="   "))
    print_jobs(result, len(result.steps), seen)
    if result.alternatives:
        heading("Other ways to polish it")
        last = None
        for choice in result.alternatives:
            group = compound_group(choice, knowledge)
            if group != last:
                say(f"  {'Diamond' if group == 'diamond' else name_of(knowledge, choice.compound)}")
                last = group
            own = "  (your own lap)" if choice.own else ""
            with_ = f" with {small(name_of(knowledge, choice.compound))}" if group == "diamond" else ""
            text = f"{name_of(knowledge, choice.lap)}{with_}{own}. {choice.because}"
            say(wrap(text, indent="      ", first="    - "))
    section("Warnings", result.warnings, first="! ")
