"""`lapwise where`: the folders of your own files."""

from __future__ import annotations

import click

from lapwise.tui.cli.opening import chosen
from lapwise.tui.cli.output import Command, reply, say


@click.command("where", cls=Command)
def command() -> None:
    """Where your own materials, laps, rules and record are kept. Nothing is created.

    --json gives data, knowledge, rules, cases, record, config and cache, each a path.
    """
    where = chosen()
    places = (
        ("data", where.data, "all that is yours"),
        ("knowledge", where.own_knowledge, "own materials, laps, compounds"),
        ("rules", where.own_rules, "own rules"),
        ("cases", where.own_cases, "cases kept as tests of own rules"),
        ("record", where.record, "what you logged"),
        ("config", where.config, "keys and choices"),
        ("cache", where.cache, "may be deleted at any time"),
    )

    def show() -> None:
        for name, path, about in places:
            mark = "" if path.exists() else " (not there yet)"
            say(f"{name:<10} {path}{mark}")
            say(f"{'':<10} {about}")

    reply({name: str(path) for name, path, _ in places}, show)
