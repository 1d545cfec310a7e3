"""`lapwise explain`: why a cause or a remedy ranks where it does, how sure that is, and why not."""

from __future__ import annotations

from typing import Any

import click

from lapwise.engine.case import FacetSetting
from lapwise.engine.diagnosis import explain as engine
from lapwise.engine.wording import LEGAL, percent
from lapwise.tui.cli.case_options import case_options, facet_options, facts_help, session_of
from lapwise.tui.cli.opening import answered, opened
from lapwise.tui.cli.output import Command, heading, points, reply, say, section, wrap

SHOWN_QUIET = 6


@click.command("explain", cls=Command, epilog=facts_help())
@click.argument("target", metavar="CAUSE|REMEDY")
@case_options
@facet_options
def command(target: str, facet: FacetSetting, **options: Any) -> None:
    """Why a cause or a remedy ranks where it does, how sure that is, and which conditions were not met.

    --json gives kind, id, label, about, standing, cautions (id, text), cause (as in diagnose), place, chance (in its
    turn), chance_now (if tried first), minutes, shares (cause, chance), fired (rule, on, because, source, says),
    not_fired (rule, because, source, says, met, unmet, unknown) and details (what to do, needs, risks).
    """
    where, knowledge = opened()
    session, case = session_of(options, facet, knowledge, where)
    result = engine.explain(target, session, answered(session, case))
    reply(engine.as_json(result), print_explanation, result)


def print_explanation(result: Any) -> None:
    """The explanation laid out for reading."""
    say(wrap(f"{result.label} ({result.kind})"))
    points((result.about, result.standing))
    if result.cautions and result.details:
        section("Take care", [caution.text for caution in result.cautions], first="! ")
        say(wrap(LEGAL, indent="  "))
    view = result.cause
    if view is not None:
        reasons = (*view.reasons_for, *view.reasons_against)
        weights = [f"{view.prior_log_odds:+7.2f}  before anything was seen, against “something else”"]
        weights += [f"{r.log_likelihood_ratio:+7.2f}  {r.finding}: {r.because} [{r.source}]" for r in reasons]
        section("For and against (weights add up)", weights, " " * 11, "  ")
        total = view.prior_log_odds + sum(r.log_likelihood_ratio for r in reasons)
        say(f"  {total:+7.2f}  in all, the logarithm of its odds against “something else”")
    shares = [f"{percent(share):>10}  {cause}" for cause, share in result.shares]
    section(f"If it were tried now: {percent(result.now or 0.0)}, made up of", shares, " " * 14, "  ")
    section("How to do it" if result.kind == "remedy" else "How to make sure", result.details, "    ", "  - ")
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
