"""`lapwise knowledge`: check, show, list and extend what is known."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapwise.engine.errors import BadInput, Damaged, Issue, NothingFound
from lapwise.engine.flat import flat
from lapwise.engine.folders import Folders
from lapwise.tui.cli.opening import chosen, help_text, long_work, open_knowledge, open_record, opened, sure
from lapwise.tui.cli.output import Group, note, points, reply, say, say_all, tell, wants_json, width, wrap
from lapwise.tui.present.words import learned_from

if TYPE_CHECKING:
    from lapwise.engine.checks import Finding
    from lapwise.engine.knowledge.files import File
    from lapwise.engine.knowledge.model import Knowledge
    from lapwise.engine.knowledge.show import Shown
    from lapwise.engine.record.store import Record
    from lapwise.engine.teaching import Firing


@click.group("knowledge", cls=Group)
def command() -> None:
    """Check, show and extend what is known: materials, laps, troubles, rules."""


# --- check ---------------------------------------------------------------------------------------------------


@command.command("check")
@click.argument("path", required=False, type=click.Path(path_type=Path))
@click.option("--all", "everything", is_flag=True, help="List the warnings about the shipped files too.")
@click.option(
    "--cases",
    "told",
    type=click.Path(path_type=Path, exists=True, file_okay=False),
    help="A folder of cases: say how many rules fire in none and in one of them (--json: which).",
)
def check(path: Path | None, everything: bool, told: Path | None) -> int:
    """Check the knowledge: the shipped files with your own over them, or with those in PATH.

    PATH: a folder that holds knowledge and rules, or one YAML file. Ends with 0 if there are no errors, 3 if there
    are. Each check has a page: lapwise knowledge explain NAME.
    """
    where = chosen()
    found, checked, knowledge = _checked(where, path)
    fires = _firing(knowledge, told) if knowledge is not None and told is not None else None
    errors = [f for f in found if f.severity == "error"]
    form = {
        "errors": len(errors),
        "warnings": len(found) - len(errors),
        "checked": checked,
        "findings": [f.as_json() for f in found],
        **({"firing": flat(fires)} if fires else {}),
    }

    def show() -> None:
        quiet = [f for f in found if f.severity == "warning" and not f.own and not everything]
        for f in found:
            if f not in quiet:
                say(f"{f.severity}: {f.problem} [{f.check}]")
        counts = ", ".join(f"{n} {what}" for what, n in checked.items())
        say(f"{_count(len(errors), 'error')}, {_count(len(found) - len(errors), 'warning')} ({counts})")
        if fires:
            rules = f"of {checked['rules']} rules {len(fires.none)} fire in none, {len(fires.one)} in one"
            say(f"{rules} of {fires.cases} cases")
        if quiet:
            note(f"{len(quiet)} of the warnings are about the shipped files; --all lists them")

    reply(form, show)
    return Damaged.exit_code if errors else 0


def _firing(knowledge: Knowledge, folder: Path) -> Firing:
    from lapwise.engine.teaching import firing  # start-up time

    return firing(knowledge, folder)


def _count(number: int, what: str) -> str:
    return f"{number or 'no'} {what}{'' if number == 1 else 's'}"


def _checked(where: Folders, path: Path | None) -> tuple[list[Finding], dict[str, int], Knowledge | None]:
    """The findings, how many of what was checked, and the knowledge (None where a file cannot be read: that is a
    finding of the check "form")."""
    from lapwise.engine.abrasion.tables import load_systems  # start-up time
    from lapwise.engine.checks import Finding, run  # start-up time
    from lapwise.engine.knowledge import files  # start-up time
    from lapwise.engine.knowledge.loader import build  # start-up time
    from lapwise.engine.teaching import run_cases  # start-up time
    from lapwise.engine.words.cues import load_cues  # start-up time

    def form(problems: Iterable[Issue]) -> list[Finding]:
        return [Finding("form", "error", p.where, p, own=True) for p in problems]

    try:
        own = _files(path, "lapwise knowledge check")
        if path is not None and not own:
            raise BadInput(Issue("there is no YAML file in this folder", "lapwise knowledge check", str(path)))
        loaded = build(files.shipped_files(), own)  # the files themselves, not what was kept of them
        for read in (load_systems, load_cues):
            read()
    except Damaged as error:
        return form(error.problems), {}, None
    cases = where.own_cases if path is None else path / "cases"
    own_first = [
        Finding("form", "warning", r.where, Issue(r.what, r.where), own=True) for r in loaded.knowledge.replaced
    ]
    with long_work("checking") as progress:
        of_checks = run(loaded.knowledge, cases, run_cases=run_cases, progress=progress)
    found = form(loaded.problems) + own_first + of_checks
    knowledge = loaded.knowledge
    counts = {kind: len(getattr(knowledge, kind)) for kind in ("materials", "causes", "remedies", "rules")}
    return found, counts, knowledge


def _files(path: Path | None, command: str) -> tuple[File, ...]:
    """The person's own files, or those in ``path``."""
    from lapwise.engine.knowledge import files  # start-up time

    if path is None:
        return files.own_files(chosen())
    if not path.exists():
        raise BadInput(Issue("no such file or folder", command, str(path)))
    return files.files_in(path)


