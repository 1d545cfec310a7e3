"""`lapwise diagnose`: what to try first when a facet will not polish, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from lapwise.engine.case import Case, FacetSetting
from lapwise.engine.diagnosis.jsonform import as_json as form
from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.wording import percent
from lapwise.tui.cli.answer import print_answer
from lapwise.tui.cli.case_options import case_options, facet_options, facts_help, session_of
from lapwise.tui.cli.opening import answered, opened
from lapwise.tui.cli.output import Command, heading, say, say_json, wants_json, wrap
from lapwise.tui.present.answer import tried_words

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.session import Session
    from lapwise.engine.knowledge.model import Knowledge


def _offer(session: Session, case: Case, knowledge: Knowledge) -> None:
    """A remedy to try for once, shown as such and apart from the advice."""
    heading("Something new, if finding out matters more today than time")
    new = session.something_new(case)
    if new is None:
        say("  Nothing to offer: your record holds no cases yet, or nothing is left to try.")
        return
    label = knowledge.remedies[new.remedy].label
    say(wrap(f"{label}: {percent(new.usual)} as the advice has it, {tried_words(new.trials)}.", indent="  "))


@click.command("diagnose", cls=Command, epilog=facts_help())
@case_options
@facet_options
@click.option("--in-words", metavar="TEXT", help="The case in your own words, as for lapwise tell; options come first.")
@click.option("--something-new", is_flag=True, help="Offer a remedy to try for once, so that your record learns of it.")
@click.option("--why", is_flag=True, help="Show every weight for and against.")
def command(why: bool, something_new: bool, facet: FacetSetting, **options: Any) -> int:
    """What to try first, in order, and why. At least a material, a symptom or a facet map is needed.

    Exit code 1 if nothing safe is left to try.

    --json gives case, cautions (id, text), causes (id, label, probability, prior_weight, for, against; other
    included, sum 1), plan (remedy, label, to, amount, chance, cumulative, minutes, because, source, price,
    cautions, wait_minutes and wait_for, what passes by itself afterwards; chance_now, if tried first; ends, if it
    ends the work without a cure; saves, the minutes the order would cost more without it; the order if each brings
    no change), look (the one best worth doing; before is the place in the plan it should precede), looks, vetoed
    (remedy, label, because, rule), expected_minutes, exact, runner_up (remedy, label, extra_minutes),
    unknown_that_would_help (key, question, value_minutes), unexplained, stop, disagreements, record, correction,
    gone_worse (tries that made it worse: what to do), remains (what is there already and stays when the cause is
    cured: what takes it away), not_as_named (said where the stone was found to be another),
    replaced (own entries in the place of what protects), left_out (remedy, kind, because),
    worth (how many steps of the plan are worth trying), lead (why the first is first), legal (who decides on
    safety), findings and knowledge; with --something-new also something_new (remedy, chance, trials). Weights are
    natural logarithms of odds against other.
    """
    where, knowledge = opened()
    if options.get("in_words"):
        # for start-up time: reading words is rarely asked for here
        from lapwise.tui.cli.tell import with_words

        options = with_words(options, knowledge, where)
    session, case = session_of(options, facet, knowledge, where)
    if not (case.material or case.symptoms or case.facet.trials):
        raise BadInput(Issue("say at least --material, --symptom or --map", "lapwise diagnose"))
    answer = answered(session, case)
    if wants_json():
        new = session.something_new(case) if something_new else None
        offer = {"remedy": new.remedy, "chance": new.usual, "trials": new.trials} if new else None
        say_json({**form(answer), **({"something_new": offer} if something_new else {})})
    else:
        print_answer(answer, knowledge, why=why)
        if something_new:
            _offer(session, case, knowledge)
    return 0 if answer.plan else 1
