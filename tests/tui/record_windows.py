"""The state machine over commands, with windows beside them: what a screen says is logged is there, and nothing else.

Two windows on the same record as the commands: log, look, undo, amend, other facts, a new case, an earlier one gone on
with, import, hand out, back up, damage and bring back, the clock of a try, closing and opening a window, beside all
that :mod:`tests.unit.record_commands` does. A line on the screen that says "Logged" and a row on disk come together or
not at all, and after every step each window shows its case as it is on disk.
"""

from __future__ import annotations

import asyncio
import contextlib
import queue
import sys
import threading
from collections.abc import Awaitable, Callable
from concurrent.futures import Future
from typing import Any, TypeVar

from hypothesis import strategies as st
from hypothesis.stateful import initialize, invariant, precondition, rule
from tests.tui.conftest import Clock
from tests.tui.steps import keys, settle, status
from tests.unit.record_commands import FACTS, CommandMachine, Log
from tests.unit.record_kit import where

from lapwise.engine.case import OUTCOMES, Case
from lapwise.engine.folders import Folders
from lapwise.engine.record.model import Step
from lapwise.engine.record.store import Record
from lapwise.tui.app import LapwiseApp
from lapwise.tui.keymap import Choices, write_choices
from lapwise.tui.screens.record import RecordScreen
from lapwise.tui.screens.record_cases import CaseRows
from lapwise.tui.widgets.lines import Lines
from lapwise.tui.workspace import Workspace

T = TypeVar("T")
Act = Callable[[Any, LapwiseApp], Awaitable[T]]
PATIENCE = 120.0
OUTCOME_KEYS = {"fixed": "f", "better": "b", "no-change": "n", "worse": "w"}
WINDOWS = st.integers(0, 1)


class Window:
    """The program on a terminal of its own, in a thread of its own."""

    def __init__(self, data: Folders) -> None:
        self.clock = Clock()
        self._jobs: queue.Queue[tuple[Act[Any], Future[Any]] | None] = queue.Queue()
        self._data = data
        self._thread = threading.Thread(target=lambda: asyncio.run(self._main()), daemon=True)
        self._ready: Future[None] = Future()
        self._out = sys.stdout, sys.stderr
        self._thread.start()
        self._ready.result(PATIENCE)

    async def _main(self) -> None:
        try:
            app = LapwiseApp(self._data, workspace=Workspace(self._data), clock=self.clock)
            async with app.run_test(size=(100, 30)) as pilot:
                await settle(pilot)
                self._ready.set_result(None)
                while (job := await asyncio.to_thread(self._jobs.get)) is not None:
                    act, answer = job
                    try:
                        answer.set_result(await act(pilot, app))
                    except BaseException as error:
                        answer.set_exception(error)
        except BaseException as error:
            if not self._ready.done():
                self._ready.set_exception(error)
            raise

    def do(self, act: Act[T]) -> T:
        """Let something be done at this window, and wait for it."""
        answer: Future[T] = Future()
        self._jobs.put((act, answer))
        return answer.result(PATIENCE)

    def press(self, *pressed: str) -> str:
        """Press keys at the case, and what its line says then."""

        async def act(pilot: Any, app: LapwiseApp) -> str:
            await keys(pilot, "1", *pressed)
            return status(app)

        return self.do(act)

    def close(self) -> None:
        """Leave the program."""
        self._jobs.put(None)
        self._thread.join(PATIENCE)
        assert not self._thread.is_alive()
        sys.stdout, sys.stderr = self._out  # two windows leave in any order, each puts back what it found


async def bare(pilot: Any, app: LapwiseApp) -> None:
    """No dialog over the area shown."""
    while len(app.screen_stack) > 1:
        await keys(pilot, "escape")


async def begin(pilot: Any, app: LapwiseApp, material: str) -> None:
    """A trouble at hand, if there is none yet."""
    if not app.open_case.case.symptoms:
        app.controller.state(Case(material, "tin-lap", "aluminium-oxide", symptoms=("haze",)))
        await settle(pilot)


async def type_file(pilot: Any, app: LapwiseApp, path: object) -> None:
    """Name a file where one is asked for."""
    app.screen.query_one("#blank-file").value = str(path)  # type: ignore[attr-defined]
    await keys(pilot, "enter")