@command.command("explain")
@click.argument("name", required=False)
def explain(name: str | None) -> None:
    """What a check looks for and how to put it right; without NAME, the list of checks."""
    from lapwise.engine.checks import CHECKS  # start-up time

    by_name = {c.name: c for c in CHECKS}
    if name is None:
        form = [{"name": c.name, "severity": c.severity, "about": c.about} for c in CHECKS]
        reply(form, points, (f"{c.name:<24}{c.severity:<9}{c.about}" for c in CHECKS), " " * 33, "")
        return
    if name not in by_name and name != "form":
        raise BadInput.unknown("no such check", name, (*by_name, "form"), "lapwise knowledge explain")
    text = help_text(f"checks/{name}")
    tell({"name": name, "text": text}, text.rstrip())


# --- format --------------------------------------------------------------------------------------------------


@command.command("format")
@click.argument("path", required=False, type=click.Path(path_type=Path))
@click.option("--check", "only_check", is_flag=True, help="Change nothing; end with 3 if a file is not in that form.")
def format_(path: Path | None, only_check: bool) -> int:
    """Lay knowledge and rule files out in the standard form: your own, or those in PATH. Comments and meaning stay.

    PATH: a folder that holds knowledge and rules, or one YAML file.
    """
    from lapwise.engine.knowledge import files  # start-up time
    from lapwise.engine.knowledge.layout import laid_out  # start-up time

    found = _files(path, "lapwise knowledge format")
    changed: list[str] = []
    for file in found:
        content, problem = files.content(file)
        if problem:
            raise Damaged([problem])
        text = content.decode("utf-8-sig", "replace")
        laid = laid_out(text, file.name)
        if laid == text:
            continue
        changed.append(file.name)
        if not only_check:
            files.replace_text(Path(str(file.path)), laid)
    tell({"files": len(found), "changed": changed, "written": not only_check}, *changed)
    if not wants_json():
        what = "not in the standard form" if only_check else "laid out again"
        note(f"{what}: {len(changed) or 'none'} of {_count(len(found), 'file')}")
    return Damaged.exit_code if only_check and changed else 0


# --- show and list -------------------------------------------------------------------------------------------


@command.command("show")
@click.argument("id_", metavar="ID")
@click.option("--picture", is_flag=True, help="Draw it in dots: a symptom, look, lap, remedy, or LOOK=RESULT.")
@click.option("--svg", is_flag=True, help="Write its drawing as SVG to standard output.")
def show(id_: str, picture: bool, svg: bool) -> None:
    """Everything known about ID, with sources: what was shipped, what is your own, what your record says.

    With --picture or --svg its drawing and nothing else; two ids joined by a comma stand side by side, with what
    tells them apart: lapwise knowledge show haze,surface-film --picture.
    """
    from lapwise.engine.knowledge.show import show as known  # start-up time

    if picture or svg:
        from lapwise.tui.cli.pictures import draw  # start-up time

        draw(id_, open_knowledge(chosen()), svg=svg, as_json=wants_json())
        return
    where, knowledge = opened()
    shown = known(knowledge, id_)
    record, columns = _learned(shown.id, knowledge, where)
    reply({**shown.as_json(), "record": list(record)}, _print, shown, record, columns, knowledge)


