"""How long from a key to the new ranking on the screen, and how long to the first paint beside a bare Textual hello.

Run: python tests/benchmarks/bench_screens.py [rounds]. Aims: 33 ms median from key to ranking (two frames at 60 Hz) at
the shipped rule count; first paint at most 1.5 times the bare hello, both measured in this one run.
"""

from __future__ import annotations

import asyncio
import fcntl
import os
import pty
import select
import statistics
import struct
import subprocess
import sys
import tempfile
import termios
import time
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("TEXTUAL_FPS", "120")  # as `lapwise` itself does, before Textual is read

from textual.app import App, ComposeResult
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import OptionList, Static

from lapwise.engine.case import Case
from lapwise.engine.folders import folders
from lapwise.tui.app import LapwiseApp
from lapwise.tui.keymap import Choices, write_choices
from lapwise.tui.screens.case import CaseScreen
from lapwise.tui.workspace import Workspace

HELLO = """
from textual.app import App
from textual.widgets import Static
class Hello(App):
    def compose(self):
        yield Static("hello there")
Hello().run()
"""
SCREENS = "from lapwise.tui.cli.main import main; main({options!r})"
VALUES = ("dry", "damp", "wet", "flooded")


def milliseconds(times: list[float]) -> str:
    """Median and the 90th percentile."""
    ordered = sorted(times)
    return (
        f"median {1000 * statistics.median(times):.1f} ms, 90 % under {1000 * ordered[int(len(ordered) * 0.9)]:.1f} ms"
    )


async def pressed(app: App[None], key: Key, shown: asyncio.Event) -> float:
    """Seconds from a key to the frame that sets ``shown``."""
    shown.clear()
    started = time.perf_counter()
    app.post_message(key)
    await asyncio.wait_for(shown.wait(), 10)
    return time.perf_counter() - started


class BareList(ModalScreen[str]):
    """A list over a screen, as plain as Textual has it."""

    def compose(self) -> ComposeResult:
        yield OptionList(*VALUES)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        self.dismiss(str(event.option.prompt))


class Bare(App[None]):
    """A screenful of text that tells what was taken from a list: what the machine and Textual need by themselves."""

    def compose(self) -> ComposeResult:
        yield Static("nothing taken", id="taken")
        yield Static("\n".join(["a line of words on a bare screen"] * 20), id="text")


async def bare_key_to_paint(rounds: int) -> list[float]:
    """Seconds from a key in a bare list to the frame that shows what was taken."""
    app = Bare()
    times: list[float] = []
    async with app.run_test(size=(80, 24)) as pilot:
        shown = asyncio.Event()

        def taken(value: str | None) -> None:
            app.query_one("#taken", Static).update(f"taken: {value}")
            app.query_one("#text", Static).update("\n".join([f"{value} {len(times)}"] * 20))
            app.screen_stack[0].call_after_refresh(shown.set)

        for _ in range(rounds):
            await app.push_screen(BareList(), taken)
            await pilot.pause(0.15)
            times.append(await pressed(app, Key("enter", "\r"), shown))
            await pilot.pause(0.1)
    return times


