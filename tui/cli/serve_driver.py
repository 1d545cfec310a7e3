"""How the screens speak with the server of `lapwise serve`: Textual's own way, but ending when the server is gone."""

from __future__ import annotations

import os
from contextlib import suppress
from typing import Any

from textual import messages
from textual.drivers.web_driver import WebDriver


class VisitDriver(WebDriver):
    """A killed server closes its end of the pipe; the screens then put their case away and leave."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._write = self._send  # type: ignore[assignment]

    def _send(self, data: bytes) -> None:
        # a server that is gone is no fault of the screens: what they keep, they keep without it
        with suppress(BrokenPipeError):
            os.write(self.fileno, data)

    def run_input_thread(self) -> None:
        """Read what the server sends; at its end the screens leave."""
        super().run_input_thread()
        self._app.post_message(messages.ExitApp())