def _learned(id_: str, knowledge: Knowledge, where: Folders) -> tuple[Sequence[str], Sequence[str]]:
    """What the person's record and a guild's file say of an id: sentences, and with a guild chances in columns."""
    from lapwise.engine.learning.works import chance_rows, record_lines  # start-up time
    from lapwise.tui.present.table import chance_table  # start-up time

    guild = bool(knowledge.experience)

    def told(record: Record | None) -> tuple[Sequence[str], Sequence[str]]:
        rows = chance_rows(record, knowledge, id_) if guild and not wants_json() else []
        said = record_lines(record, knowledge, id_, chances=not rows)
        if not rows:
            return said, ()
        head, lines = chance_table(rows).laid_out(width() - 4)
        return said, [head, *lines] if head else lines

    record = open_record(where)
    if record is None:
        return told(None) if guild else ((), ())
    with contextlib.closing(record):
        try:
            return told(record)
        except Damaged as error:
            note(f"lapwise: {error}")
            return told(None) if guild else ((), ())


def _print(shown: Shown, record: Sequence[str], columns: Sequence[str], knowledge: Knowledge) -> None:
    kind = shown.kind.replace("_", " ")
    say(wrap(f"{shown.id}: {shown.label}" if shown.label != shown.id else shown.id, indent="  ", first=""))
    if shown.place:
        origin = "your own" if shown.place.own else "shipped"
        say(wrap(f"{kind}, {origin}: {shown.place.file}, line {shown.place.line}", indent="  "))
    else:
        say(f"  {kind}")
    for title, lines in shown.lines:
        if len(lines) == 1:
            say(wrap(f"{title}: {lines[0]}", indent="    ", first="  "))
        else:
            say(f"  {title}:")
            points(lines, "      ", "    ")
    if shown.used_by:
        say("  named by:")
        for key in dict.fromkeys(n.key for n in shown.used_by):
            by = ", ".join(dict.fromkeys(n.by for n in shown.used_by if n.key == key))
            say(wrap(f"{key.replace('_', ' ')}: {by}", indent="      ", first="    "))
    if shown.rules:
        say(f"  rules that speak of it ({len(shown.rules)}):")
        rules = (f"{r.id} ({'; '.join(shown.roles[r.id])}): {r.because} ({r.source})" for r in shown.rules)
        points(rules, "      ", "    ")
    if record or columns:
        say(f"  {learned_from(knowledge).lower()}:")
        say_all(f"    {line}" for line in columns)
        points(record, "      ", "    ")
    if shown.sources:
        say("  sources:")
        for source in shown.sources:
            status = "from memory, not opened" if source.status == "memory" else source.status
            say(wrap(f"{source.id}: {source.cite} ({status}) {source.address}".rstrip(), indent="      ", first="    "))


@command.command("list")
@click.argument("kind")
def list_(kind: str) -> None:
    """The ids of one KIND: materials, laps, compounds, symptoms, causes, remedies, looks, rules, conditions ..."""
    from lapwise.engine.knowledge.model import KINDS  # start-up time
    from lapwise.engine.slots import SLOTS  # start-up time

    wanted = kind.replace("-", "_")
    plural = next((k for k in (*KINDS, "conditions", "checks") if wanted in (k, _singular(k))), None)
    if plural is None:
        raise BadInput.unknown("no such kind", kind, (*KINDS, "conditions", "checks"), "lapwise knowledge list")
    if plural == "checks":
        from lapwise.engine.checks import CHECKS  # start-up time

        rows = [(c.name, c.about, False) for c in CHECKS]
    elif plural == "conditions":
        rows = [(s.name, f"{s.about}: {', '.join(_values(s.values)) or s.unit}", False) for s in SLOTS.values()]
    else:
        entries = getattr(open_knowledge(chosen()), plural)
        rows = [(name, _about(entry), _own(entry)) for name, entry in entries.items()]
    if not rows:
        raise NothingFound(Issue(f"there are no {plural}", "lapwise knowledge list"))
    column = min(30, max(len(name) for name, _, _ in rows) + 2)
    lines = (f"{name:<{column}}{about}{' (your own)' if own else ''}" for name, about, own in rows)
    reply([{"id": name, "label": about, "own": own} for name, about, own in rows], points, lines, " " * column, "")
    if not wants_json():
        note(f"{len(rows)} {plural.replace('_', ' ')}")


