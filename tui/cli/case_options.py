"""The options that state a case and its facet, shared by correct, diagnose, explain and log; and what they mean."""

from __future__ import annotations

import functools
import textwrap
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, cast

import click

from lapwise.engine.case import Case, FacetSetting, Outcome
from lapwise.engine.errors import BadInput, Issue, NothingFound
from lapwise.engine.facts import NEAR_DEGREES, check_case, read_degrees, size_word
from lapwise.engine.folders import Folders
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.numerals import read_size
from lapwise.engine.slots import CONDITIONS, SLOTS
from lapwise.tui.cli.opening import open_profile, open_record
from lapwise.tui.cli.output import Function, note, options

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.session import Session
    from lapwise.engine.machine import MachineProfile
    from lapwise.engine.record.store import Record

facts_options = options(
    click.option("--material", metavar="ID", help="The stone, or its family; unknown is allowed."),
    click.option("--lap", metavar="ID", help="The type of lap on the machine."),
    click.option("--compound", metavar="ID", help="The compound on the lap."),
    click.option("--stage", metavar="STAGE", default="polish", show_default=True, help="cut, prepolish or polish."),
    click.option("--symptom", "symptoms", metavar="ID", multiple=True, help="What is seen or felt; may be repeated."),
    click.option(
        "--fact", "facts", metavar="KEY=VALUE", multiple=True, help="Anything else known (see below); may be repeated."
    ),
    click.option("--prior", metavar="ID", help="The compound of the previous step."),
    click.option("--own-lap", metavar="NAME", help="One of your own laps (see lapwise laps)."),
)
"""What is on the machine, seen and known."""
done_options = options(
    click.option("--tried", metavar="REMEDY=OUTCOME", multiple=True, help="better, no-change or worse; in order."),
    click.option("--saw", metavar="LOOK=RESULT", multiple=True, help="What a look showed; in order."),
    click.option(
        "--corrections", metavar="FILE.csv", help="Corrections found on other facets, as for `lapwise transfer`."
    ),
)
"""What was tried and looked at."""
_facet = options(
    click.option("--part", metavar="PART", help="Which facet: table, crown, girdle or pavilion."),
    click.option(
        "--angle", metavar="DEGREES", help="Facet angle: 0 with the dop upright over the lap, 90 with it level."
    ),
    click.option("--index", metavar="TOOTH", help="Index setting the facet was cut at."),
    click.option("--gear", metavar="TEETH", help="Teeth of the index gear, for example 96."),
    click.option("--size", metavar="ACROSSxLONG", help="Facet in mm: side to side x tip to dop, for example 9x6."),
    click.option(
        "--adapter", metavar="45|none", help="For a table: held in a 45-degree adapter, or straight in the handpiece."
    ),
    click.option(
        "--trial",
        multiple=True,
        metavar="TURN,ANGLE,MAP[,fresh]",
        help="A setting tried and what it made bright. TURN and ANGLE in degrees from the first setting, "
        "clockwise and raise positive; MAP in rows from the tip end to the dop end, B bright, D dull, "
        "? not sure, . no stone. The last one is where the stone is now.",
    ),
    click.option(
        "--ink",
        multiple=True,
        metavar="TURN,ANGLE,MAP",
        help="The same for ink: R rubbed off, N not.",
    ),
    click.option("--map", "map_", metavar="MAP", help="One map at the first setting: short for --trial 0,0,MAP."),
)
_FACET_NAMES = ("part", "angle", "index", "gear", "size", "adapter", "trial", "ink", "map_")


def case_options(function: Function) -> Function:
    """The options of a case with what was done in it."""
    return facts_options(done_options(function))


def facet_options(function: Function) -> Function:
    """Add the facet options to a command; it receives them as one argument ``facet``, a :class:`FacetSetting`."""

    @functools.wraps(function)
    def with_facet(*args: Any, **kwargs: Any) -> Any:
        from lapwise.tui.typed import read_facet  # start-up time of log, which does without

        given = {name: kwargs.pop(name) for name in _FACET_NAMES}
        return function(*args, facet=read_facet(**given), **kwargs)

    return _facet(with_facet)


def facts_help() -> str:
    """What may stand in --fact, and where the ids are listed: the end of the help of diagnose and explain."""
    lines = []
    for key in CONDITIONS:
        slot = SLOTS[key]
        if key == "prior":
            continue
        if slot.ids_of:
            words = f"an id of {slot.ids_of}"
        elif slot.typed and not slot.values:
            words = f"{slot.typed.form}, for example {slot.typed.example}"
        else:
            words = " | ".join((*slot.values, *([slot.typed.example] if slot.typed else [])))
        lines += textwrap.wrap(f"{key}={words}", 76, subsequent_indent="    ", break_on_hyphens=False)
    ids = "Ids: lapwise knowledge list materials (or laps, compounds, symptoms, causes, remedies, looks)."
    return f"{ids}\n\n\b\n--fact takes (unknown is always allowed):\n" + "\n".join(f"  {line}" for line in lines)


