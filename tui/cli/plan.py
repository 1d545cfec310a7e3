"""`lapwise plan`: steps from cutting to polish for one material."""

from __future__ import annotations

import click

from lapwise.engine.diagnosis.views import caution_text
from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.flat import form
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.planning import Owned, WorkPlan, plan
from lapwise.tui.cli.opening import known, opened, own_laps
from lapwise.tui.cli.output import Command, heading, reply, say, wrap
from lapwise.tui.present.plan import plan_words


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


INDENTS: dict[str, tuple[str, str]] = {
    "caution": ("  ", "! "),
    "law": ("  ", "  "),
    "job": ("   ", "*  "),
    "step": ("   ", ""),
    "note": ("   ", "   "),
    "point": ("     ", "   - "),
    "group": ("  ", "  "),
    "way": ("      ", "    - "),
    "warning": ("  ", "! "),
}
"""How far what is said stands in, and how its first line begins."""


def print_plan(result: WorkPlan, knowledge: Knowledge) -> None:
    """The plan laid out for reading."""
    say(f"{knowledge.label(result.material)}: from cutting to polish")
    for kind, text in plan_words(result, knowledge):
        if kind == "heading":
            heading(text)
        else:
            indent, first = INDENTS[kind]
            say(wrap(text, indent=indent, first=first))
