"""A terminal of its own in tmux, to type and tap in as a person would, and to read what stands on it."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
import time
import uuid
from pathlib import Path

START = "from lapwise.tui.cli.main import main; main({options!r})"


class Terminal:
    """One tmux server with one pane that runs the screens. Use as a context manager."""

    def __init__(self, data: Path, *options: str, width: int = 80, height: int = 24) -> None:
        self._name = f"lapwise-test-{uuid.uuid4().hex[:10]}"
        self._data, self._options = data, options
        self._size = (width, height)

    def _tmux(self, *words: str) -> str:
        command = ["tmux", "-L", self._name, "-f", "/dev/null", *words]
        done = subprocess.run(command, capture_output=True, text=True, timeout=20, check=True)
        return done.stdout

    def __enter__(self) -> Terminal:
        width, height = self._size
        start = START.format(options=["--data", str(self._data), *self._options])
        paths = [p for p in (os.environ.get("PYTHONPATH", ""), str(Path(".dev").resolve())) if p]
        env = {"PYTHONPATH": os.pathsep.join(paths)}
        words = [f"{k}={shlex.quote(v)}" for k, v in env.items()]
        line = shlex.join(["env", "-u", "NO_COLOR", "-u", "COLUMNS", "-u", "LINES"]) + " " + " ".join(words)
        line += " " + shlex.join([sys.executable, "-c", start])
        self._tmux("new-session", "-d", "-x", str(width), "-y", str(height), line)
        return self

    def __exit__(self, *_: object) -> None:
        subprocess.run(["tmux", "-L", self._name, "kill-server"], capture_output=True, timeout=20, check=False)

    @property
    def process(self) -> int:
        """The process id of the program in the pane."""
        return int(self._tmux("display-message", "-p", "#{pane_pid}"))

    def text(self) -> str:
        """What stands on the screen."""
        return self._tmux("capture-pane", "-p")

    def wait(self, *words: str, seconds: float = 25.0, gone: bool = False) -> str:
        """Wait until all these words stand on the screen (or none of them); returns the screen."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            text = self.text()
            if all((word in text) != gone for word in words):
                return text
            time.sleep(0.05)
        raise AssertionError(f"{words} {'stayed' if gone else 'never came'}:\n{self.text()}")

    def keys(self, *names: str) -> None:
        """Press keys by tmux's names; ``=text`` types text."""
        for name in names:
            if name.startswith("="):
                self._tmux("send-keys", "-l", name[1:])
            else:
                self._tmux("send-keys", name)
            time.sleep(0.04)

    def click(self, word: str, *, row_of: str | None = None) -> None:
        """Click in the middle of a word on the screen (on the line that holds ``row_of``, if given)."""
        for y, line in enumerate(self.text().splitlines(), 1):
            if word in line and (row_of is None or row_of in line):
                self.click_at(line.index(word) + len(word) // 2 + 1, y)
                return
        raise AssertionError(f"{word} is not on the screen:\n{self.text()}")

    def click_at(self, x: int, y: int) -> None:
        """Press and release the mouse at a column and a line, from 1."""
        for end in "Mm":
            report = f"\x1b[<0;{x};{y}{end}".encode()
            self._tmux("send-keys", "-H", *[f"{byte:02x}" for byte in report])
            time.sleep(0.05)
        time.sleep(0.15)
