"""`lapwise machine`: your machine, shown, set by hand, or found out with a two-minute ink test."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any

import click

from lapwise.engine.errors import BadInput, Issue, NothingFound
from lapwise.engine.machine import MachineProfile, load_profile, profile_from, profile_path, save_profile
from lapwise.engine.machine.calibrate import QUESTIONS, Seen, deduce
from lapwise.engine.machine.described import FACTS
from lapwise.tui.cli.opening import chosen
from lapwise.tui.cli.output import Group, note, reply, say, wants_json, wrap
from lapwise.tui.present.machine import found_words, value_words


@click.group("machine", cls=Group, invoke_without_command=True)
@click.pass_context
def command(ctx: click.Context) -> None:
    """Your machine: its gear, which way numbers and knob run, its dials. Shows it if nothing else is asked."""
    if ctx.invoked_subcommand is None:
        ctx.invoke(show)


@command.command("show")
def show() -> None:
    """Show what is known of your machine."""
    where = chosen()
    profile = load_profile(where)
    if profile is None or profile.is_empty:
        what = "your machine is not described yet"
        raise NothingFound(Issue(what, "lapwise machine", "", ("lapwise machine calibrate", "lapwise machine set")))
    _tell(profile, profile_path(where))


@command.command("set")
@click.argument("facts", nargs=-1, metavar="NAME=VALUE ...")
def set_(facts: tuple[str, ...]) -> None:
    """Set facts by hand, for example gear=96 numbers_run=clockwise. NAME= alone takes one out."""
    if not facts:
        allowed = tuple(f"{name}={'|'.join(fact.values) or 'NUMBER'}" for name, fact in FACTS.items())
        raise BadInput(Issue("nothing to set", "lapwise machine set", "", allowed))
    values: dict[str, Any] = {}
    for text in facts:
        name, sign, value = text.partition("=")
        if not sign:
            raise BadInput(Issue("NAME=VALUE is required", "lapwise machine set", text, ("gear=96",)))
        values[name.strip().lower().replace("-", "_")] = value.strip()
    _save(values)


def _asked(function: Callable[..., int]) -> Callable[..., int]:
    """An option for each question of the ink test."""
    for name, question in reversed(QUESTIONS.items()):
        shown = question.typed.upper() or "|".join(question.answers)
        option = click.option("--" + name.replace("_", "-"), metavar=shown, help=question.brief or question.asks)
        function = option(function)
    return function


@command.command("calibrate")
@_asked
def calibrate(**given: str | None) -> int:
    """Find out with ink which way your machine runs: one question at a time, or every answer as an option.

    Stop the lap for the whole test and rub by hand.
    """
    answers = {k: v.strip().lower() for k, v in given.items() if v is not None}
    if not wants_json() and sys.stdin.isatty() and len(answers) < len(given):
        answers = _ask(answers)
    seen = Seen(**answers)
    if all(getattr(seen, f.name) is None for f in fields(seen)):
        allowed = tuple("--" + name.replace("_", "-") for name in QUESTIONS)
        raise BadInput(Issue("no answer was given", "lapwise machine calibrate", "", allowed))
    found = deduce(seen)
    for text in found.contradictions:
        note(wrap(text, "  ", "! "))
    if not found.facts:
        raise NothingFound(Issue("the answers tell nothing about the machine; it stays as it was", "calibrate"))
    if not wants_json():
        for name, value in found.facts.items():
            if (said := found_words(name, value)) is not None:
                note(wrap(said))
    _save(found.facts)
    if found.open and not wants_json():
        note("Still open: " + "; ".join(found.open) + ".")
    return 1 if found.contradictions else 0


def _ask(answers: dict[str, str]) -> dict[str, str]:
    """Ask what is not answered yet; an empty answer skips a question."""
    out = dict(answers)
    note("Stop the lap before you begin, and rub by hand. Press enter to skip a question.")
    for name, question in QUESTIONS.items():
        if name in out or (name == "degrees_per_mark" and "marks_per_tooth" in out):
            continue
        note("")
        note(wrap(question.asks))
        allowed = question.answers
        while True:
            hint = f" ({', '.join(allowed)})" if allowed else ""
            text = str(click.prompt(f"your answer{hint}", default="", show_default=False, err=True)).strip().lower()
            if not text or not allowed or text in allowed:
                break
            note(f"please answer one of: {', '.join(allowed)}")
        if text:
            out[name] = text
    return out


def _save(values: dict[str, Any]) -> None:
    where = chosen()
    old = load_profile(where) or MachineProfile()
    new = profile_from({**old.as_json(), **values})
    _tell(new, save_profile(where, new))


def _tell(profile: MachineProfile, path: Path) -> None:
    reply(profile.as_json(), _say, profile, path)


def _say(profile: MachineProfile, path: Path) -> None:
    for name, fact in FACTS.items():
        say(wrap(f"{value_words(name, profile)} - {fact.asks or fact.about}", " " * 20, f"{name:<18}  "))
    note(f"kept in {path}")
