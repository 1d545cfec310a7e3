"""`lapwise diagnose`: what to try first when a facet will not polish, and why."""

from __future__ import annotations

from typing import Any

import click

from lapwise.engine.case import FacetSetting
from lapwise.engine.errors import BadInput, Problem
from lapwise.tui.cli.bench import chosen, open_knowledge, open_profile, open_record
from lapwise.tui.cli.case_options import build_case, case_options, with_own_lap
from lapwise.tui.cli.facet_options import facet_options
from lapwise.tui.cli.output import common, say_json


@click.command("diagnose")
@case_options()
@facet_options
@click.option("--why", is_flag=True, help="Show every weight for and against.")
@common
def command(why: bool, as_json: bool, data: str | None, facet: FacetSetting, **options: Any) -> int:
    """What to try first, in order, and why. At least a material, a symptom or a facet map is needed."""
    where = chosen(data)
    knowledge = open_knowledge(where)
    record = open_record(where)
    case = build_case(knowledge, with_own_lap(options, record), facet)
    if not (case.material or case.symptoms or case.facet.trials):
        raise BadInput(Problem("say at least --material, --symptom or --map", "lapwise diagnose"))
    from lapwise.engine.diagnosis.session import Session

    session = Session(knowledge, record=record, profile=open_profile(where))
    answer = session.answer(case)
    if as_json:
        from lapwise.engine.diagnosis.jsonform import as_json as form

        say_json(form(answer))
    else:
        from lapwise.tui.cli.answer import print_answer

        print_answer(answer, knowledge, why=why)
    return 0 if answer.plan else 1
