"""The screens in a browser: headless Chromium, taps alone, nothing fetched from elsewhere; and who may reach them."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import urlopen

import pytest
from click.testing import CliRunner

from lapwise.engine.errors import BadInput
from lapwise.engine.folders import Folders
from lapwise.engine.record.store import Record

pytest.importorskip("textual_serve", reason="textual-serve is not installed: the browser runs left out")

from tests.tui.browser import Browser, chromium
from tests.tui.serving import serving
from tests.tui.steps import at_rest, keys

from lapwise.tui.app import LapwiseApp
from lapwise.tui.cli.serve import command, screens_command
from lapwise.tui.cli.serve_names import allowed_hosts, reached_properly
from lapwise.tui.cli.serve_pages import page
from lapwise.tui.widgets.rows import Rows

pytestmark = pytest.mark.e2e
COLUMNS, LINES = 100, 38
SHOWN = "document.querySelector('.xterm-screen').getBoundingClientRect().bottom"


@pytest.fixture
def served(where: Folders) -> Iterator[str]:
    """The address of a running server on the test's own folder."""
    with serving(where.data) as server:
        yield server.url.rstrip("/")


def outcomes(where: Folders) -> list[str]:
    """The outcomes of the newest case on disk."""
    if not where.record.exists():
        return []
    with Record.open(where, readonly=True) as record:
        last = record.last_case()
        return [] if last is None else [outcome for _, outcome in last.case.tried]


def stone(where: Folders) -> str | None:
    """The stone of the newest case on disk."""
    with Record.open(where, readonly=True) as record:
        last = record.last_case()
        return None if last is None else last.case.material


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


class Tapper:
    """Taps by line and column of the screen; each waits until the picture has changed and come to rest."""

    def __init__(self, browser: Browser, folder: Path, cell: tuple[float, float]) -> None:
        self.browser, self.folder, self.cell, self.count = browser, folder, cell, 0

    async def picture(self) -> bytes:
        """What the page shows now."""
        return await self.browser.screenshot(self.folder / "now.png")

    async def rest(self, before: bytes | None = None, seconds: float = 10.0, times: int = 3) -> bytes:
        """Wait until the picture is another than ``before`` and the same so many times; returns it.

        A blinking cursor or a clock keeps it from resting for long: the wait then ends with the time.
        """
        ends = time.monotonic() + seconds
        last, same = await self.picture(), 0
        while same < times - 1 and time.monotonic() < ends:
            await asyncio.sleep(0.1)
            now = await self.picture()
            same = same + 1 if now == last and now != before else 0
            last = now
        return last

    async def at(self, column: float, line: float) -> None:
        """A tap at a character."""
        before = await self.picture()
        await self.browser.tap((column + 0.5) * self.cell[0], (line + 0.5) * self.cell[1])
        (self.folder / f"tap-{self.count:02}.png").write_bytes(await self.rest(before, 10.0))
        self.count += 1

    async def bar(self, line: int, item: int, of: int, left: float = 0, right: float = COLUMNS) -> None:
        """A tap in the middle of item ``item`` (from 0) of a bar of ``of`` items between two columns."""
        await self.at(left + (right - left) * (item + 0.5) / of - 0.5, line)


AREAS_LINE, FIELDS_LINE, RECORD_VIEWS_LINE, FOOT_LINE, OUTCOME_LINE = 1, 3, 6, LINES - 2, LINES - 6
RECORD_COLUMN = 37
"""Within the name of the record in the row of areas."""
SHEET_LINE, SHEET = LINES - 4, (3, COLUMNS - 3)
"""The bar at the foot of a list, and the columns it has."""
FIRST_ROW = 6
"""The first row of a list that has no headings."""


