"""A headless Chromium, driven over its debugging socket: enough to tap, read the address of every request, and look."""

from __future__ import annotations

import asyncio
import base64
import contextlib
import json
import math
import re
import shutil
import tempfile
from pathlib import Path
from typing import Any

import aiohttp

FLAGS = (
    "--headless",
    "--hide-scrollbars",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--remote-debugging-port=0",
)

_SCREEN = "(b => b.width + ' ' + b.height)(document.querySelector('.xterm-screen').getBoundingClientRect())"


def chromium() -> str | None:
    """The browser's path, or None where there is none."""
    return shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


class Browser:
    """One page. ``requests``: the address of every request the page made; ``grid``: columns and lines the page
    last told the program it has room for."""

    def __init__(self, width: int = 1000, height: int = 700) -> None:
        self.size = (width, height)
        self.requests: list[str] = []
        self.grid = (0, 0)
        self._id = 0
        self._answers: dict[int, asyncio.Future[Any]] = {}

    async def __aenter__(self) -> Browser:
        self._folder = tempfile.mkdtemp(prefix="lapwise-chromium-")
        path = chromium()
        assert path is not None
        width, height = self.size
        self._process = await asyncio.create_subprocess_exec(
            path,
            *FLAGS,
            f"--user-data-dir={self._folder}",
            f"--window-size={width},{height}",
            "about:blank",
            stderr=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.DEVNULL,
        )
        assert self._process.stderr is not None
        while True:
            line = (await asyncio.wait_for(self._process.stderr.readline(), 30)).decode(errors="replace")
            if found := re.search(r"ws://127\.0\.0\.1:(\d+)/", line):
                port = found[1]
                break
            assert line, "Chromium did not start"
        self._session = aiohttp.ClientSession()
        async with self._session.get(f"http://127.0.0.1:{port}/json/list") as response:
            pages = json.loads(await response.text())
        address = next(p["webSocketDebuggerUrl"] for p in pages if p["type"] == "page")
        self._socket = await self._session.ws_connect(address, max_msg_size=0)
        self._reader = asyncio.create_task(self._read())
        await self.send("Network.enable")
        await self.send("Page.enable")
        await self.resize(width, height)
        return self

    async def __aexit__(self, *_: object) -> None:
        self._reader.cancel()
        await self._socket.close()
        await self._session.close()
        self._process.kill()
        await self._process.wait()
        shutil.rmtree(self._folder, ignore_errors=True)

    async def _read(self) -> None:
        async for message in self._socket:
            data = json.loads(message.data)
            if "id" in data and (future := self._answers.pop(data["id"], None)) is not None:
                future.set_result(data.get("result", {}))
            elif data.get("method") == "Network.requestWillBeSent":
                self.requests.append(data["params"]["request"]["url"])
            elif data.get("method") == "Network.webSocketCreated":
                self.requests.append(data["params"]["url"])
            elif data.get("method") == "Network.webSocketFrameSent":
                self._sent(data["params"]["response"]["payloadData"])

    def _sent(self, payload: str) -> None:
        with contextlib.suppress(ValueError):
            match json.loads(payload):
                case ["resize", {"width": int(width), "height": int(height)}]:
                    self.grid = (width, height)

    async def send(self, method: str, **params: Any) -> Any:
        """One command to the browser and its answer."""
        self._id += 1
        future: asyncio.Future[Any] = asyncio.get_running_loop().create_future()
        self._answers[self._id] = future
        await self._socket.send_str(json.dumps({"id": self._id, "method": method, "params": params}))
        return await asyncio.wait_for(future, 30)

    async def resize(self, width: int, height: int) -> None:
        """Give the page so many pixels."""
        metrics = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
        await self.send("Emulation.setDeviceMetricsOverride", **metrics)
        self.size = (width, height)

    async def fit(self, columns: int, lines: int) -> tuple[float, float]:
        """Give the page room for just so many characters; returns the width and height of one, in pixels."""
        for _ in range(5):
            await self._settled()
            wide, high = (await self.evaluate(_SCREEN)).split()
            cell = (float(wide) / self.grid[0], float(high) / self.grid[1])
            if self.grid == (columns, lines):
                return cell
            await self.resize(math.ceil((columns + 0.5) * cell[0]), math.ceil((lines + 0.5) * cell[1]))
        raise AssertionError(f"the page has no room for {columns} by {lines} characters")

    async def _settled(self) -> None:
        """Wait until the page has told its room, and tells no other for half a second."""
        before, same = None, 0
        for _ in range(100):
            same = same + 1 if self.grid == before and all(self.grid) else 0
            if same == 5:
                return
            before = self.grid
            await asyncio.sleep(0.1)
        raise AssertionError("the page does not settle on a size")

    async def go(self, address: str) -> None:
        """Open a page."""
        await self.send("Page.navigate", url=address)

    async def evaluate(self, script: str) -> Any:
        """The value of a script."""
        result = await self.send("Runtime.evaluate", expression=script, returnByValue=True)
        return result.get("result", {}).get("value")

    async def tap(self, x: float, y: float) -> None:
        """A tap at a place of the page, in pixels."""
        for kind in ("mousePressed", "mouseReleased"):
            await self.send("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)
            await asyncio.sleep(0.05)

    async def finger(self, *places: tuple[float, float]) -> None:
        """A finger put down at the first place of the page, drawn over the others and lifted, in pixels."""
        await self.send("Emulation.setTouchEmulationEnabled", enabled=True)
        for at, (x, y) in enumerate(places):
            kind = "touchMove" if at else "touchStart"
            await self.send("Input.dispatchTouchEvent", type=kind, touchPoints=[{"x": x, "y": y}])
            await asyncio.sleep(0.05)
        await self.send("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])

    async def key(self, text: str) -> None:
        """Type one character."""
        await self.send("Input.insertText", text=text)

    async def screenshot(self, path: Path) -> bytes:
        """A picture of the page as PNG, written to ``path``."""
        data = base64.b64decode((await self.send("Page.captureScreenshot", format="png"))["data"])
        path.write_bytes(data)
        return data