async def key_to_ranking(rounds: int) -> None:
    """Prints the time from a key to the frame that shows the new ranking (aim 33 ms median)."""
    bare = await bare_key_to_paint(rounds // 2)
    where = folders(tempfile.mkdtemp(prefix="lapwise-bench-"))
    write_choices(where.config, Choices(welcomed=True))
    app = LapwiseApp(where, workspace=Workspace(where))
    times: list[float] = []
    thought: list[float] = []
    taken: list[float] = []
    apart: list[float] = []
    async with app.run_test(size=(80, 24)) as pilot:
        while not app.workspace.ready:
            await pilot.pause(0.02)
        await pilot.pause(0.2)
        screen = app.screen
        assert isinstance(screen, CaseScreen)
        print(f"{len(app.workspace.knowledge.rules)} rules, {len(app.workspace.knowledge.materials)} materials")
        app.controller.state(Case("quartz", "acrylic-lap", "cerium-oxide", symptoms=("fine-scratches",)))
        await pilot.pause(0.5)
        quick = app.workspace.quick

        def timed(case: Case) -> object:
            started = time.perf_counter()
            answer = quick(case)
            thought.append(time.perf_counter() - started)
            return answer

        app.workspace.quick = timed  # type: ignore[method-assign, assignment]
        shown = asyncio.Event()
        plain = screen.picture.show_answer

        def watched(answer: object) -> None:
            plain(answer)  # type: ignore[arg-type]
            screen.call_after_refresh(shown.set)

        screen.picture.show_answer = watched  # type: ignore[method-assign, assignment]
        for number in range(rounds):
            # a different case each time, so that no kept answer is shown
            app.controller.state(replace(app.controller.case, facts={"speed": f"{200 + number}rpm"}))
            await pilot.pause(0.6)  # ranked, kept and thought through, as when the hand comes back
            screen.ask.value("wetness", lambda value: app.controller.put("wetness", value))
            await pilot.pause(0.02)
            for _ in range(1 + number % (len(VALUES) - 1)):  # the line after the last is "I do not know"
                await pilot.press("down")
            await pilot.pause(0.15)
            apart += thought
            thought.clear()
            times.append(await pressed(app, Key("enter", "\r"), shown))
            await pilot.pause(0.1)
            taken += thought
            thought.clear()
        print(f"an answer taken in a list, to its ranking on screen: {milliseconds(times)}")
        print(f"  of it the ranking itself, where it was worked out ahead: {milliseconds(taken)}")
        print(f"the ranking of a case stated without a list: {milliseconds(apart)}")
        answered = list(times)
        times.clear()
        thought.clear()
        first = replace(app.controller.case, tried=())
        for number in range(rounds // 2):
            if number % 6 == 0:  # another case after six remedies, as at the bench
                await app.controller.end("given-up")
                app.controller.state(first)
                await pilot.pause(0.3)
            times.append(await pressed(app, Key("n", "n"), shown))
            await pilot.pause(0.1)
        print(f"an outcome logged (on disk), to the next ranking on screen: {milliseconds(times)}")
        print(f"  of it the ranking itself: {milliseconds(thought)}")
    bare += await bare_key_to_paint(rounds // 2)
    middle = statistics.median(bare)
    print(f"a bare list, its answer on screen, before and after: {milliseconds(bare)}")
    rank, log = (statistics.median(t) / middle for t in (answered, times))
    print(f"  the ranking {rank:.1f} times, the log {log:.1f} times")


def first_paint(script: str, word: bytes, env: dict[str, str]) -> float:
    """Seconds from the start of the process until ``word`` was written to its terminal."""
    parent, child = pty.openpty()
    fcntl.ioctl(child, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    started = time.perf_counter()
    process = subprocess.Popen([sys.executable, "-c", script], stdin=child, stdout=child, stderr=child, env=env)
    os.close(child)
    seen = b""
    try:
        while word not in seen:
            ready, _, _ = select.select([parent], [], [], 20)
            if not ready:
                raise SystemExit("no first paint within 20 s")
            seen += os.read(parent, 65536)
        return time.perf_counter() - started
    finally:
        process.kill()
        process.wait()
        os.close(parent)


def main() -> None:
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    asyncio.run(key_to_ranking(rounds))
    folder = Path(tempfile.mkdtemp(prefix="lapwise-bench-"))
    env = {**os.environ, "TERM": "xterm-256color", "PYTHONPATH": os.pathsep.join(sys.path[1:])}
    # as on a person's machine, where what was compiled once is kept
    for name in ("COLUMNS", "LINES", "NO_COLOR", "PYTHONDONTWRITEBYTECODE"):
        env.pop(name, None)
    screens = SCREENS.format(options=["--data", str(folder)])
    first_paint(screens, b"Correction", env)  # once, so that both find their files warm
    pairs = [(first_paint(HELLO, b"hello there", env), first_paint(screens, b"Correction", env)) for _ in range(9)]
    hello, ours = (statistics.median(times) for times in zip(*pairs, strict=True))
    words = f"bare hello {1000 * hello:.0f} ms, screens {1000 * ours:.0f} ms"
    print(f"first paint: {words}: {ours / hello:.2f} times (aim 1.5)")


if __name__ == "__main__":
    main()
