"""Who gets in at `lapwise serve`, what a visitor can reach, and that nothing of it stays."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
from pathlib import Path

import pytest

from lapwise.engine.case import Case
from lapwise.engine.folders import Folders, folders
from lapwise.engine.record.exchange import export_lines
from lapwise.engine.record.store import Record

pytest.importorskip("textual_serve", reason="textual-serve is not installed: the browser runs left out")

import aiohttp
from tests.tui.serving import Tab, gone, serving

from lapwise.tui.cli.serve_pages import MOST_FILE
from lapwise.tui.cli.serve_visit import MOST_COLUMNS, MOST_LINES, size

pytestmark = pytest.mark.e2e


def logged(where: Folders) -> None:
    """One finished case of quartz, so that there is a card."""
    with Record.open(where) as record:
        case = Case("quartz", "acrylic-lap", "cerium-oxide", symptoms=("fine-scratches",))
        record.log_outcome(case, "clean-lap", "fixed", minutes=3, knowledge_digest="test")
        record.open_case(case, knowledge_digest="test")


# --- files ---------------------------------------------------------------------------------------------------


async def test_the_card_goes_to_the_browser_and_no_path_is_asked_for(where: Folders, tmp_path: Path) -> None:
    logged(where)
    with serving(where.data, folder=tmp_path) as server:
        async with aiohttp.ClientSession() as session, Tab(session, server.url) as tab:
            await tab.sees("Quartz")
            await tab.keys("4")
            await tab.sees("Logged")
            assert str(where.data) not in tab.text, "the owner's folders are nobody's business"
            assert "Kept in" not in tab.text
            before = set(tmp_path.rglob("*"))
            await tab.keys("f")
            key = await tab.hears("deliver_file_start")
            answer = await session.get(f"{server.url}download/{key}")
            assert answer.headers["Content-Disposition"] == "attachment; filename=quartz-card.md"
            assert "From 1 logged case" in await answer.text() or "Quartz" in await answer.text()
            assert "its name or path" not in tab.text
            assert not [p for p in set(tmp_path.rglob("*")) - before if p.suffix == ".md"]


async def test_a_table_is_taken_from_the_visitor_and_never_from_a_path(where: Folders, tmp_path: Path) -> None:
    logged(where)
    (tmp_path / "secret.txt").write_text("very-secret-first-line\n")
    with serving(where.data, folder=tmp_path) as server:
        async with aiohttp.ClientSession() as session, Tab(session, server.url) as tab:
            await tab.sees("Quartz")
            await tab.keys("3", "o")
            await tab.sees("send a file from your own device")
            await tab.keys(str(tmp_path / "secret.txt"), "\r")
            link = await tab.hears("open_url")
            assert "very-secret" not in tab.text
            table = "index,angle,index_change,angle_change\r\n12,42,0.02,0.12\r\n\x1b36,42,-0.04,0.02\r\n"
            form = aiohttp.FormData()
            form.add_field("file", table.encode(), filename="../../in.csv")
            tab.forget()
            answer = await session.post(server.url.rstrip("/") + link["url"], data=form)
            assert answer.status == 200
            await tab.sees("2 rows read")


async def test_no_message_names_a_folder_of_the_owner(tmp_path: Path) -> None:
    """Faults in own files, a record set aside, a copy made, keys of one's own: all that names files, in one visit."""
    where = folders(tmp_path / "owners-folder" / "bench")
    logged(where)
    with where.record.open("r+b") as file:
        file.write(b"not a database!!")
    (where.data / "rules").mkdir()
    (where.data / "rules" / "mine.yaml").write_text("rules: [")
    where.config.mkdir(parents=True, exist_ok=True)
    (where.config / "keys.yaml").write_text("case.undo: [")
    (where.config / "screens.json").write_text('{"welcomed": true}')
    with serving(where.data, folder=tmp_path) as server:
        async with aiohttp.ClientSession() as session, Tab(session, server.url, "180", "50") as tab:
            await tab.sees("rules/mine.yaml")
            await tab.sees("keys.yaml")
            await tab.sees("set aside")
            await tab.keys("\x1b", "4", "b")
            await tab.sees("Backed up to backups/record-")
            await tab.keys("k")
            await tab.sees("in order")
            await tab.keys("r")
            await tab.sees("made by you")
            assert "Another file" not in tab.text
            await tab.keys("\r")
            await tab.sees("Brought back")
            await tab.keys("\x1b", "?", "k")
            await tab.sees("Write the keys you want into keys.yaml")
            await tab.keys("\x1b", "e", "\r")
            await tab.hears("deliver_file_start")
            await tab.keys("7", "6", "5", "3", "2", "1")
            told = "".join(tab.text.split())
            for name in ("owners-folder", str(tmp_path), str(Path.home()) + "/"):
                assert name not in told, told[max(0, told.find(name) - 200) :][:400]


