"""The web server behind `lapwise serve`: textual-serve with pages of our own that fetch nothing from elsewhere."""

from __future__ import annotations

import asyncio
import html
import secrets
import signal
from collections.abc import Awaitable, Callable, Iterable, Sequence
from http import HTTPStatus
from importlib.resources import files

from aiohttp import WSCloseCode, WSMsgType, web
from textual_serve.server import Server

from lapwise.engine.transfer.rows import decode
from lapwise.tui.cli.serve_names import ANY, allowed_hosts, reached_properly, spellings
from lapwise.tui.cli.serve_visit import Visit, size

SMALLEST, LARGEST, USUAL = 10, 40, 18
"""Letters of the page in pixels."""
MOST_VISITS = 8
"""Browsers at once: each is a process of some 100 MB, and one bench has one or two tablets."""
MOST_MESSAGE = 256_000
"""Bytes of one message of a browser: a large paste."""
MOST_FILE = 1_000_000
"""Bytes of a file that a visitor sends."""
HEAD = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Lapwise</title>
"""
PAGE = (
    HEAD
    + """<link rel="stylesheet" href="/static/css/xterm.css">
<script src="/static/js/textual.js"></script>
<script src="/touch.js" defer></script>
<link rel="preload" href="/static/fonts/RobotoMono-VariableFont_wght.ttf" as="font" type="font/ttf" crossorigin>
<style>
@font-face {{ font-family: "Roboto Mono"; src: url("/static/fonts/RobotoMono-VariableFont_wght.ttf"); }}
html, body {{ margin: 0; height: 100%; background: #10100e; color: #ece8dd; font: 20px sans-serif; }}
body {{ overflow: hidden; overscroll-behavior: none; touch-action: none; }}
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
<div id="terminal" class="textual-terminal" data-session-websocket-url="ws://{host}/ws" data-font-size="{points}"></div>
</body>
</html>
"""
)
PLAIN = (
    HEAD
    + """<style>
body {{ margin: 0 auto; max-width: 32em; padding: 2em; background: #10100e; color: #ece8dd; font: 20px sans-serif; }}
input, button {{ font: inherit; margin: 0.5em 0; display: block; }}
</style>
</head>
<body>{body}</body>
</html>
"""
)
LOCKED = (
    "<p>This bench is locked.</p><p>Open it by the whole address that <code>lapwise serve</code> printed, with the "
    "word behind the question mark. The word is a new one each time it is started.</p>"
)
MISNAMED = (
    "<p>This bench does not answer to that name.</p><p>Use the address that <code>lapwise serve</code> printed, or "
    "start it with <code>--name</code> and the name you use.</p>"
)
FULL = f"<p>{MOST_VISITS} browsers are open already. Close one, then load this page again.</p>"
TAKE = """<p>Send a file to the bench: what the screen asks for, a table (CSV) or the rows of a record (.jsonl).</p>
<form method="post" enctype="multipart/form-data">
<input type="file" name="file" accept=".csv,.txt,.jsonl,text/csv" required><button>Send it</button>
</form>"""
TOO_LARGE = (
    f"<p>That file is larger than {MOST_FILE // 1_000_000} MB: nothing of it was taken. Take it in at the bench "
    "itself, with <code>lapwise record import FILE</code>.</p>"
)
TAKEN = "<p>The bench has it. Close this tab.</p>"
POLICY = (
    "default-src 'self'; style-src 'self' 'unsafe-inline'; script-src 'self'; img-src 'self' data:; "
    "font-src 'self' data:; connect-src 'self' {socket}; frame-ancestors 'none'; form-action 'self'; base-uri 'none'"
)
Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


class OwnServer(Server):
    """Answers only to its own names and pages, and from elsewhere only to the word: the screens write the record."""

    def __init__(self, command: Sequence[str], host: str, port: int, names: Iterable[str], word: str | None) -> None:
        super().__init__("", host=host, port=port, title="Lapwise")
        self.words = tuple(command)
        self.hosts = allowed_hosts(host, port, names)
        self.word = word
        self.visits: dict[str, Visit] = {}

    def initialize_logging(self) -> None:
        """Keep the terminal quiet: faults of the page are the browser's to show."""
        import logging

        logging.basicConfig(level="ERROR", format="lapwise serve: %(message)s")

    async def on_startup(self, app: web.Application) -> None:
        """A terminal that is closed ends the server as ctrl+c does; the command has said where it listens."""
        if hasattr(signal, "SIGHUP"):
            asyncio.get_running_loop().add_signal_handler(signal.SIGHUP, self.request_exit)

    async def on_shutdown(self, app: web.Application) -> None:
        """Nothing stays: every visit ends, with its process."""
        visits = tuple(self.visits.values())
        await asyncio.gather(*(visit.stop() for visit in visits))
        await asyncio.gather(*(visit.socket.close(code=WSCloseCode.GOING_AWAY) for visit in visits))

    def serve(self, debug: bool = False) -> None:
        """Answer until ctrl+c, or until it is ended otherwise."""
        self.initialize_logging()
        web.run_app(self._make_app(), host=self.host, port=self.port, print=None, shutdown_timeout=1.0)

    async def _make_app(self) -> web.Application:
        app: web.Application = await super()._make_app()
        app.middlewares.append(self._guard)
        app.router.add_get("/touch.js", self.handle_touch)
        app.router.add_get("/take/{visit}", self.handle_take)
        app.router.add_post("/take/{visit}", self.handle_taken)
        return app

    @web.middleware
    async def _guard(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        named = request.headers.get("Host", "")
        if not reached_properly(named, request.headers.get("Origin"), self.hosts | self._own_address(request)):
            return self._plain(MISNAMED, HTTPStatus.FORBIDDEN)
        if self.word is None:
            return await handler(request)
        given = request.query.get("word")
        if not _same(given or request.cookies.get(self._cookie, ""), self.word):
            return self._plain(LOCKED, HTTPStatus.FORBIDDEN)
        answer = await handler(request)
        if given and not answer.prepared:
            answer.set_cookie(self._cookie, self.word, httponly=True, samesite="Strict")
        return answer

    @property
    def _cookie(self) -> str:
        return f"lapwise-{self.port}"

    def _own_address(self, request: web.Request) -> frozenset[str]:
        """The address a request came in at, where we listen at all: no other site can take an address for a name."""
        if self.host not in ANY or request.transport is None:
            return frozenset()
        address = str(request.transport.get_extra_info("sockname")[0]).removeprefix("::ffff:")
        return frozenset(spellings(address, self.port))

    def _plain(self, body: str, status: int = HTTPStatus.OK) -> web.Response:
        return self._response(PLAIN.format(body=body), status)

    def _response(self, text: str, status: int = HTTPStatus.OK, *, socket: str = "") -> web.Response:
        headers = {
            "Content-Security-Policy": POLICY.format(socket=socket),
            "X-Content-Type-Options": "nosniff",
            "Referrer-Policy": "no-referrer",
            "Cache-Control": "no-store",
        }
        return web.Response(text=text, content_type="text/html", headers=headers, status=status)

    # --- pages -----------------------------------------------------------------------------------------------

    async def handle_index(self, request: web.Request) -> web.Response:
        """The page with the terminal."""
        if len(self.visits) >= MOST_VISITS:
            return self._plain(FULL, HTTPStatus.SERVICE_UNAVAILABLE)
        host = request.headers["Host"]
        return self._response(page(host, request.query.get("fontsize", "")), socket=f"ws://{host}")

    async def handle_touch(self, request: web.Request) -> web.Response:
        """What makes a finger's drag one of the mouse."""
        script = files("lapwise.tui.cli").joinpath("touch.js").read_text(encoding="utf-8")
        return web.Response(text=script, content_type="text/javascript", headers={"Cache-Control": "no-store"})

    async def handle_take(self, request: web.Request) -> web.Response:
        """The page on which a visitor chooses a file of the own device."""
        self._visit(request)
        return self._plain(TAKE)

    async def handle_taken(self, request: web.Request) -> web.Response:
        """The file itself: it goes to the screens as if it had been pasted, and nowhere else."""
        visit = self._visit(request)
        try:
            file = (await request.post()).get("file")
        except web.HTTPRequestEntityTooLarge:
            return self._plain(TOO_LARGE, HTTPStatus.REQUEST_ENTITY_TOO_LARGE)
        if not isinstance(file, web.FileField):
            raise web.HTTPBadRequest(text="no file was sent")
        raw = file.file.read(MOST_FILE + 1)
        if len(raw) > MOST_FILE:
            return self._plain(TOO_LARGE, HTTPStatus.REQUEST_ENTITY_TOO_LARGE)
        await visit.hand_in(decode(raw))
        return self._plain(TAKEN)

    def _visit(self, request: web.Request) -> Visit:
        visit = self.visits.get(request.match_info["visit"])
        if visit is None:
            raise web.HTTPNotFound(text="this bench is closed: open it again")
        return visit

    async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
        """The terminal itself, for as long as the browser shows it."""
        try:
            window = size(request.query.get("width", "80"), request.query.get("height", "24"))
        except ValueError:
            raise web.HTTPBadRequest(text="no such window") from None
        if len(self.visits) >= MOST_VISITS:
            raise web.HTTPServiceUnavailable(text="too many browsers")
        socket = web.WebSocketResponse(heartbeat=15, max_msg_size=MOST_MESSAGE, timeout=1.0)
        visit = Visit(self.words, socket, self.download_manager)
        self.visits[visit.app_service_id] = visit
        try:
            await socket.prepare(request)
            await visit.start(*window)
            await self._listen(socket, visit)
        finally:
            self.visits.pop(visit.app_service_id, None)
            await visit.stop()
        return socket

    async def _listen(self, socket: web.WebSocketResponse, visit: Visit) -> None:
        async for message in socket:
            if message.type != WSMsgType.TEXT:
                continue
            try:
                answer = await visit.hear(message.data)
            except ValueError:
                await socket.close(code=WSCloseCode.POLICY_VIOLATION)
                return
            if answer is not None:
                await socket.send_str(answer)


def page(host: str, size: str = "") -> str:
    """The page that holds the terminal. ``host``: as the browser knows it, with the port; ``size``: letters, pixels."""
    number = int(size) if size.isascii() and size.isdigit() and len(size) < 4 else USUAL
    points = max(SMALLEST, min(LARGEST, number))
    return PAGE.format(host=html.escape(host, quote=True), points=points)


def _same(given: str, word: str) -> bool:
    return secrets.compare_digest(given.encode("utf-8", "replace"), word.encode())


def server(
    command: Sequence[str], host: str, port: int, names: Iterable[str] = (), word: str | None = None
) -> OwnServer:
    """A server ready to run. ``command``: what starts the screens; ``word``: asked for in the address, or None."""
    return OwnServer(command, host, port, names, word)