def _singular(kind: str) -> str:
    return "remedy" if kind == "remedies" else kind.removesuffix("s")


def _values(values: Iterable[str]) -> Iterable[str]:
    return (f"any of the {v[1:].replace('_', ' ')}" if v.startswith("@") else v for v in values)


def _about(entry: Any) -> str:
    if isinstance(entry, str):
        return entry
    return str(getattr(entry, "label", "") or getattr(entry, "because", "") or getattr(entry, "cite", ""))


def _own(entry: Any) -> bool:
    place = getattr(entry, "place", None)
    return bool(place and place.own)


# --- new -----------------------------------------------------------------------------------------------------


@command.command("new")
@click.argument("kind", type=click.Choice(["material", "rule"]))
@click.argument("id_", metavar="ID")
@click.option("--from-case", "case_id", metavar="ID", help="Draft the rule from a case you logged.")
@click.option("--yes", is_flag=True, help="With --from-case: do not ask before the rule changes earlier advice.")
def new(kind: str, id_: str, case_id: str | None, yes: bool) -> None:
    """Begin a material or a rule of your own: a commented file in your own folder. Nothing is ever written over."""
    from lapwise.engine.knowledge.scaffold import draft, path_for, write  # start-up time

    where, knowledge = opened()
    text = draft(kind, id_, knowledge)
    path = path_for(kind, id_, where)
    if path.exists():
        raise BadInput(Issue("this file is already there and is not written over", str(path)))
    if case_id is not None:
        from lapwise.tui.cli.teach import teach_rule  # the planner behind it, for this option alone

        if kind != "rule":
            raise BadInput(Issue("--from-case drafts a rule: lapwise knowledge new rule ID --from-case CASE"))
        teach_rule(id_, case_id, knowledge, where, yes=yes)
        return
    write(path, text)
    tell({"id": id_, "kind": kind, "file": str(path)}, str(path))
    if not wants_json():
        note("Fill it in, then run: lapwise knowledge check")


# --- add and remove ------------------------------------------------------------------------------------------


@command.command("add")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--yes", is_flag=True, help="Do not ask, even if it holds more than a guild's experience.")
def add(file: Path, yes: bool) -> None:
    """Take a knowledge file, such as a guild's experience, into your own. If anything in it is wrong, nothing is taken.

    A file of the same name is set aside, not lost. lapwise knowledge remove NAME undoes it.
    """
    from lapwise.engine.knowledge.taking import look_at, take  # start-up time
    from lapwise.tui.present.offered import MORE, what_it_is  # start-up time

    where = chosen()
    offered = look_at(file, where)
    say_it = note if wants_json() else say
    for line in what_it_is(offered):
        say_it(wrap(line, "  ", ""))
    if not offered.only_numbers and not yes:
        sure(f"{MORE} Take it?", "it holds more than a guild's experience: look at it, then say --yes", str(file))
    target, aside = take(offered, where)
    before = [f"The one you had is set aside: {aside}"] if aside else []
    form = {"file": str(target), "set_aside": str(aside) if aside else None, "holds": offered.holds}
    tell(form, *before, f"Taken: {target}")
    if not wants_json():
        note(f"lapwise: to be without it again: lapwise knowledge remove {offered.name}")


@command.command("remove")
@click.argument("name")
def remove(name: str) -> None:
    """Stop using one of your own knowledge files: NAME is set aside, not deleted."""
    from lapwise.engine.knowledge.taking import put_away  # start-up time

    aside = put_away(name, chosen())
    tell({"set_aside": str(aside)}, f"Set aside: {aside}")
