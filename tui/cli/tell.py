"""`lapwise tell`: a case in a person's own words, what was heard of it, and the advice."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.facts import check_case
from lapwise.engine.words.hear import hear
from lapwise.engine.words.heard import Hearing
from lapwise.engine.words.kept import kept_lexicon
from lapwise.tui.cli.opening import open_profile, open_record, opened
from lapwise.tui.cli.output import Command, note, say, say_json, wants_json, wrap

if TYPE_CHECKING:
    from lapwise.engine.folders import Folders
    from lapwise.engine.knowledge.model import Knowledge


def hearing_json(hearing: Hearing) -> dict[str, Any]:
    """What was heard as JSON: case, heard, unsure, unheard."""
    return {
        "case": hearing.case.without_cures().as_json(),
        "heard": [
            {"words": h.words, "start": h.start, "end": h.end, "means": h.means, "id": h.id, "sure": h.sure}
            for h in hearing.heard
        ],
        "unsure": [{"words": d.words, "could_be": list(d.could_be)} for d in hearing.unsure],
        "unheard": list(hearing.unheard),
    }


def choice_name(knowledge: Knowledge, choice: str) -> str:
    """What one of several readings is called: an id, or an id or a fact with its value."""
    id_, sign, value = choice.partition("=")
    return f"{knowledge.label(id_)}: {value.replace('-', ' ')}" if sign else knowledge.label(id_)


def say_hearing(hearing: Hearing, knowledge: Knowledge, write: Any = say) -> None:
    """What was heard, line by line; what must be asked; what was not understood."""
    write("HEARD")
    if not hearing.heard:
        write("  Nothing that a case can use.")
    for h in hearing.heard:
        doubtful = "" if h.sure else " (taken to mean this; say if it is wrong)"
        write(wrap(f"“{h.words}” as {h.means}{doubtful}", indent="    ", first="  "))
    if hearing.unsure:
        write("")
        write("NOT CLEAR, AND NOT TAKEN")
        for d in hearing.unsure:
            asked = " or ".join(f"{choice_name(knowledge, c)} ({c})" for c in d.could_be)
            write(wrap(f"“{d.words}”: {asked}?", indent="    ", first="  "))
    if hearing.unheard:
        write("")
        write(wrap("Not understood: " + ", ".join(hearing.unheard), indent="  "))


@click.command("tell", cls=Command)
@click.argument("text", nargs=-1, required=True)
def command(text: tuple[str, ...]) -> int:
    """Tell the case in your own words: the stone, lap and compound, what you see, what you tried.

    For example: lapwise tell "the table of my topaz stays foggy on the tin lap with alumina after a 3k pre-polish, I
    cleaned the lap and it did nothing". Shows what was heard, what is not clear (it is not taken: say it in other
    words, or with the options of lapwise diagnose --in-words), and what to try first.

    --json gives case (as diagnose takes it, without what cured it), heard (words, start, end, means, id, sure),
    unsure (words, could_be) and unheard. Exit code 1 if no advice could be given.
    """
    told = " ".join(text).strip()
    if not told:
        raise BadInput(Issue("say what is on the machine and what you see", "lapwise tell"))
    where, knowledge = opened()
    hearing = hear(told, knowledge, kept_lexicon(knowledge, where.cache))
    if wants_json():
        say_json(hearing_json(hearing))
        return 0 if hearing.heard else 1
    say_hearing(hearing, knowledge)
    case = check_case(hearing.case.without_cures(), knowledge)
    if case.tried != hearing.case.tried:
        say()
        say("Cured, as you tell it. What follows is for when it comes again.")
    if not (case.material or case.symptoms):
        say()
        say(wrap("No advice yet: say what stone it is, or what you see or feel."))
        return 1
    from lapwise.engine.diagnosis.session import Session  # start-up time: --json does without the advice
    from lapwise.tui.cli.answer import print_answer  # start-up time

    answer = Session(knowledge, record=open_record(where), profile=open_profile(where)).answer(case)
    say()
    print_answer(answer, knowledge)
    return 0 if answer.plan else 1


def with_words(options: dict[str, Any], knowledge: Knowledge, where: Folders) -> dict[str, Any]:
    """The options of a case with what --in-words tells added; what an option states outright counts.

    What was heard, and what is not clear, is said on stderr. Raises :class:`BadInput` if nothing was understood.
    """
    text = options.get("in_words")
    if not text:
        return options
    hearing = hear(text, knowledge, kept_lexicon(knowledge, where.cache))
    if not hearing.heard and not hearing.unsure:
        raise BadInput(Issue("nothing in this was understood", "--in-words", text))
    say_hearing(hearing, knowledge, note)
    case = hearing.case.without_cures()
    out = dict(options)
    for key in ("material", "lap", "compound", "prior"):
        out[key] = options.get(key) or getattr(case, key)
    if case.stage != "polish" and options.get("stage", "polish") == "polish":
        out["stage"] = case.stage
    out["symptoms"] = tuple(dict.fromkeys((*options.get("symptoms", ()), *case.symptoms)))
    for key, pairs in (("facts", case.facts.items()), ("tried", case.tried), ("saw", case.saw)):
        stated = tuple(options.get(key, ()))
        keys = {item.partition("=")[0].strip().replace("-", "_") for item in stated}
        heard = (f"{name}={value}" for name, value in pairs if name.replace("-", "_") not in keys)
        out[key] = (*stated, *heard)
    return out
