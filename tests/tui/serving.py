"""A running `lapwise serve` and a browser's side of its terminal, without a browser."""

from __future__ import annotations

import asyncio
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import aiohttp

ROOT = Path(__file__).parents[2]
_ESCAPE = re.compile(r"\x1b\[[0-9;?<>=$]*[a-zA-Z]")


def free_port() -> int:
    """A port nobody listens at."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


class Serving:
    """The process of the server. ``url``: as it printed it."""

    def __init__(self, process: subprocess.Popen[str], url: str) -> None:
        self.process, self.url = process, url

    def end(self, by: int = signal.SIGINT, seconds: float = 8.0) -> float:
        """Send a signal and wait for the end; seconds it took. Raises ``TimeoutExpired``."""
        began = time.monotonic()
        self.process.send_signal(by)
        self.process.wait(seconds)
        return time.monotonic() - began

    def children(self) -> list[int]:
        """The processes started by the server."""
        found = subprocess.run(
            ["ps", "-o", "pid=", "--ppid", str(self.process.pid)], capture_output=True, text=True, check=False
        )
        return [int(word) for word in found.stdout.split() if _runs(int(word))]


def _runs(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


async def gone(pids: list[int], seconds: float = 8.0) -> bool:
    """Whether all these processes end within the time."""
    ends = time.monotonic() + seconds
    while any(_runs(pid) for pid in pids):
        if time.monotonic() > ends:
            return False
        await asyncio.sleep(0.05)
    return True


@contextmanager
def serving(data: Path, *options: str, folder: Path | None = None) -> Iterator[Serving]:
    """A running server on ``data``, started in ``folder``; it is ended at the end, if it has not ended."""
    words = ["--data", str(data), "serve", "--port", str(free_port()), "--json", *options]
    env = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES", "NO_COLOR")}
    env["PYTHONPATH"] = str(ROOT / ".dev")
    process = subprocess.Popen(
        [sys.executable, "-P", "-c", f"from lapwise.tui.cli.main import main; main({words!r})"],
        env=env,
        cwd=folder,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    assert process.stdout is not None
    try:
        url = json.loads("".join(iter(process.stdout.readline, "}\n")) + "}")["url"]
        port = int(url.partition("://")[2].rpartition(":")[2].split("/")[0])
        for _ in range(200):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.05)
        else:
            raise AssertionError("the server did not start")
        yield Serving(process, url)
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
        process.stdout.close()


class Tab:
    """The terminal of one browser tab. ``text``: all that was painted so far; ``told``: messages to the page."""

    def __init__(self, session: aiohttp.ClientSession, url: str, width: str = "100", height: str = "38") -> None:
        self._session = session
        self._address = f"{url.partition('?')[0].rstrip('/')}/ws?width={width}&height={height}"
        self.text, self.told = "", []  # type: tuple[str, list[Any]]
        self.closed = asyncio.Event()

    async def __aenter__(self) -> Tab:
        self._socket = await self._session.ws_connect(self._address, max_msg_size=0)
        self._reader = asyncio.create_task(self._read())
        return self

    async def __aexit__(self, *_: object) -> None:
        await self._socket.close()
        await self._reader

    async def _read(self) -> None:
        async for message in self._socket:
            if message.type == aiohttp.WSMsgType.TEXT:
                self.told.append(json.loads(message.data))
            elif message.type == aiohttp.WSMsgType.BINARY:
                self.text += _ESCAPE.sub("", message.data.decode("utf-8", "replace"))
        self.closed.set()

    async def send(self, *message: object) -> None:
        """One message as the page sends it."""
        await self._socket.send_str(json.dumps(message))

    async def keys(self, *keys: str) -> None:
        """Keys, one after the other."""
        for key in keys:
            await self.send("stdin", key)
            await asyncio.sleep(0.2)

    async def sees(self, words: str, seconds: float = 20.0) -> None:
        """Wait until these words were painted since the last :meth:`forget`."""
        ends = time.monotonic() + seconds
        while words not in self.text:
            assert time.monotonic() < ends, f"{words!r} is not among {self.text[-3000:]!r}"
            await asyncio.sleep(0.05)

    async def hears(self, kind: str, seconds: float = 10.0) -> Any:
        """Wait for a message to the page of this kind; what it says."""
        ends = time.monotonic() + seconds
        while not (found := [m[1] for m in self.told if m[0] == kind]):
            assert time.monotonic() < ends, f"{kind} was not said: {self.told}"
            await asyncio.sleep(0.05)
        return found[0]

    def forget(self) -> None:
        """What was painted so far counts no more."""
        self.text = ""
