"""The screens in a browser: headless Chromium, taps alone, nothing fetched from elsewhere; and who may reach them."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from click.testing import CliRunner

from lapwise.engine.errors import BadInput
from lapwise.engine.folders import Folders
from lapwise.engine.record.store import Record

pytest.importorskip("textual_serve", reason="textual-serve is not installed: the browser runs left out")

from tests.tui.browser import Browser, chromium

from lapwise.tui.cli.serve import allowed_hosts, command, page, reached_properly, screens_command

COLUMNS, LINES = 100, 38
CELL = (10, 20)
"""Pixels of one character at the page's usual size."""


@pytest.fixture
def port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@pytest.fixture
def served(where: Folders, port: int, request: pytest.FixtureRequest) -> Iterator[str]:
    """The address of a running server on the test's own folder."""
    start = (
        f"from lapwise.tui.cli.main import main; main({['--data', str(where.data), 'serve', '--port', str(port)]!r})"
    )
    env = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES", "NO_COLOR")}
    env["PYTHONPATH"] = os.pathsep.join(
        p for p in (env.get("PYTHONPATH", ""), str(request.config.rootpath / ".dev")) if p
    )
    process = subprocess.Popen([sys.executable, "-c", start], env=env, stderr=subprocess.PIPE)
    try:
        for _ in range(200):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        else:
            raise AssertionError("the server did not start")
        yield f"http://127.0.0.1:{port}"
    finally:
        process.send_signal(signal.SIGINT)
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()


def outcomes(where: Folders) -> list[str]:
    """The outcomes of the newest case on disk."""
    if not where.record.exists():
        return []
    with Record.open(where, readonly=True) as record:
        last = record.last_case()
        return [] if last is None else [outcome for _, outcome in last.case.tried]


def symptoms(where: Folders) -> tuple[str, ...]:
    """What is seen in the newest case on disk."""
    if not where.record.exists():
        return ()
    with Record.open(where, readonly=True) as record:
        last = record.last_case()
        return () if last is None else last.case.symptoms


async def soon(holds: Callable[[], bool], seconds: float = 6.0) -> bool:
    """Whether it comes true within the time."""
    for _ in range(int(seconds * 10)):
        if holds():
            return True
        await asyncio.sleep(0.1)
    return False


@pytest.mark.skipif(chromium() is None, reason="Chromium is not installed: the browser run left out")
async def test_by_taps_alone_to_a_logged_case(served: str, where: Folders, tmp_path: Path) -> None:
    async def tap(browser: Browser, line: int, item: int, of: int, left: float = 0, right: float = COLUMNS) -> None:
        """A tap in the middle of item ``item`` (from 0) of a bar of ``of`` items between two columns."""
        x = left + (right - left) * (item + 0.5) / of
        await browser.tap(x * CELL[0], (line + 0.5) * CELL[1])
        await asyncio.sleep(0.5)

    async def opened(browser: Browser, patience: float) -> None:
        await browser.go(served)
        for _ in range(200):
            if "-first-byte" in str(await browser.evaluate("document.body.className")):
                break
            await asyncio.sleep(0.1)
        await asyncio.sleep(patience)

    async with Browser(COLUMNS * CELL[0], LINES * CELL[1]) as browser:
        # a slow machine may not be ready for a tap: the page is then opened afresh, and the case is still there
        for patience in (2.0, 5.0, 10.0, 15.0):
            await opened(browser, patience)
            if not symptoms(where):
                await tap(browser, LINES - 2, 0, 6)  # what is seen
                await asyncio.sleep(patience / 10)
                await browser.tap(30 * CELL[0], 7 * CELL[1])  # the first in the list
                await asyncio.sleep(0.7)
                await tap(browser, LINES - 4, 0, 5, 3, COLUMNS - 3)  # choose and close
                if not await soon(lambda: bool(symptoms(where))):
                    continue
                await asyncio.sleep(patience / 4)
            await tap(browser, LINES - 2, 1, 6)  # try
            await asyncio.sleep(patience / 10)
            await tap(browser, LINES - 6, 2, 4)  # no change
            if await soon(lambda: outcomes(where) == ["no-change"]):
                break
        assert outcomes(where) == ["no-change"]
        picture = await browser.screenshot(tmp_path / "browser.png")
        assert len(picture) > 20_000, "there is something to see"
        await asyncio.sleep(1.0)
        await tap(browser, LINES - 6, 0, 4)  # fixed
        assert await soon(lambda: outcomes(where) == ["no-change", "fixed"], 20.0), outcomes(where)
        hosts = {urlsplit(address).netloc for address in browser.requests if not address.startswith("data:")}
        assert hosts == {urlsplit(served).netloc}, "nothing is fetched from elsewhere"


def test_another_address_needs_a_yes(tmp_path: Path) -> None:
    result = CliRunner().invoke(command, ["--host", "0.0.0.0"])
    assert isinstance(result.exception, BadInput)
    assert "--yes" in str(result.exception)


class Asked:
    def __init__(self, **headers: str) -> None:
        self.headers = {k.capitalize(): v for k, v in headers.items()}


@pytest.mark.parametrize(
    ("host", "origin", "good"),
    [
        ("127.0.0.1:8473", None, True),
        ("localhost:8473", "http://localhost:8473", True),
        ("127.0.0.1:8473", "http://elsewhere.example", False),
        ("elsewhere.example:8473", None, False),
        ("127.0.0.1:80", None, False),
        ("", None, False),
    ],
)
def test_pages_of_other_sites_do_not_reach_it(host: str, origin: str | None, good: bool) -> None:
    headers = {"host": host} | ({"origin": origin} if origin else {})
    assert reached_properly(Asked(**headers), allowed_hosts("127.0.0.1", 8473), any_name=False) is good


def test_the_page_names_nothing_outside() -> None:
    text = page('127.0.0.1:1"><script>', 18)
    assert "https://" not in text
    assert text.count("http://") == 0
    assert '"><script>' not in text


def test_a_folder_with_odd_letters_stays_one_word(tmp_path: Path) -> None:
    import shlex

    words = shlex.split(screens_command("/a b/$(touch x)/'q'"))
    assert len(words) == 3
    assert "$(touch x)" in words[2]
