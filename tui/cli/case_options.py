"""The options that state a case, shared by diagnose, explain and log."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from types import MappingProxyType
from typing import Any, cast

import click

from lapwise.engine.case import Case, FacetSetting, Outcome
from lapwise.engine.errors import BadInput, Problem
from lapwise.engine.facts import check_case
from lapwise.engine.knowledge.model import Knowledge

_OPTIONS = (
    click.option("--material", metavar="ID", help="The stone, or its family; unknown is allowed."),
    click.option("--lap", metavar="ID", help="The type of lap on the machine."),
    click.option("--compound", metavar="ID", help="The compound on the lap."),
    click.option("--stage", metavar="STAGE", default="polish", show_default=True, help="cut, prepolish or polish."),
    click.option("--symptom", "symptoms", metavar="ID", multiple=True, help="What is seen or felt; may be repeated."),
    click.option("--fact", "facts", metavar="KEY=VALUE", multiple=True, help="Anything else known; may be repeated."),
    click.option("--prior", metavar="ID", help="The compound of the step before."),
    click.option("--own-lap", metavar="ID", help="One of your own laps (see lapwise laps)."),
)
_DONE = (
    click.option("--tried", metavar="REMEDY=OUTCOME", multiple=True, help="better, no-change or worse; in order."),
    click.option("--saw", metavar="LOOK=RESULT", multiple=True, help="What a look showed; in order."),
)


def case_options(*, done: bool = True) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Adds the case options to a command; ``done``: --tried and --saw too."""

    def add(function: Callable[..., Any]) -> Callable[..., Any]:
        for option in reversed(_OPTIONS + (_DONE if done else ())):
            function = option(function)
        return function

    return add


def read_pairs(items: Iterable[str], option: str, form: str) -> list[tuple[str, str]]:
    """``key=value`` items split; raises :class:`BadInput` naming each that has no ``=``."""
    out: list[tuple[str, str]] = []
    problems = []
    for item in items:
        key, sign, value = item.partition("=")
        if not sign or not key.strip() or not value.strip():
            problems.append(Problem(f"{form} is wanted", option, item))
        else:
            out.append((key.strip(), value.strip()))
    if problems:
        raise BadInput(problems)
    return out


def build_case(knowledge: Knowledge, options: dict[str, Any], facet: FacetSetting | None = None) -> Case:
    """A checked case from the options' values; raises :class:`BadInput` with every problem.

    A condition may be given once; a repeated one with another value is refused.
    """
    facts: dict[str, str] = {}
    for raw_key, value in read_pairs(options.get("facts", ()), "--fact", "KEY=VALUE"):
        key = raw_key.replace("-", "_")
        if facts.get(key, value) != value:
            raise BadInput(Problem(f"two values for {key}", "--fact", f"{facts[key]}, {value}"))
        facts[key] = value
    case = Case(
        material=options.get("material"),
        lap=options.get("lap"),
        compound=options.get("compound"),
        stage=options.get("stage") or "polish",
        symptoms=tuple(options.get("symptoms", ())),
        facts=MappingProxyType(facts),
        prior=options.get("prior"),
        facet=facet or FacetSetting(),
        tried=tuple(
            (r, cast(Outcome, o)) for r, o in read_pairs(options.get("tried", ()), "--tried", "REMEDY=OUTCOME")
        ),
        saw=tuple(read_pairs(options.get("saw", ()), "--saw", "LOOK=RESULT")),
        own_lap=options.get("own_lap"),
    )
    return check_case(case, knowledge)
