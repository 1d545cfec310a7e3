"""`lapwise explain`: why a cause or a remedy ranks where it does, how sure that is, and why not."""

from __future__ import annotations

from typing import Any

import click

from lapwise.engine.case import FacetSetting
from lapwise.engine.diagnosis import explain as engine
from lapwise.engine.diagnosis.session import Session
from lapwise.engine.wording import LEGAL, percent
from lapwise.tui.cli.answer import heading
from lapwise.tui.cli.case_options import build_case, case_options, with_own_lap
from lapwise.tui.cli.facet_options import facet_options
from lapwise.tui.cli.facts_help import facts_help
from lapwise.tui.cli.opening import answered, open_profile, open_record, opened
from lapwise.tui.cli.output import common, say, say_json, wrap

SHOWN_QUIET = 6


@click.command("explain", epilog=facts_help())
@click.argument("target", metavar="CAUSE|REMEDY")
@case_options()
@facet_options
@common
def command(target: str, as_json: bool, data: str | None, facet: FacetSetting, **options: Any) -> int:
    """Why a cause or a remedy ranks where it does, how sure that is, and which conditions were not met.

    --json gives kind, id, label, about, standing, cautions (id, text), cause (as in diagnose), place, chance (in its
    turn), chance_now (if tried first), minutes, shares (cause, chance), fired (rule, on, because, source, says),
    not_fired (rule, because, source, says, met, unmet, unknown) and details (what to do, needs, risks).
    """

    where, knowledge = opened(data)
    record = open_record(where)
    profile = open_profile(where)
    case = build_case(knowledge, with_own_lap(options, record), facet, profile)
    session = Session(knowledge, record=record, profile=profile)
    result = engine.explain(target, session, answered(session, case))
    if as_json:
        say_json(engine.as_json(result))
    else:
        print_explanation(result)
    return 0


def print_explanation(result: Any) -> None:
    """The explanation laid out for reading."""
    say(wrap(f"{result.label} ({result.kind})"))
    say(wrap(result.about, indent="  "))
    say(wrap(result.standing, indent="  "))
    if result.cautions and result.details:
        heading("Take care")
        for caution in result.cautions:
            say(wrap(caution.text, indent="  ", first="! "))
        say(wrap(LEGAL, indent="  "))
    view = result.cause
    if view is not None:
        heading("For and against (weights add up)")
        before = f"{view.prior_log_odds:+7.2f}  before anything was seen, against “something else”"
        say(wrap(before, indent=" " * 11, first="  "))
        for reason in (*view.reasons_for, *view.reasons_against):
            text = f"{reason.log_likelihood_ratio:+7.2f}  {reason.finding}: {reason.because} [{reason.source}]"
            say(wrap(text, indent=" " * 11, first="  "))
        total = view.prior_log_odds + sum(r.log_likelihood_ratio for r in (*view.reasons_for, *view.reasons_against))
        say(f"  {total:+7.2f}  in all, the logarithm of its odds against “something else”")
    if result.shares:
        heading(f"If it were tried now: {percent(result.now or 0.0)}, made up of")
        for cause, share in result.shares:
            say(wrap(f"{percent(share):>10}  {cause}", indent=" " * 14, first="  "))
    if result.details:
        heading("How to do it" if result.kind == "remedy" else "How to make sure")
        for line in result.details:
            say(wrap(line, indent="    ", first="  - "))
    if result.step is not None and result.step.price:
        say(wrap(result.step.price["text"], indent="  "))
    if result.fired:
        heading("Rules that apply")
        for rule in result.fired:
            say(wrap(f"{rule.rule} {rule.says}: {rule.because} [{rule.source}]", indent="    ", first="  - "))
            say(wrap("on " + ", ".join(rule.on), indent="      "))
    if result.quiet:
        heading("Rules that do not apply, and what is missing")
        for rule in result.quiet[:SHOWN_QUIET]:
            say(wrap(f"{rule.rule} {rule.says}: {rule.because}", indent="    ", first="  - "))
            lack = "not known: " if rule.unknown else "not so: "
            say(wrap(lack + "; ".join(rule.unmet), indent="      "))
        if len(result.quiet) > SHOWN_QUIET:
            say(f"    and {len(result.quiet) - SHOWN_QUIET} more (--json shows all)")
