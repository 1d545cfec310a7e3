"""The one module that writes for the command line: data on stdout, words about it on stderr."""

from __future__ import annotations

import json
import re
import sys
import textwrap
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import click

from lapwise.engine.errors import Issue, LapwiseError, nearest
from lapwise.tui.present.words import clean

Function = Callable[..., Any]
_DATA, _JSON = "lapwise.data", "lapwise.as_json"
_NO_COMMAND = re.compile(r"No such command '(.*)'\.")

_PLAIN = {
    "→": "->",
    "✗": "x",
    "…": "...",
    "“": '"',
    "”": '"',
    "‘": "'",
    "’": "'",
    "–": "-",
    "—": "-",
    "×": "x",
    "°": " deg",
    "µ": "u",
    "μ": "u",
    "±": "+-",
    "≥": ">=",
    "≤": "<=",
    "²": "2",
    "³": "3",
    "·": "*",
    "\N{REPLACEMENT CHARACTER}": "?",
}


def plain(error: UnicodeError) -> tuple[str, int]:
    """What stands for characters that the terminal's character set lacks (a codec error handler)."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lacking = error.object[error.start : error.end]
    return "".join(_PLAIN.get(c, "?") for c in lacking), error.end


def ready_streams() -> None:
    """Make stdout and stderr safe to write to: present, and never failing on a character they cannot show."""
    import codecs
    import os

    codecs.register_error("lapwise", plain)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115 - lives as long as the process
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="lapwise")


def _ascii_only() -> bool:
    """Whether stdout cannot take every character, so that JSON has to spell them out."""
    return not (getattr(sys.stdout, "encoding", None) or "utf-8").lower().replace("-", "").startswith("utf")


def width() -> int:
    """Columns to lay text out for: the terminal's, between 40 and 100."""
    import shutil

    return max(40, min(100, shutil.get_terminal_size((80, 24)).columns))


def say(line: str = "") -> None:
    """One line of the answer, on stdout."""
    sys.stdout.write(clean(line) + "\n")


def note(line: str) -> None:
    """One line about the answer, on stderr."""
    sys.stderr.write(clean(line) + "\n")


def say_json(data: Any) -> None:
    """The answer as JSON on stdout."""
    json.dump(data, sys.stdout, ensure_ascii=_ascii_only(), indent=2, allow_nan=False)
    sys.stdout.write("\n")


def data_given() -> str | None:
    """The folder of --data, be it given to the command, its group or the program."""
    context = click.get_current_context(silent=True)
    return context.meta.get(_DATA) if context is not None else None


def wants_json() -> bool:
    """Whether the command at work was asked for JSON."""
    return bool(click.get_current_context().meta.get(_JSON))


def reply(form: Any, show: Callable[..., object], *said: Any) -> None:
    """The answer as JSON if it was asked for, else as ``show`` lays out ``said``."""
    if wants_json():
        say_json(form)
    else:
        show(*said)


def tell(form: Any, *lines: str) -> None:
    """The answer as JSON, or line by line."""
    reply(form, say_all, lines)


def say_all(lines: Iterable[str]) -> None:
    """Lines of the answer, as they are."""
    for line in lines:
        say(line)


def heading(text: str) -> None:
    """A blank line and a heading."""
    say()
    say(wrap(text.upper()) if len(text) > width() else text.upper())


def points(texts: Iterable[str], indent: str = "  ", first: str | None = None) -> None:
    """Texts of the answer, each wrapped as :func:`wrap` does."""
    for text in texts:
        say(wrap(text, indent, first))


def section(title: str, texts: Sequence[str], indent: str = "  ", first: str | None = None) -> None:
    """A heading with its texts; nothing where there are none."""
    if texts:
        heading(title)
        points(texts, indent, first)


def wrap(text: str, indent: str = "", first: str | None = None) -> str:
    """``text`` wrapped to :func:`width` with a hanging indent."""
    start = indent if first is None else first
    return textwrap.fill(clean(text), width(), initial_indent=start, subsequent_indent=indent, break_on_hyphens=False)


def report_error(error: LapwiseError, *, as_json: bool) -> int:
    """Write the error to stderr and return its exit code."""
    if as_json:
        first = error.problems[0].as_json()
        out: dict[str, Any] = {"error": first}
        if len(error.problems) > 1:
            out["more"] = [p.as_json() for p in error.problems[1:]]
        sys.stderr.write(json.dumps(out, ensure_ascii=True) + "\n")
    else:
        for problem in error.problems:
            note(f"lapwise: {problem}")
    return error.exit_code


def report_click_error(error: click.ClickException, *, as_json: bool) -> int:
    """The same for an error that click found in the options."""
    what = " ".join(error.format_message().split())
    context = error.ctx if isinstance(error, click.UsageError) else None
    where = context.command_path if context is not None else ""
    issue = Issue(what, where)
    if isinstance(error, click.NoSuchOption):
        issue = Issue("no such option", where, error.option_name, (), tuple(error.possibilities or ()))
    elif context is not None and isinstance(context.command, click.Group) and (named := _NO_COMMAND.match(what)):
        names = tuple(context.command.list_commands(context))
        issue = Issue("no such command", where, named[1], names, nearest(named[1], names))
    report_error(LapwiseError(issue), as_json=as_json)
    return 2


def options(*given: Callable[[Function], Function]) -> Callable[[Function], Function]:
    """Adds options to a command, in this order."""

    def add(function: Function) -> Function:
        for option in reversed(given):
            function = option(function)
        return function

    return add


def keep_given(context: click.Context, option: click.Parameter, value: Any) -> None:
    """Keep an option of every command; given to a group and to its command, that of the command counts."""
    if value is not None and value != "":
        context.meta[f"lapwise.{option.name}"] = value


def common() -> list[click.Parameter]:
    """The options every command takes; :func:`data_given` and :func:`wants_json` say what was given."""
    where = "Folder of your own files and record (also LAPWISE_DATA)."
    kept: dict[str, Any] = {"expose_value": False, "callback": keep_given}
    return [
        click.Option(["--data"], metavar="DIR", help=where, **kept),
        click.Option(["--json", "as_json"], is_flag=True, help="The answer as JSON.", **kept),
    ]


class Command(click.Command):
    """A command, with the options that every command takes."""

    def __init__(self, *args: Any, **given: Any) -> None:
        super().__init__(*args, **given)
        self.params += common()


class Group(click.Group):
    """A group of such commands; one that does something itself where no command is named takes the options too."""

    command_class = Command

    def __init__(self, *args: Any, **given: Any) -> None:
        super().__init__(*args, **given)
        self.params += common() if self.invoke_without_command else []