@pytest.mark.skipif(chromium() is None, reason="Chromium is not installed: the browser run left out")
async def test_by_taps_alone_from_an_empty_folder_to_a_recipe_card(served: str, where: Folders, tmp_path: Path) -> None:
    async with Browser() as browser:
        await browser.go(served)
        for _ in range(300):
            if "-first-byte" in str(await browser.evaluate("document.body.className")):
                break
            await asyncio.sleep(0.1)
        tap = Tapper(browser, tmp_path, await browser.fit(COLUMNS, LINES))
        await tap.rest(times=6)  # what is known is read after the first picture

        await tap.at(8, FIELDS_LINE)  # the stone
        await tap.at(20, FIRST_ROW)  # the first of all
        await tap.bar(FOOT_LINE, 0, 7)  # what is seen
        await tap.at(20, FIRST_ROW)  # the first of all
        await tap.bar(SHEET_LINE, 0, 5, *SHEET)  # choose and close
        assert await soon(lambda: bool(symptoms(where))), "what is seen is on disk"
        await tap.bar(FOOT_LINE, 2, 7)  # try
        await tap.bar(OUTCOME_LINE, 2, 4)  # no change
        assert await soon(lambda: outcomes(where) == ["no-change"]), outcomes(where)
        await tap.bar(OUTCOME_LINE, 0, 4)  # fixed
        assert await soon(lambda: outcomes(where) == ["no-change", "fixed"]), outcomes(where)

        await tap.at(RECORD_COLUMN, AREAS_LINE)  # the record
        await tap.bar(RECORD_VIEWS_LINE, 3, 5)  # the card
        await browser.evaluate("window.open = (address) => { window.delivered = address; }")
        await tap.bar(FOOT_LINE, 5, 7)  # more
        await tap.at(20, FIRST_ROW + 12)  # to a file
        delivered = ""
        for _ in range(60):
            delivered = await browser.evaluate("window.delivered") or delivered
            await asyncio.sleep(0 if delivered else 0.1)
        assert urlsplit(delivered).path.startswith("/download/"), "the card goes to the visitor"
        with await asyncio.to_thread(urlopen, delivered) as answer:
            assert f"filename={stone(where)}-card.md" in answer.headers["Content-Disposition"]
            assert "From 1 logged case." in answer.read().decode()
        assert not list(tmp_path.rglob("*-card.md")), "and nothing is written here"
        assert len(await tap.picture()) > 20_000, "there is something to see"
        hosts = {urlsplit(address).netloc for address in browser.requests if not address.startswith("data:")}
        assert hosts == {urlsplit(served).netloc}, "nothing is fetched from elsewhere"


@pytest.mark.skipif(chromium() is None, reason="Chromium is not installed: the browser run left out")
async def test_a_finger_scrolls_a_list_and_a_turned_tablet_keeps_its_outcomes(
    served: str, where: Folders, tmp_path: Path, make_app: Callable[..., LapwiseApp]
) -> None:
    drawn = 6  # lines
    async with at_rest(make_app(touch=True), (COLUMNS, LINES)) as (app, pilot):
        await keys(pilot, "s")
        rows = app.screen.query_one(Rows)
        meant = rows.rows[(FIRST_ROW - rows.region.y + drawn) // rows.row_height].id
    async with Browser() as browser:
        await browser.go(served)
        for _ in range(300):
            if "-first-byte" in str(await browser.evaluate("document.body.className")):
                break
            await asyncio.sleep(0.1)
        wide, high = await browser.fit(COLUMNS, LINES)
        tap = Tapper(browser, tmp_path, (wide, high))
        await tap.rest(times=6)
        await tap.bar(FOOT_LINE, 0, 7)  # what is seen
        before = await tap.picture()
        await browser.finger(*((40 * wide, (20.5 - at) * high) for at in range(drawn + 1)))
        await tap.rest(before)
        await browser.finger((20.5 * wide, (FIRST_ROW + 0.5) * high))
        await tap.rest()
        await tap.bar(SHEET_LINE, 0, 5, *SHEET)  # choose and close
        assert await soon(lambda: symptoms(where) == (meant,)), (symptoms(where), meant)
        await browser.finger((10, 10))  # a tap in the row of areas is still one; this area is the one shown
        for at, size in enumerate(((760, 1000), (1000, 700), (400, 840)), 1):
            before_turning = browser.grid
            await browser.resize(*size)
            assert await soon(lambda old=before_turning: browser.grid != old), "it turned"  # type: ignore[misc]
            await browser._settled()
            shown = await browser.evaluate(SHOWN)
            assert shown <= size[1], "the foot is in sight"
            await tap.rest()
            columns, lines = browser.grid
            await tap.bar(lines - 6, 2, 4, 0, columns)  # no change
            assert await soon(lambda n=at: outcomes(where) == ["no-change"] * n), (size, outcomes(where))  # type: ignore[misc]


def test_another_address_needs_a_yes(tmp_path: Path) -> None:
    result = CliRunner().invoke(command, ["--host", "0.0.0.0"])
    assert isinstance(result.exception, BadInput)
    assert "--yes" in str(result.exception)


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
    assert reached_properly(host, origin, allowed_hosts("127.0.0.1", 8473)) is good


def test_at_the_usual_port_a_browser_leaves_it_out() -> None:
    for named in ("localhost", "127.0.0.1", "[::1]", "[::1]:80"):
        assert reached_properly(named, f"http://{named}", allowed_hosts("localhost", 80))
    assert not reached_properly("localhost", None, allowed_hosts("localhost", 8080))


def test_the_page_names_nothing_outside() -> None:
    text = page('127.0.0.1:1"><script>', "18")
    assert "https://" not in text
    assert text.count("http://") == 0
    assert '"><script>' not in text


def test_a_folder_with_odd_letters_stays_one_word() -> None:
    words = screens_command("/a b/$(touch x)/'q'")
    assert len(words) == 4
    assert "$(touch x)" in words[3]