async def test_a_record_comes_in_from_the_visitor_and_goes_out_again(where: Folders, tmp_path: Path) -> None:
    logged(where)
    giver = folders(tmp_path / "giver")
    logged(giver)
    with Record.open(giver, readonly=True) as record:
        rows = "\n".join(export_lines(record)) + "\n"
    with serving(where.data, folder=tmp_path) as server:
        async with aiohttp.ClientSession() as session, Tab(session, server.url) as tab:
            await tab.sees("Quartz")
            await tab.keys("4", "i", "f")
            link = server.url.rstrip("/") + (await tab.hears("open_url"))["url"]
            large = aiohttp.FormData()
            large.add_field("file", b"x" * (MOST_FILE + 1), filename="large.jsonl")
            refused = await session.post(link, data=large)
            assert refused.status == 413
            assert "nothing of it was taken" in await refused.text()
            form = aiohttp.FormData()
            form.add_field("file", rows.encode(), filename="theirs.jsonl")
            assert (await session.post(link, data=form)).status == 200
            await tab.sees("Whose record is it?")
            await tab.keys("\r")
            await tab.sees("Added: 2 case rows, 1 step row")
            await tab.keys("\x1b", "e", "\r")
            key = await tab.hears("deliver_file_start")
            answer = await session.get(f"{server.url}download/{key}")
            with Record.open(where, readonly=True) as record:
                assert (await answer.text()).splitlines() == list(export_lines(record))


async def test_a_foreign_page_cannot_hand_a_file_in(where: Folders) -> None:
    with serving(where.data) as server:
        async with aiohttp.ClientSession() as session:
            foreign = {"Origin": "http://elsewhere.example"}
            assert (await session.post(f"{server.url}take/0", headers=foreign)).status == 403
            assert (await session.post(f"{server.url}take/0")).status == 404


# --- who gets in ---------------------------------------------------------------------------------------------


async def test_from_elsewhere_only_by_its_names_and_with_the_word(where: Folders) -> None:
    with serving(where.data, "--host", "0.0.0.0", "--yes", "--name", "bench.example") as server:
        port = server.url.rpartition(":")[2].split("/")[0]
        word = server.url.partition("?word=")[2]
        assert len(word) == 12
        assert server.url.startswith(f"http://{socket.gethostname()}:")
        base = f"http://127.0.0.1:{port}/"

        async def status(query: str = "", host: str = f"127.0.0.1:{port}") -> int:
            async with aiohttp.ClientSession() as session:
                return (await session.get(base + query, headers={"Host": host})).status

        assert await status(f"?word={word}") == 200
        assert await status(f"?word={word}", f"bench.example:{port}") == 200
        assert await status(f"?word={word}", f"elsewhere.example:{port}") == 403, "a name that was turned to us"
        assert await status() == 403
        assert await status("?word=") == 403
        assert await status("?word=²") == 403
        async with aiohttp.ClientSession() as session:
            locked = await session.get(base)
            assert "This bench is locked." in await locked.text()
            with pytest.raises(aiohttp.WSServerHandshakeError):
                await session.ws_connect(base + "ws")
        async with aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)) as session:
            await session.get(f"{base}?word={word}")
            async with Tab(session, base) as tab:
                await tab.sees("not stated")


async def test_odd_sizes_of_letters_and_windows(where: Folders) -> None:
    with serving(where.data) as server:
        async with aiohttp.ClientSession() as session:
            for odd in ("²", "٣", "9" * 5000, "-3", ""):
                text = await (await session.get(server.url, params={"fontsize": odd})).text()
                assert 'data-font-size="18"' in text
            for window in ("?width=x", "?width=" + "9" * 20, "?width=²"):
                with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
                    await session.ws_connect(server.url + "ws" + window)
                assert refused.value.status == 400


