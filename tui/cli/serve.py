"""`lapwise serve`: the same screens in a browser, for a tablet at the machine. Nothing is fetched from elsewhere."""

from __future__ import annotations

import html
import shlex
import sys
from typing import TYPE_CHECKING, Any

import click

from lapwise.engine.errors import BadInput, Issue
from lapwise.tui.cli.output import common, note, say_json

if TYPE_CHECKING:
    from aiohttp import web

OWN = ("127.0.0.1", "localhost", "::1")
PORT = 8473
PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Lapwise</title>
<link rel="stylesheet" href="/static/css/xterm.css">
<script src="/static/js/textual.js"></script>
<link rel="preload" href="/static/fonts/RobotoMono-VariableFont_wght.ttf" as="font" type="font/ttf" crossorigin>
<style>
@font-face {{ font-family: "Roboto Mono"; src: url("/static/fonts/RobotoMono-VariableFont_wght.ttf"); }}
html, body {{ margin: 0; height: 100%; background: #10100e; color: #ece8dd; font: 20px sans-serif; }}
#wait {{ font-family: "Roboto Mono"; }}
#wait, #ended {{ position: absolute; inset: 0; display: flex; align-items: center; justify-content: center; }}
#ended {{ display: none; flex-direction: column; gap: 1em; background: #10100e; z-index: 2; }}
#ended a {{ color: #10100e; background: #86cfc3; padding: 1em 2em; text-decoration: none; }}
body.-first-byte #wait {{ display: none; }}
body.-closed #ended {{ display: flex; }}
</style>
</head>
<body>
<div id="wait">One moment, the bench is being laid out.</div>
<div id="ended"><div>Closed. The case stays as it is.</div><a href="/">Open again</a></div>
<div id="terminal" class="textual-terminal" data-session-websocket-url="ws://{host}/ws" data-font-size="{size}"></div>
</body>
</html>
"""
POLICY = (
    "default-src 'self'; style-src 'self' 'unsafe-inline'; script-src 'self'; img-src 'self' data:; "
    "font-src 'self' data:; connect-src 'self' ws://{host}; frame-ancestors 'none'; form-action 'none'"
)


@click.command("serve")
@click.option("--host", default="127.0.0.1", show_default=True, metavar="ADDRESS", help="Address to listen at.")
@click.option("--port", default=PORT, show_default=True, type=click.IntRange(1, 65535), help="Port to listen at.")
@click.option("--yes", is_flag=True, help="Listen at an address that others can reach.")
@common
@click.pass_context
def command(context: click.Context, host: str, port: int, yes: bool, as_json: bool, data: str | None) -> int:
    """Show the screens in a browser, with large targets for a tablet.

    There is no password. At 127.0.0.1 only this computer can reach it; any other address needs --yes. With --json the
    address stands on stdout as {"url": ...} before the first page is shown.
    """
    if host not in OWN and not yes:
        what = "anyone on that network could read and write your record: add --yes if that is what you want"
        raise BadInput(Issue(what, "lapwise serve --host", host, ("127.0.0.1",)))
    try:
        from lapwise.tui.cli.serve_pages import server
    except ImportError:
        what = "the browser part is not installed; install it with: pip install 'lapwise[serve]'"
        raise BadInput(Issue(what, "lapwise serve")) from None
    outer = context.obj if isinstance(context.obj, dict) else {}
    note(f"lapwise: open http://{host}:{port} in a browser; ctrl+c ends it")
    if host not in OWN:
        note("lapwise: careful: there is no password. Anyone on that network can read and write your record.")
    if as_json:
        say_json({"url": f"http://{host}:{port}"})
        sys.stdout.flush()
    server(screens_command(data or outer.get("data")), host, port).serve()
    return 0


def screens_command(data: str | None) -> str:
    """The shell line that starts the screens for one browser."""
    options = ["--touch", *(["--data", data] if data else [])]
    start = f"from lapwise.tui.cli.main import main; main({options!r})"
    return shlex.join([sys.executable, "-c", start])


def page(host: str, size: int) -> str:
    """The page that holds the terminal. ``host``: as the browser knows it, with the port."""
    return PAGE.format(host=html.escape(host, quote=True), size=size)


def allowed_hosts(host: str, port: int) -> frozenset[str]:
    """The names this server answers to: a page of another site must not reach it by a name of its own."""
    names = {host, *OWN} if host in OWN else {host}
    return frozenset(f"[{name}]:{port}" if ":" in name else f"{name}:{port}" for name in names)


def reached_properly(request: web.Request | Any, hosts: frozenset[str], *, any_name: bool) -> bool:
    """True for a request by one of our names and, where the browser says so, from a page of ours."""
    named = any_name or request.headers.get("Host", "") in hosts
    origin = request.headers.get("Origin")
    return named and (origin is None or origin == f"http://{request.headers.get('Host', '')}")
