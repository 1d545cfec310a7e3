"""`lapwise serve`: the same screens in a browser, for a tablet at the machine. Nothing is fetched from elsewhere."""

from __future__ import annotations

import ipaddress
import secrets
import sys
from collections.abc import Iterable

import click

from lapwise.engine.errors import BadInput, Issue
from lapwise.tui.cli.output import common, note, say_json

OWN = ("127.0.0.1", "localhost", "::1")
ANY = ("0.0.0.0", "::")
PORT = 8473
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
_WORD_LETTERS = 12
"""Letters of the word in the address: 59 bits, and nothing that can be mistaken for another when typed."""


@click.command("serve")
@click.option("--host", default="127.0.0.1", show_default=True, metavar="ADDRESS", help="Address to listen at.")
@click.option("--port", default=PORT, show_default=True, type=click.IntRange(1, 65535), help="Port to listen at.")
@click.option("--name", "names", multiple=True, metavar="NAME", help="A further name others reach this computer by.")
@click.option("--yes", is_flag=True, help="Listen at an address that others can reach.")
@common
@click.pass_context
def command(
    context: click.Context, host: str, port: int, names: tuple[str, ...], yes: bool, as_json: bool, data: str | None
) -> int:
    """Show the screens in a browser, with large targets for a tablet.

    At 127.0.0.1 only this computer can reach it. Any other address needs --yes; the address then ends in a word
    without which nobody gets in. With --json the address stands on stdout as {"url": ...} before the first page is
    shown.
    """
    if not _loopback(host) and not yes:
        what = "others on that network could try to reach your record: add --yes if that is what you want"
        raise BadInput(Issue(what, "lapwise serve --host", host, ("127.0.0.1",)))
    try:
        from lapwise.tui.cli.serve_pages import server
    except ImportError:
        what = "the browser part is not installed; install it with: pip install 'lapwise[serve]'"
        raise BadInput(Issue(what, "lapwise serve")) from None
    outer = context.obj if isinstance(context.obj, dict) else {}
    word = None if _loopback(host) else new_word()
    url = f"http://{_at(_reachable(host), port)}/" + (f"?word={word}" if word else "")
    note(f"lapwise: open {url} in a browser; ctrl+c ends it")
    if word:
        note(
            "lapwise: careful: whoever has this whole address can read and write your record. The network carries it "
            "unencrypted: use one you trust. The word is a new one at every start."
        )
    if as_json:
        say_json({"url": url})
        sys.stdout.flush()
    server(screens_command(data or outer.get("data")), host, port, names, word).serve()
    return 0


def screens_command(data: str | None) -> tuple[str, ...]:
    """The words of the command that starts the screens for one browser.

    ``-P``: a ``sqlite3.py`` that lies in the folder it is started from is not taken for Python's own.
    """
    options = ["--touch", *(["--data", data] if data else [])]
    return (sys.executable, "-P", "-c", f"from lapwise.tui.cli.main import main; main({options!r})")


def new_word() -> str:
    """The word that opens the bench from elsewhere."""
    return "".join(secrets.choice(_LETTERS) for _ in range(_WORD_LETTERS))


def allowed_hosts(host: str, port: int, names: Iterable[str] = ()) -> frozenset[str]:
    """The names this server answers to: a page of another site must not reach it by a name of its own.

    As browsers write them: with the port, save the usual one (80).
    """
    import socket

    if _loopback(host):
        found = {host, *OWN, *names}
    else:
        computer = socket.gethostname()
        found = {computer, f"{computer}.local", *names} | (set() if host in ANY else {host})
    return frozenset(written for name in found for written in spellings(name.lower(), port))


def spellings(name: str, port: int) -> tuple[str, ...]:
    """How a browser may write this name or address at this port."""
    return (_at(name, port), _bracketed(name)) if port == 80 else (_at(name, port),)


def reached_properly(named: str, origin: str | None, hosts: Iterable[str]) -> bool:
    """True for a request by one of our names and, where the browser says so, from a page of ours."""
    return named.lower() in hosts and (origin is None or origin.lower() == f"http://{named.lower()}")


def _loopback(host: str) -> bool:
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _reachable(host: str) -> str:
    """What to type on another device: the computer's name where it listens at all its addresses."""
    import socket

    return socket.gethostname() if host in ANY else host


def _bracketed(name: str) -> str:
    return f"[{name}]" if ":" in name else name


def _at(name: str, port: int) -> str:
    return f"{_bracketed(name)}:{port}"