async def test_a_window_of_any_size_takes_little_memory(where: Folders) -> None:
    with serving(where.data) as server:
        async with aiohttp.ClientSession() as session, Tab(session, server.url, "100000", "100000") as tab:
            await tab.sees("not stated")
            await tab.send("resize", {"width": 100_000, "height": 100_000})
            await tab.send("ping", "1")
            await tab.hears("pong")
            await asyncio.sleep(1.5)
            (child,) = server.children()
            kilobytes = int(Path(f"/proc/{child}/statm").read_text().split()[1]) * 4
            assert kilobytes < 400_000


def test_a_window_stays_within_the_limits() -> None:
    assert size(100_000, "7") == (MOST_COLUMNS, 10)
    assert size("80", 10**8) == (80, MOST_LINES)
    for odd in (None, 1.5, True, [], "1e3", "²", 10**5000):
        with pytest.raises(ValueError, match=r"."):
            size(odd, 24)


ODD = ("[", "{}", "[" * 5000, '["stdin"]', '["resize", {"width": 1}]')


async def test_what_no_page_of_ours_says_closes_the_door(where: Folders) -> None:
    with serving(where.data) as server:
        for text in ODD:
            async with aiohttp.ClientSession() as session, Tab(session, server.url) as tab:
                await tab.sees("not stated")
                children = server.children()
                await tab._socket.send_str(text)
                await asyncio.wait_for(tab.closed.wait(), 10)
                assert await gone(children)


async def test_too_long_a_message_and_too_many_browsers(where: Folders) -> None:
    from lapwise.tui.cli.serve_pages import MOST_MESSAGE, MOST_VISITS

    with serving(where.data) as server:
        async with aiohttp.ClientSession() as session, Tab(session, server.url) as tab:
            await tab.sees("not stated")
            await tab.send("stdin", "x" * (MOST_MESSAGE + 1))
            await asyncio.wait_for(tab.closed.wait(), 10)
        async with aiohttp.ClientSession() as session:
            tabs = [Tab(session, server.url) for _ in range(MOST_VISITS)]
            for tab in tabs:
                await tab.__aenter__()
            full = await session.get(server.url)
            assert full.status == 503
            assert "Close one" in await full.text()
            with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
                await session.ws_connect(server.url + "ws")
            assert refused.value.status == 503
            for tab in tabs:
                await tab.__aexit__()


# --- the process ---------------------------------------------------------------------------------------------


async def test_a_module_in_the_folder_it_is_started_from_does_not_run(where: Folders, tmp_path: Path) -> None:
    (tmp_path / "here").mkdir()
    (tmp_path / "here" / "sqlite3.py").write_text(f"open({str(tmp_path / 'ran')!r}, 'w').close()\n")
    logged(where)
    with serving(where.data, folder=tmp_path / "here") as server:
        async with aiohttp.ClientSession() as session, Tab(session, server.url) as tab:
            await tab.sees("Quartz")
    assert not (tmp_path / "ran").exists()


@pytest.mark.parametrize("by", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGKILL])
async def test_it_ends_at_once_with_a_tab_open_and_no_process_stays(where: Folders, by: signal.Signals) -> None:
    logged(where)
    with serving(where.data) as server:
        async with aiohttp.ClientSession() as session, Tab(session, server.url) as tab:
            await tab.sees("Quartz")
            children = server.children()
            assert len(children) == 1
            took = await asyncio.to_thread(server.end, by)
            assert took < 5
            assert (server.process.returncode < 0) == (by == signal.SIGKILL), "in order, unless it is killed"
            assert await gone(children)


async def test_a_visit_that_hangs_is_ended(where: Folders) -> None:
    with serving(where.data) as server:
        async with aiohttp.ClientSession() as session, Tab(session, server.url) as tab:
            await tab.sees("not stated")
            (child,) = server.children()
            os.kill(child, signal.SIGSTOP)
            assert await asyncio.to_thread(server.end) < 6
            assert await gone([child])
