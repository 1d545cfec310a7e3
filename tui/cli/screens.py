"""`lapwise` without a command: the terminal screens."""

from __future__ import annotations

import os
import sys

from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.folders import folders


def open_screens(data: str | None, touch: bool = False) -> None:
    """Run the screens until the person leaves. Raises :class:`BadInput` (exit 2) where there is no terminal."""
    in_browser = "TEXTUAL_DRIVER" in os.environ
    if not in_browser and not (sys.stdin.isatty() and sys.stdout.isatty()):
        what = "the screens need a terminal; every answer is also a plain command: see lapwise --help"
        raise BadInput(Issue(what))
    # Textual paints on a beat of 60 a second; on one of 120 an answer waits half as long for its turn
    os.environ.setdefault("TEXTUAL_FPS", "120")
    from lapwise.tui.app import LapwiseApp  # start-up time

    LapwiseApp(folders(data), touch=touch).run()
