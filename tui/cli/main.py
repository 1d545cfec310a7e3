"""The command `lapwise`: one group whose commands are imported only when they are called."""

from __future__ import annotations

import contextlib
import importlib
import os
import sys
from collections.abc import Sequence
from typing import Any

import click

from lapwise.engine.errors import BadInput, Issue, LapwiseError, nearest
from lapwise.tui.cli.output import data_given, keep_given, ready_streams, report_click_error, report_error

COMMANDS = {
    "tell": "say it in your own words: what was heard, and what to try first",
    "diagnose": "what to try first, and why",
    "explain": "why a cause or a remedy ranks where it does, or why not",
    "correct": "which way to turn the stone, and how far",
    "transfer": "how the stone sits on its dop",
    "plan": "steps from cutting to polish",
    "grit": "grain sizes of the named grit systems",
    "log": "log what was tried and how it went",
    "record": "what worked on each material; export, import, back up",
    "laps": "your own laps",
    "machine": "your machine: gear, fine index, angle dial",
    "knowledge": "check, show and extend what is known",
    "guild": "add up what many benches gave",
    "where": "where your files are",
    "demo": "an invented case, from trouble to advice",
    "serve": "the same screens in a browser",
}
"""What each does; its module is called like it."""


class LazyGroup(click.Group):
    """Finds a command's module on first use, so that one command does not pay for the others."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"lapwise.tui.cli.{cmd_name}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        name = args[0] if args else ""
        if name and not name.startswith("-") and name not in COMMANDS:
            close = nearest(name, COMMANDS)
            raise LapwiseErrorUsage(Issue("no such command", "lapwise", name, tuple(COMMANDS), close))
        return super().resolve_command(ctx, args)


class LapwiseErrorUsage(LapwiseError):
    """A wrong command or option (exit 2)."""

    exit_code = 2


@click.group(cls=LazyGroup, invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--data",
    metavar="DIR",
    envvar="LAPWISE_DATA",
    expose_value=False,
    callback=keep_given,
    help="Folder of your own files and record.",
)
@click.option("--touch", is_flag=True, help="Large targets for a touch screen.")
@click.version_option(package_name="lapwise")
@click.pass_context
def cli(ctx: click.Context, touch: bool) -> None:
    """What to try when a facet will not polish, which way to nudge the stone, and what worked before.

    Without a command: the terminal screens.

    Every command takes --json and --data. Answers go to stdout, messages to stderr; with --json an error is
    one object on the last line of stderr. Exit codes: 0 done, 1 nothing found or no advice possible, 2 bad input, 3 a
    damaged file or record.
    """
    if ctx.invoked_subcommand is None:
        open_screens(data_given(), touch=touch)


def open_screens(data: str | None, touch: bool = False) -> None:
    """Run the screens until the person leaves. Raises :class:`BadInput` (exit 2) where there is no terminal."""
    in_browser = "TEXTUAL_DRIVER" in os.environ
    if not in_browser and not (sys.stdin.isatty() and sys.stdout.isatty()):
        what = "the screens need a terminal; every answer is also a plain command: see lapwise --help"
        raise BadInput(Issue(what))
    # Textual paints on a beat of 60 a second; on one of 120 an answer waits half as long for its turn
    os.environ.setdefault("TEXTUAL_FPS", "120")
    from lapwise.engine.folders import folders  # start-up time
    from lapwise.tui.app import LapwiseApp  # start-up time

    LapwiseApp(folders(data), touch=touch).run()


def main(argv: Sequence[str] | None = None) -> None:
    """Entry point. Owns the exit codes: 0 done, 1 nothing found, 2 bad input, 3 damaged file or record."""
    args: list[str] = list(sys.argv[1:] if argv is None else argv)
    as_json = "--json" in args
    ready_streams()
    try:
        code = _run(args)
        sys.stdout.flush()  # a full disk must show here, not after the exit code is settled
    except LapwiseError as error:
        code = report_error(error, as_json=as_json)
    except click.exceptions.Abort:
        code = 130
    except click.exceptions.NoArgsIsHelpError as error:
        code = report_error(_no_command(error), as_json=as_json)
    except click.ClickException as error:
        code = report_click_error(error, as_json=as_json)
    except BrokenPipeError:
        _leave_pipe()
        code = 0
    except OSError as error:
        where = str(getattr(error, "filename", "") or "")
        code = report_error(LapwiseErrorUsage(Issue(error.strerror or str(error), where)), as_json=as_json)
    sys.exit(code)


def _run(args: list[str]) -> int:
    """Run one command and return its exit code; a reader that closed its end shows as ``BrokenPipeError``."""
    out = sys.stdout
    try:
        result: Any = cli.main(args=args, prog_name="lapwise", standalone_mode=False)
    except SystemExit:
        # click puts another stdout in place of a closed pipe and leaves with 1, which here means nothing found
        if sys.stdout is out:
            raise
        sys.stdout = out
        raise BrokenPipeError from None
    return result if isinstance(result, int) else 0


def _leave_pipe() -> None:
    """Nobody reads any more: let what is still buffered go nowhere, so that leaving says nothing about it."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _no_command(error: click.exceptions.NoArgsIsHelpError) -> LapwiseErrorUsage:
    """A group called without a command: which there are."""
    context = error.ctx
    group = context.command if context is not None else None
    names = tuple(group.list_commands(context)) if context is not None and isinstance(group, click.Group) else ()
    return LapwiseErrorUsage(Issue("say which command", context.command_path if context else "lapwise", "", names))
