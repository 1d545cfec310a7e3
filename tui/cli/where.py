"""`lapwise where`: the folders of your own files."""

from __future__ import annotations

import click

from lapwise.tui.cli.opening import chosen
from lapwise.tui.cli.output import common, say, say_json


@click.command("where")
@common
def command(as_json: bool, data: str | None) -> int:
    """Where your own materials, laps, rules and record are kept. Nothing is created.

    --json gives data, knowledge, rules, cases, record, config and cache, each a path.
    """
    where = chosen(data)
    places = {
        "data": where.data,
        "knowledge": where.own_knowledge,
        "rules": where.own_rules,
        "cases": where.own_cases,
        "record": where.record,
        "config": where.config,
        "cache": where.cache,
    }
    if as_json:
        say_json({name: str(path) for name, path in places.items()})
        return 0
    about = {
        "data": "all that is yours",
        "knowledge": "own materials, laps, compounds",
        "rules": "own rules",
        "cases": "cases kept as tests of own rules",
        "record": "what you logged",
        "config": "keys and choices",
        "cache": "may be deleted at any time",
    }
    for name, path in places.items():
        mark = "" if path.exists() else " (not there yet)"
        say(f"{name:<10} {path}{mark}")
        say(f"{'':<10} {about[name]}")
    return 0
