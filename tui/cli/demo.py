"""`lapwise demo`: an invented case from trouble to advice. Asks nothing, writes nothing."""

from __future__ import annotations

import tempfile

import click

from lapwise.engine.diagnosis.jsonform import as_json as form
from lapwise.engine.diagnosis.model import Diagnosis
from lapwise.engine.diagnosis.session import Session
from lapwise.engine.folders import folders
from lapwise.engine.knowledge.loader import load
from lapwise.engine.knowledge.model import Knowledge
from lapwise.tui.cli.answer import print_answer
from lapwise.tui.cli.output import Command, reply, say, say_all
from lapwise.tui.sample import DEMO

BY_HAND = (
    "The same by hand:",
    "  lapwise diagnose --material garnet-spessartine --lap tin-alloy-lap \\",
    "    --compound diamond-50000 --prior diamond-3000 --symptom partial-polish \\",
    "    --fact extent=one-facet --fact prior_clean=yes --part pavilion --angle 42 \\",
    "    --index 30 --gear 96 --size 9x6 --map BBD/BBD/BBD",
    "Your own stone: lapwise (the screens), or lapwise diagnose --help.",
)


@click.command("demo", cls=Command)
def command() -> None:
    """An invented case: a pavilion facet of a spessartine that polishes on its left side only.

    Uses the shipped knowledge alone; your own files and record are neither read nor written.
    --json gives what diagnose --json gives.
    """
    # an empty folder of its own: the person's files and record stay out of it
    with tempfile.TemporaryDirectory(prefix="lapwise-demo-") as empty:
        knowledge = load(folders(empty)).knowledge
        found = Session(knowledge).answer(DEMO)
        reply(form(found), _show, found, knowledge)


def _show(found: Diagnosis, knowledge: Knowledge) -> None:
    say("An invented case. Nothing is asked, nothing is written.")
    say()
    print_answer(found, knowledge)
    say()
    say_all(BY_HAND)
