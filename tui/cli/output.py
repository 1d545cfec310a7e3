"""The one module that writes for the command line: data on stdout, words about it on stderr."""

from __future__ import annotations

import json
import re
import sys
import textwrap
from collections.abc import Callable
from typing import Any

import click

from lapwise.engine.errors import Issue, LapwiseError, nearest
from lapwise.tui.present.words import clean

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


def tell(as_json: bool, form: Any, *lines: str) -> None:
    """The answer as JSON, or line by line."""
    if as_json:
        say_json(form)
    else:
        for line in lines:
            say(line)


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
    where = ""
    allowed: tuple[str, ...] = ()
    close: tuple[str, ...] = ()
    found = ""
    if isinstance(error, click.NoSuchOption):
        found, close = error.option_name, tuple(error.possibilities or ())
        what, where = "no such option", error.ctx.command_path if error.ctx else ""
    elif isinstance(error, click.UsageError) and error.ctx is not None:
        where = error.ctx.command_path
        group = error.ctx.command
        if isinstance(group, click.Group) and (named := _NO_COMMAND.match(what)):
            what, found, allowed = "no such command", named[1], tuple(group.list_commands(error.ctx))
            close = nearest(found, allowed)
    wrapped = LapwiseError(Issue(what, where, found, allowed, close))
    report_error(wrapped, as_json=as_json)
    return 2


def common(function: Callable[..., Any]) -> Callable[..., Any]:
    """The options every command takes: --json and --data. The command receives ``as_json`` and ``data``."""
    function = click.option("--json", "as_json", is_flag=True, help="The answer as JSON.")(function)
    return click.option(
        "--data", metavar="DIR", default=None, help="Folder of your own files and record (also LAPWISE_DATA)."
    )(function)
