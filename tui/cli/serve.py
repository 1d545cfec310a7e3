"""`lapwise serve`: the same screens in a browser, for a tablet at the machine. Nothing is fetched from elsewhere."""

from __future__ import annotations

import sys

import click

from lapwise.engine.errors import BadInput, Issue
from lapwise.tui.cli.output import Command, data_given, note, say_json, wants_json
from lapwise.tui.cli.serve_names import at, loopback, new_word, reachable

PORT = 8473


@click.command("serve", cls=Command)
@click.option("--host", default="127.0.0.1", show_default=True, metavar="ADDRESS", help="Address to listen at.")
@click.option("--port", default=PORT, show_default=True, type=click.IntRange(1, 65535), help="Port to listen at.")
@click.option(
    "--name", "names", multiple=True, metavar="NAME", help="Another name by which others reach this computer."
)
@click.option("--yes", is_flag=True, help="Listen at an address that others can reach.")
def command(host: str, port: int, names: tuple[str, ...], yes: bool) -> None:
    """Show the screens in a browser, with large targets for a tablet.

    At 127.0.0.1 only this computer can reach it. Any other address needs --yes; the address then ends in a word
    without which nobody gets in. With --json the address stands on stdout as {"url": ...} before the first page is
    shown.
    """
    if not loopback(host) and not yes:
        what = "others on that network could try to reach your record: add --yes if that is what you want"
        raise BadInput(Issue(what, "lapwise serve --host", host, ("127.0.0.1",)))
    try:
        from lapwise.tui.cli.serve_pages import server  # start-up time
    except ImportError:
        what = "the browser part is not installed; install it with: pip install 'lapwise[serve]'"
        raise BadInput(Issue(what, "lapwise serve")) from None
    word = None if loopback(host) else new_word()
    url = f"http://{at(reachable(host), port)}/" + (f"?word={word}" if word else "")
    note(f"lapwise: open {url} in a browser; ctrl+c ends it")
    if word:
        note(
            "lapwise: careful: whoever has this whole address can read and write your record. The network carries it "
            "unencrypted: use one you trust. The word changes at every start."
        )
    if wants_json():
        say_json({"url": url})
        sys.stdout.flush()
    server(screens_command(data_given()), host, port, names, word).serve()


def screens_command(data: str | None) -> tuple[str, ...]:
    """The words of the command that starts the screens for one browser.

    ``-P``: a ``sqlite3.py`` that lies in the folder it is started from is not taken for Python's own.
    """
    options = ["--touch", *(["--data", data] if data else [])]
    return (sys.executable, "-P", "-c", f"from lapwise.tui.cli.main import main; main({options!r})")
