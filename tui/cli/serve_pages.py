"""The web server behind `lapwise serve`: textual-serve with a page of our own that fetches nothing from elsewhere."""

from __future__ import annotations

from aiohttp import web
from textual_serve.server import Server

from lapwise.tui.cli.serve import POLICY, allowed_hosts, page, reached_properly

SMALLEST, LARGEST, USUAL = 10, 40, 18


class OwnServer(Server):
    """Answers only to its own name and its own pages: the screens can write the record."""

    async def on_startup(self, app: web.Application) -> None:
        """Nothing more to say: the command said where it listens."""

    def initialize_logging(self) -> None:
        """Keep the terminal quiet: faults of the page are the browser's to show."""
        import logging

        logging.basicConfig(level="ERROR", format="lapwise serve: %(message)s")

    def _proper(self, request: web.Request) -> bool:
        hosts = allowed_hosts(self.host, self.port)
        return reached_properly(request, hosts, any_name=self.host in ("0.0.0.0", "::"))

    async def handle_index(self, request: web.Request) -> web.Response:
        """The page with the terminal."""
        if not self._proper(request):
            raise web.HTTPForbidden(text="not by this name")
        host = request.headers.get("Host", f"{self.host}:{self.port}")
        size = request.query.get("fontsize", str(USUAL))
        points = max(SMALLEST, min(LARGEST, int(size))) if size.isdigit() else USUAL
        headers = {
            "Content-Security-Policy": POLICY.format(host=host),
            "X-Content-Type-Options": "nosniff",
            "Referrer-Policy": "no-referrer",
            "Cache-Control": "no-store",
        }
        return web.Response(text=page(host, points), content_type="text/html", headers=headers)

    async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
        """The terminal itself; refused to pages of other sites."""
        if not self._proper(request):
            raise web.HTTPForbidden(text="not from this page")
        response: web.WebSocketResponse = await super().handle_websocket(request)
        return response


def server(command: str, host: str, port: int) -> OwnServer:
    """A server ready to run. ``command``: the shell line that starts the screens."""
    return OwnServer(command, host=host, port=port, title="Lapwise")
