"""One visitor of `lapwise serve`: the process that runs the screens for a browser, and what that may say to it."""

from __future__ import annotations

import asyncio
import contextlib
import json
import re
from collections.abc import Sequence

from aiohttp import web
from textual_serve.app_service import AppService
from textual_serve.download_manager import DownloadManager

from lapwise.tui.screens.hand_over import VISIT

SMALLEST, MOST_COLUMNS, MOST_LINES = 10, 500, 200
"""A window's size in letters. Far more than any screen shows; memory grows with it (100,000 letters: some 100 MB)."""
PATIENCE = 2.0
"""Seconds a process has to put away its case before it is ended."""
_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f]")


class Visit(AppService):
    """The screens for one browser, in a process of their own that ends with it."""

    def __init__(self, command: Sequence[str], socket: web.WebSocketResponse, downloads: DownloadManager) -> None:
        super().__init__(
            "",
            write_bytes=socket.send_bytes,
            write_str=socket.send_str,
            close=self._close,
            download_manager=downloads,
        )
        self.words = tuple(command)
        self.socket = socket

    async def _close(self) -> None:
        await self.socket.close()

    async def _open_app_process(self, width: int = 80, height: int = 24) -> asyncio.subprocess.Process:
        environment = self._build_environment(width, height)
        environment["TEXTUAL_DRIVER"] = "lapwise.tui.cli.serve_driver:VisitDriver"
        environment[VISIT] = self.app_service_id
        pipe = asyncio.subprocess.PIPE
        # a session of its own: ctrl+c at the terminal reaches the server alone, which ends its visits in order
        self._process = await asyncio.create_subprocess_exec(
            *self.words, stdin=pipe, stdout=pipe, stderr=pipe, env=environment, start_new_session=True
        )
        self._stdin = self._process.stdin
        return self._process

    async def on_data(self, payload: bytes) -> None:
        """Pass on what is painted; a browser that has gone is no reason to stop reading."""
        with contextlib.suppress(ConnectionError, RuntimeError):
            await super().on_data(payload)

    async def stop(self) -> None:
        """End the process: it may put its case away, and is ended if that takes too long."""
        task, self._task = self._task, None
        process = self._process
        if task is None or process is None:
            return
        try:
            async with asyncio.timeout(PATIENCE):
                await self._download_manager.cancel_app_downloads(app_service_id=self.app_service_id)
                await self.send_meta({"type": "quit"})
                await task
        except TimeoutError:
            pass
        finally:
            if process.returncode is None:
                with contextlib.suppress(ProcessLookupError):
                    process.kill()
            await process.wait()

    async def hand_in(self, text: str) -> None:
        """Give the screens a text as if it had been pasted; nothing in it can act as a key."""
        plain = _CONTROL.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))
        await self.send_bytes(b"\x1b[200~" + plain.encode("utf-8", "replace") + b"\x1b[201~")

    async def hear(self, message: str) -> str | None:
        """Do what a message of the browser says. Answers with what to send back, or None.

        Raises ``ValueError`` for what no page of ours sends.
        """
        try:
            kind, *rest = json.loads(message)
            if kind == "stdin":
                await self.send_bytes(str(rest[0]).encode("utf-8", "replace"))
            elif kind == "resize":
                await self.set_terminal_size(*size(rest[0]["width"], rest[0]["height"]))
            elif kind == "ping":
                return json.dumps(["pong", str(rest[0])])
            elif kind in ("blur", "focus"):
                await (self.blur() if kind == "blur" else self.focus())
        except (TypeError, LookupError, RecursionError) as error:
            raise ValueError(str(error)) from None
        return None


def size(width: object, height: object) -> tuple[int, int]:
    """A window's size within the limits. Raises ``ValueError`` for what is no number."""
    columns, lines = (_whole(value) for value in (width, height))
    return max(SMALLEST, min(MOST_COLUMNS, columns)), max(SMALLEST, min(MOST_LINES, lines))


def _whole(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int | str) or len(str(value)) > 9:
        raise ValueError("a number of letters is required")
    return int(value)
