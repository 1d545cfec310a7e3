"""`lapwise log`: one line logs an outcome; a case can also be logged in steps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import click

from lapwise.engine.case import OUTCOMES, Case
from lapwise.engine.errors import BadInput, Issue, LapwiseError, NothingFound
from lapwise.engine.folders import Folders
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.record.fold import facts_only
from lapwise.engine.record.ids import milliseconds
from lapwise.tui.cli.case_options import build_case, case_options, facts_options, read_pairs, with_own_lap
from lapwise.tui.cli.opening import chosen, known, open_profile, opened, writing
from lapwise.tui.cli.output import Group, note, options, tell
from lapwise.tui.kept_cases import kept_of

if TYPE_CHECKING:
    from lapwise.engine.record.model import CaseRecord
    from lapwise.engine.record.store import Record

SAME_CASE_HOURS = 12.0
"""An outcome logged in one line joins the open case of the same facts if that was begun within so many hours."""


def stated_case(record: Record, knowledge: Knowledge, options: dict[str, Any]) -> Case:
    """The case of the options; an own lap may be given by its name and brings its type and compound along."""
    return build_case(knowledge, with_own_lap(options, record))


class Logged:
    """Writes to a record. With each step goes the ranking as it stood before; without one it is logged all the same."""

    def __init__(self, record: Record, knowledge: Knowledge, where: Folders) -> None:
        self._record, self._knowledge, self._where = record, knowledge, where

    def _how(self, case: Case, keep: Callable[..., dict[str, Any]], *done: Any, **more: Any) -> dict[str, Any]:
        """How a row is written: with what is kept of the answer before it was ``done``, the knowledge, and ``more``."""
        return {**more, "shown": self._shown(case, keep, *done), "knowledge_digest": self._knowledge.digest}

    def _shown(self, case: Case, keep: Callable[..., dict[str, Any]], *done: Any) -> dict[str, Any] | None:
        try:
            from lapwise.engine.diagnosis.session import Session  # start-up time

            session = Session(self._knowledge, record=self._record, profile=open_profile(self._where))
            answer = session.quick(replace(case.without_cures(), settled=0))
            return kept_of(answer, keep, *done, record=self._record, knowledge=self._knowledge)
        except (LapwiseError, ValueError, KeyError, ArithmeticError) as error:
            note(f"lapwise: logged without the ranking ({error})")
            return None

    def opened(self, case: Case) -> str:
        """A new case; what --tried and --saw state becomes rows of its own, so that it is learned from too."""
        bare = replace(case, tried=(), saw=(), settled=0)
        case_id = self._record.open_case(bare, knowledge_digest=self._knowledge.digest)
        for remedy, outcome in case.tried:
            self.tried(case_id, remedy, outcome)
        for look, result in case.saw:
            self.saw(case_id, look, result)
        return case_id

    def tried(self, case_id: str, remedy: str, outcome: Any, minutes: float | None = None, words: str = "") -> str:
        """The id of the new row."""
        from lapwise.engine.diagnosis.shown import shown_for_try  # start-up time

        case = self._record.case(case_id).case
        how = self._how(case, shown_for_try, remedy, outcome, minutes=minutes, note=words)
        return self._record.log_outcome(case, remedy, outcome, case_id=case_id, **how)

    def saw(self, case_id: str, look: str, result: str, minutes: float | None = None, words: str = "") -> str:
        """The id of the new row."""
        from lapwise.engine.diagnosis.shown import shown_for_look  # start-up time

        case = self._record.case(case_id).case
        how = self._how(case, shown_for_look, look, result, minutes=minutes, note=words)
        return self._record.log_look(case_id, look, result, **how)


def _checked_outcome(knowledge: Knowledge, remedy: str, outcome: str, minutes: float | None) -> None:
    """Raises :class:`BadInput` before anything is written."""
    from lapwise.engine.record.store import LONGEST_MINUTES  # start-up time

    problems: list[Issue] = []
    if minutes is not None and not 0 <= minutes <= LONGEST_MINUTES:
        problems.append(Issue(f"minutes from 0 to {LONGEST_MINUTES:.0f} are required", "--minutes", f"{minutes:g}"))
    if remedy not in knowledge.remedies:
        problems += BadInput.unknown("no such remedy", remedy, knowledge.remedies, "--remedy").problems
    if outcome not in OUTCOMES:
        problems += BadInput.unknown("no such outcome", outcome, OUTCOMES, "--outcome").problems
    if problems:
        raise BadInput(problems)


def _same_open_case(record: Record, case: Case) -> str | None:
    now = datetime.now(UTC).timestamp() * 1000
    for kept in record.open_cases(limit=20):
        young = now - milliseconds(kept.id) < SAME_CASE_HOURS * 3_600_000
        if young and facts_only(kept.case) == facts_only(case) and not case.tried and not case.saw:
            return kept.id
    return None


def find_open(record: Record, case_id: str | None) -> CaseRecord:
    """The case with this id (or end of one), else the newest open one. Raises if there is none or it is closed."""
    if case_id is not None:
        found = record.find_case(case_id)
        if not found.open:
            what = f"this case is closed ({found.result}); `lapwise log undo` opens it again"
            raise BadInput(Issue(what, "case", found.id))
        return found
    newest = record.open_cases(limit=1)
    if not newest:
        others = len(record.open_cases(limit=1000, of_all=True))
        more = f"; {others} imported ones are, which you would have to name" if others else ""
        raise NothingFound(f"no case of yours is open: begin one with `lapwise log open --material …`{more}")
    return newest[0]


def _print_ids(case_id: str, *new: str) -> None:
    """The ids of new rows, once they are on disk: one object, or one line each."""
    tell({"id": new[-1], "case": case_id, **({"ids": list(new)} if len(new) > 1 else {})}, *new)


_note = click.option("--note", "words", default="", metavar="TEXT", help="Anything worth keeping.")
_took = options(click.option("--minutes", type=float, help="Minutes it took."), _note)
_which = click.argument("case_id", metavar="[ID]", required=False)


@click.group("log", cls=Group, invoke_without_command=True)
@case_options
@click.option("--remedy", metavar="ID", help="What was tried.")
@click.option("--outcome", metavar="WORD", help="fixed, better, no-change or worse.")
@_took
@click.option("--case", "case_id", metavar="ID", help="Add it to this case.")
@click.option("--new-case", is_flag=True, help="Begin a new case even if one with the same facts is open.")
@click.pass_context
def command(
    ctx: click.Context,
    /,
    remedy: str | None,
    outcome: str | None,
    minutes: float | None,
    words: str,
    case_id: str | None,
    new_case: bool,
    **options: Any,
) -> None:
    """Log what was tried and how it went. Prints only the new id, once it is on disk.

    In one line: lapwise log --material topaz --lap tin-lap --symptom haze --remedy clean-lap --outcome fixed.
    In steps: log open, then log try and log saw, at the end log close; log undo takes the last step back.
    """
    if ctx.invoked_subcommand is not None:
        return
    if not remedy or not outcome:
        raise BadInput(Issue("--remedy and --outcome are required (or log open, try, saw, close, undo)", "lapwise log"))
    where, knowledge = opened()
    _checked_outcome(knowledge, remedy, outcome, minutes)
    with writing(where) as record:
        log = Logged(record, knowledge, where)
        case = Case() if case_id is not None else stated_case(record, knowledge, options)
        target: str | None = None
        if case_id is not None:
            target = find_open(record, case_id).id
        elif not new_case and (target := _same_open_case(record, case)) is not None:
            note(f"lapwise: added to the open case {target} (--new-case begins another)")
        with record.writing():  # the case with all its rows, or nothing
            target = target or log.opened(case)
            new = log.tried(target, remedy, outcome, minutes, words)
        _print_ids(target, new)


@command.command("open")
@case_options
def open_(**options: Any) -> None:
    """Begin a case; prints its id."""
    where, knowledge = opened()
    with writing(where) as record:
        case = stated_case(record, knowledge, options)
        with record.writing():
            new = Logged(record, knowledge, where).opened(case)
    _print_ids(new, new)


@command.command("try")
@_which
@click.option("--remedy", metavar="ID", required=True, help="What was tried.")
@click.option("--outcome", metavar="WORD", required=True, help="fixed, better, no-change or worse.")
@_took
def try_(case_id: str | None, remedy: str, outcome: str, minutes: float | None, words: str) -> None:
    """Log what a remedy did in an open case (the newest if no ID is given)."""
    where, knowledge = opened()
    _checked_outcome(knowledge, remedy, outcome, minutes)
    with writing(where) as record:
        kept = find_open(record, case_id)
        new = Logged(record, knowledge, where).tried(kept.id, remedy, outcome, minutes, words)
        _print_ids(kept.id, new)


@command.command("saw")
@_which
@click.option("--saw", "seen", metavar="LOOK=RESULT", multiple=True, required=True, help="What a look showed.")
@_took
def saw(case_id: str | None, seen: tuple[str, ...], minutes: float | None, words: str) -> None:
    """Log what a look showed in an open case."""
    where, knowledge = opened()
    pairs = read_pairs(seen, "--saw", "LOOK=RESULT")
    for look, result in pairs:
        results = knowledge.looks[known(look, knowledge.looks, "look", "--saw")].results
        known(result, results, "result of this look", "--saw")
    with writing(where) as record:
        kept = find_open(record, case_id)
        log = Logged(record, knowledge, where)
        with record.writing():
            new = [log.saw(kept.id, look, result, minutes, words) for look, result in pairs]
        _print_ids(kept.id, *new)


@command.command("change")
@_which
@facts_options
@click.pass_context
def change(ctx: click.Context, /, case_id: str | None, **options: Any) -> None:
    """Change facts of an open case: only the options given are changed, --fact and --symptom are added."""
    where, knowledge = opened()
    with writing(where) as record:
        kept = find_open(record, case_id)
        stated = stated_case(record, knowledge, options)
        machine = ("material", "lap", "compound", "prior", "own_lap")
        given = {name: value for name in machine if (value := getattr(stated, name)) is not None}
        if ctx.get_parameter_source("stage") is click.core.ParameterSource.COMMANDLINE:
            given["stage"] = stated.stage
        case = replace(
            kept.case,
            **given,
            symptoms=tuple(dict.fromkeys((*kept.case.symptoms, *stated.symptoms))),
            facts=MappingProxyType({**kept.case.facts, **stated.facts}),
        )
        new = record.update_case(kept.id, case, knowledge_digest=knowledge.digest)
        if new is None:
            raise NothingFound(Issue("nothing is different from what the case says already", "case", kept.id))
    _print_ids(kept.id, new)


@command.command("close")
@_which
@click.option("--result", default="given-up", show_default=True, help="fixed, polished, accepted or given-up.")
@_note
def close(case_id: str | None, result: str, words: str) -> None:
    """Close an open case that did not end with a cure."""
    with writing(chosen()) as record:
        kept = find_open(record, case_id)
        _print_ids(kept.id, record.close_case(kept.id, result, note=words))


@command.command("undo")
@_which
def undo(case_id: str | None) -> None:
    """Take back the last step of a case (the one worked on last if no ID is given), by a new row."""
    with writing(chosen()) as record:
        kept = record.last_case() if case_id is None else record.find_case(case_id)
        if kept is None:
            raise NothingFound("nothing has been logged yet")
        _print_ids(kept.id, record.undo_last(kept.id))


@command.command("good")
@facts_options
@_note
def good(words: str, **options: Any) -> None:
    """Log that a stone came out well on this lap and compound without any trouble."""
    where, knowledge = opened()
    with writing(where) as record:
        case = stated_case(record, knowledge, options)
        if not (case.material and case.lap and case.compound):
            raise BadInput(Issue("--material, --lap and --compound are required", "lapwise log good"))
        with record.writing():
            case_id = record.open_case(case, knowledge_digest=knowledge.digest)
            new = record.close_case(case_id, "polished", note=words)
        _print_ids(case_id, new)