class WindowMachine(CommandMachine):
    """The machine over commands with up to two windows."""

    @initialize()
    def begin(self) -> None:
        super().begin()
        self.windows: dict[int, Window] = {}
        write_choices(where(self.path).config, Choices(welcomed=True))
        self.windows[0] = Window(where(self.path))

    def watched(self, name: str) -> None:
        """Told what was done at a window, for who counts."""

    # --- what stands on disk -------------------------------------------------------------------------------------

    def rows(self) -> dict[str, Step | str]:
        """Every row by its id: the case of one that opens a case, else the step."""
        if not where(self.path).record.exists():
            return {}
        with Record.open(where(self.path), readonly=True) as record, record.reading() as connection:
            found: dict[str, Step | str] = {}
            for (case_id,) in connection.execute("SELECT id FROM cases ORDER BY id").fetchall():
                found[case_id] = case_id
                found |= {step.id: step for step in record.case(case_id).steps}
            return dict(sorted(found.items()))

    def after(self, work: Callable[[], T]) -> tuple[T, list[Step]]:
        """Do something at a window: its answer, and the steps it put on disk. Cases and facts enter the model here."""
        before = self.rows()
        answer = work()
        now = self.rows()
        assert before.keys() <= now.keys(), "a row is gone"
        steps = []
        for row_id in now.keys() - before.keys():
            row = now[row_id]
            if isinstance(row, str):
                self.model.setdefault(row, Log())
            else:
                steps.append(row)
        return answer, sorted(steps, key=lambda step: step.id)

    def stands(self, case_id: str) -> list[tuple[str, str]]:
        """What the model holds of a case."""
        return self.model.setdefault(case_id, Log()).done

    def of_kind(self, steps: list[Step], *kinds: str) -> list[Step]:
        """Those of these kinds; other facts may come with any of them, and nothing else may."""
        for step in steps:
            assert step.kind in (*kinds, "facts"), step
            if step.kind == "facts":
                self.stands(step.case_id).append(("facts", ""))
        return [step for step in steps if step.kind != "facts"]

    # --- windows -------------------------------------------------------------------------------------------------

    @rule(which=WINDOWS)
    def open_or_close_window(self, which: int) -> None:
        if (window := self.windows.pop(which, None)) is not None:
            _, steps = self.after(window.close)
            self.watched("closed the window")
        else:
            self.windows[which], steps = self.after(lambda: Window(where(self.path)))
        self.of_kind(steps)

    def at(self, which: int) -> Window:
        """This window, or the other if only that is open."""
        return self.windows.get(which) or next(iter(self.windows.values()))

    @precondition(lambda self: self.windows)
    @rule(which=WINDOWS, material=st.sampled_from(["topaz", "emerald"]), wet=st.sampled_from(["dry", "wet"]))
    def state(self, which: int, material: str, wet: str) -> None:
        """A new trouble where there is none, else another fact of the one at hand."""

        async def act(pilot: Any, app: LapwiseApp) -> None:
            if app.open_case.case.symptoms:
                app.controller.put("wetness", wet)
                await settle(pilot)
            await begin(pilot, app, material)

        _, steps = self.after(lambda: self.at(which).do(act))
        self.watched("stated")
        assert not self.of_kind(steps)

    @precondition(lambda self: self.windows)
    @rule(which=WINDOWS, outcome=st.sampled_from(OUTCOMES), seconds=st.integers(0, 4000))
    def screen_log(self, which: int, outcome: str, seconds: int) -> None:
        window = self.at(which)

        def work() -> str:
            window.do(lambda pilot, app: begin(pilot, app, "topaz"))
            if window.do(_trying) is None:
                window.press("t")
                window.clock.seconds += seconds
            return window.press(OUTCOME_KEYS[outcome])

        said, steps = self.after(work)
        tries = self.of_kind(steps, "try")
        assert said.startswith("Logged") == bool(tries), (said, tries)
        for step in tries:
            assert step.outcome == outcome
            assert len(tries) == 1
            self.watched("logged")
            self.shown.add(step.id)
            self.stands(step.case_id).append(("try", outcome))

    @precondition(lambda self: self.windows)
    @rule(which=WINDOWS)
    def screen_undo(self, which: int) -> None:
        said, steps = self.after(lambda: self.at(which).press("u"))
        taken = self.of_kind(steps, "undo")
        assert said.startswith("Undone") == bool(taken), (said, taken)
        for step in taken:
            self.watched("taken back")
            done = self.stands(step.case_id)
            del done[max(at for at, (kind, _) in enumerate(done) if kind in ("try", "look"))]

    @precondition(lambda self: self.windows)
    @rule(which=WINDOWS, minutes=st.integers(0, 90))
    def screen_amend(self, which: int, minutes: int) -> None:
        async def act(pilot: Any, app: LapwiseApp) -> str:
            await keys(pilot, "1", "e")
            if len(app.screen_stack) > 1:
                app.screen.query_one("#blank-minutes").value = str(minutes)  # type: ignore[attr-defined]
                await keys(pilot, "ctrl+s")
            return status(app)

        said, steps = self.after(lambda: self.at(which).do(act))
        changed = [s for s in steps if s.kind != "facts"]
        assert said.startswith("Changed") == bool(changed), (said, changed)
        if changed:
            self.watched("amended")
            undo, new = changed
            assert (undo.kind, new.minutes) == ("undo", minutes)
            done = self.stands(new.case_id)
            at = max(at for at, (kind, _) in enumerate(done) if kind in ("try", "look"))
            done.append(done.pop(at))
            if new.kind == "try":
                self.shown.add(new.id)
        self.of_kind([s for s in steps if s.kind == "facts"])

    @precondition(lambda self: self.windows)
    @rule(which=WINDOWS)
    def screen_new(self, which: int) -> None:
        async def act(pilot: Any, app: LapwiseApp) -> str:
            await keys(pilot, "1", "x")
            if len(app.screen_stack) > 1:
                await keys(pilot, "enter")
            return status(app)

        said, steps = self.after(lambda: self.at(which).do(act))
        closed = self.of_kind(steps, "close")
        assert not closed or said.startswith("A new case"), said
        for step in closed:
            self.watched("closed")
            self.stands(step.case_id).append(("close", step.result or ""))

    @precondition(lambda self: self.windows and self.model)
    @rule(which=WINDOWS, data=st.data())
    def screen_go_on(self, which: int, data: st.DataObject) -> None:
        case_id = data.draw(st.sampled_from(sorted(self.model)))

        async def act(pilot: Any, app: LapwiseApp) -> None:
            await keys(pilot, "4", "m", "=all stones", "enter", "enter")
            if (found := app.screen.query(CaseRows)) and case_id in [row.id for row in found.first().rows]:
                assert isinstance(app.screen, RecordScreen)
                here = app.open_case.case_id
                found.first().mark(case_id)
                app.screen._open(case_id)
                await settle(pilot)
                await keys(pilot, "g")
                await bare(pilot, app)
                self.watched("gone on with")
                expected = case_id if self.model[case_id].open else here
                assert app.open_case.case_id == expected
            await bare(pilot, app)
            await keys(pilot, "1")

        _, steps = self.after(lambda: self.at(which).do(act))
        assert not self.of_kind(steps)

    # --- files ---------------------------------------------------------------------------------------------------

    @precondition(lambda self: self.windows)
    @rule(which=WINDOWS)
    def screen_out_and_in(self, which: int) -> None:
        """Handed out at a window as a command does, byte for byte; another bench adds to it, and it is taken in."""
        self.files += 1
        mine, again, theirs = (self.path / f"{n}{self.files}.jsonl" for n in ("screen", "command", "back"))
        window = self.at(which)

        async def out(pilot: Any, app: LapwiseApp) -> str:
            await keys(pilot, "4", "e", "enter")
            await type_file(pilot, app, mine)
            return status(app)

        said = window.do(out)
        assert said.startswith("Written to"), said
        assert self.run("record", "export", again)[0] == 0
        assert mine.read_bytes() == again.read_bytes()
        assert self.run("record", "import", mine, bench="other")[0] in (0, 1)
        assert self.run("log", "good", "--material", "topaz", *FACTS[:4], bench="other")[0] == 0
        assert self.run("record", "export", theirs, bench="other")[0] == 0

        async def take(pilot: Any, app: LapwiseApp) -> str:
            await keys(pilot, "4", "i")
            await type_file(pilot, app, theirs)
            await keys(pilot, "enter")
            text = app.screen.query_one("#sheet-text", Lines).plain
            await bare(pilot, app)
            await keys(pilot, "1")
            return text

        before = self.rows()
        assert window.do(take).startswith("Added")
        self.watched("out and in")
        lines = theirs.read_text(encoding="utf-8")
        assert all(row_id in before or row_id in lines for row_id in self.rows())
        assert before.keys() <= self.rows().keys()

    @precondition(lambda self: self.windows)
    @rule(which=WINDOWS, how=st.sampled_from(["emptied", "deleted", "spoilt", "none", "none"]))
    def screen_backup_and_restore(self, which: int, how: str) -> None:
        """A copy is made at a window, the file harmed under all of them, and the copy brought back at a window."""
        path, window = where(self.path).record, self.at(which)
        if not path.exists():
            return

        async def copy(pilot: Any, app: LapwiseApp) -> str:
            await keys(pilot, "4", "b")
            return status(app)

        said = window.do(copy)
        assert said.startswith("Backed up to"), said
        before = self.rows()
        self.harm(path, how)

        async def bring(pilot: Any, app: LapwiseApp) -> str:
            await keys(pilot, "4", "r", "=made by you", "enter")
            await bare(pilot, app)
            said = status(app)
            await keys(pilot, "1")
            return said

        said = window.do(bring)
        self.watched(f"brought back, {how}")
        assert before.keys() <= self.rows().keys(), (how, said)

    # --- always --------------------------------------------------------------------------------------------------

    @invariant()
    def windows_show_what_is_on_disk(self) -> None:
        if not hasattr(self, "path"):
            return
        for window in self.windows.values():

            async def act(pilot: Any, app: LapwiseApp) -> tuple[str | None, Any, str]:
                await bare(pilot, app)
                with contextlib.suppress(Exception):
                    await app.controller.look_round()
                await settle(pilot)
                return app.open_case.case_id, app.open_case.case, status(app)

            case_id, shown, said = window.do(act)
            if case_id is not None:
                with Record.open(where(self.path), readonly=True) as record:
                    found = record.case(case_id)
                assert (shown.tried, shown.saw) == (found.case.tried, found.case.saw), said

    def teardown(self) -> None:
        for window in getattr(self, "windows", {}).values():
            window.close()
        super().teardown()


async def _trying(_: Any, app: LapwiseApp) -> str | None:
    return app.controller.trying