def session_of(
    options: dict[str, Any], facet: FacetSetting, knowledge: Knowledge, where: Folders
) -> tuple[Session, Case]:
    """A session on the person's record and machine, and the case that the options state."""
    from lapwise.engine.diagnosis.session import Session  # start-up time

    record, profile = open_record(where), open_profile(where)
    case = build_case(knowledge, with_own_lap(options, record), facet, profile)
    return Session(knowledge, record=record, profile=profile), case


def read_pairs(items: Iterable[str], option: str, form: str) -> list[tuple[str, str]]:
    """``key=value`` items split; raises :class:`BadInput` naming each that has no ``=``."""
    out: list[tuple[str, str]] = []
    problems = []
    for item in items:
        key, sign, value = item.partition("=")
        if not sign or not key.strip() or not value.strip():
            problems.append(Issue(f"{form} is required", option, item))
        else:
            out.append((key.strip(), value.strip()))
    if problems:
        raise BadInput(problems)
    return out


def with_own_lap(options: dict[str, Any], record: Record | None) -> dict[str, Any]:
    """The options with an own lap's id, type and compound put in for its name; raises :class:`BadInput`."""
    name = options.get("own_lap")
    if not name or name == "unknown":
        return {**options, "own_lap": None}
    if record is None:
        raise BadInput(Issue("you have entered no laps yet (see lapwise laps add)", "--own-lap", name))
    try:
        lap = record.lap(name)
    except NothingFound as error:
        raise BadInput([replace(p, where="--own-lap") for p in error.problems]) from None
    stated = options.get("lap")
    if stated not in (None, "unknown", lap.type):
        raise BadInput(Issue(f"“{lap.name}” is a lap of another type: {lap.type}", "--lap", str(stated)))
    return {**options, "own_lap": lap.id, "lap": lap.type, "compound": options.get("compound") or lap.compound}


def build_case(
    knowledge: Knowledge,
    options: dict[str, Any],
    facet: FacetSetting | None = None,
    profile: MachineProfile | None = None,
) -> Case:
    """A checked case from the options' values; raises :class:`BadInput` with every problem.

    ``profile``: the machine, whose gear the corrections are read with where none is given.
    A condition may be given once; one told twice with two values is refused.
    """
    facts: dict[str, str] = {}
    problems: list[Issue] = []
    facet = facet or FacetSetting()
    for raw_key, value in read_pairs(options.get("facts", ()), "--fact", "KEY=VALUE"):
        key = raw_key.replace("-", "_")
        if facts.get(key, value) != value:
            problems.append(Issue(f"two values for {key}", "--fact", f"{facts[key]}, {value}"))
        facts[key] = value
    problems += _told_twice(facts, options.get("prior"), facet)
    if problems:
        raise BadInput(problems)
    case = Case(
        material=options.get("material"),
        lap=options.get("lap"),
        compound=options.get("compound"),
        stage=options.get("stage") or "polish",
        symptoms=tuple(options.get("symptoms", ())),
        facts=MappingProxyType(facts),
        prior=options.get("prior"),
        facet=facet,
        tried=tuple(
            (r, cast(Outcome, o)) for r, o in read_pairs(options.get("tried", ()), "--tried", "REMEDY=OUTCOME")
        ),
        saw=tuple(read_pairs(options.get("saw", ()), "--saw", "LOOK=RESULT")),
        own_lap=options.get("own_lap"),
        corrections=read_corrections(options.get("corrections"), facet, profile),
    )
    return check_case(case, knowledge)


def read_corrections(
    path: str | None, facet: FacetSetting, profile: MachineProfile | None
) -> tuple[tuple[float, float, float | None, float | None], ...]:
    """The rows of a corrections file; a bad row is said and left out. Raises :class:`BadInput`, ``OSError``."""
    if not path:
        return ()
    from lapwise.engine.machine import gear_of  # start-up time
    from lapwise.engine.transfer import read_table  # start-up time

    table = read_table(Path(path), gear_of(facet.gear, profile))
    for problem in table.problems:
        note(f"lapwise: left out: {problem}")
    return tuple((r.index, r.angle, r.index_change, r.angle_change) for r in table.rows)


def _told_twice(facts: dict[str, str], prior: str | None, facet: FacetSetting) -> list[Issue]:
    """What --fact and another option, or two facts, say differently of one thing."""
    out = []
    for key, option, other in (("prior", "--prior", prior), ("facet_part", "--part", facet.part)):
        said = facts.get(key, "unknown")
        if other not in (None, "unknown") and said not in ("unknown", other):
            out.append(Issue(f"{option} and --fact {key} differ", option, f"{other}, {said}"))
    size = facts.get("facet_size", "unknown")
    if facet.size_mm is not None and size != "unknown":
        measured = size_word(facet.size_mm)
        if size != measured and read_size(size) != facet.size_mm:
            across, along = facet.size_mm
            what = f"--size and --fact facet_size differ: {across:g} x {along:g} mm is {measured}"
            out.append(Issue(what, "--size", size))
    near, angle = facts.get("cleavage_near", "unknown"), facts.get("cleavage_angle", "unknown")
    degrees = read_degrees(angle)
    if degrees is not None and near in ("yes", "no") and (degrees < NEAR_DEGREES) != (near == "yes"):
        what = f"cleavage_near and cleavage_angle differ: near is under {NEAR_DEGREES:g} degrees"
        out.append(Issue(what, "--fact", f"{near}, {angle}"))
    return out
