"""The controller without any screen: who owns the open case, what happens while the disk is slow, two front ends."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from lapwise.engine.case import Case, FacetSetting, Trial
from lapwise.engine.diagnosis import Session
from lapwise.engine.errors import LapwiseError, Overtaken
from lapwise.engine.folders import Folders, folders
from lapwise.engine.record.model import OwnLap
from lapwise.engine.record.store import Record
from lapwise.tui.case_at_hand import Front
from lapwise.tui.controller import Controller
from lapwise.tui.kept_cases import KeptCases
from lapwise.tui.workspace import Workspace

QUARTZ = Case("quartz", "acrylic-lap", "cerium-oxide", symptoms=("fine-scratches",))


class Screen:
    """What a screen does for its controller: it starts work, and hears what could not be."""

    def __init__(self, where: Folders) -> None:
        self.said: list[str] = []
        self._tasks: set[asyncio.Task[None]] = set()
        self._groups: dict[str, asyncio.Task[None]] = {}
        self.controller = Controller(Workspace(where), Front(self._start, lambda: None, lambda: asyncio.sleep(0)))

    def _start(
        self, work: Callable[[], Coroutine[Any, Any, None]], *, group: str, alone: bool = False, failed: str = ""
    ) -> None:
        async def watched() -> None:
            try:
                await work()
            except (LapwiseError, OSError) as error:
                self.said.append(f"{failed}: {error}")

        if alone and group in self._groups:
            self._groups[group].cancel()
        task = self._groups[group] = asyncio.create_task(watched())
        self._tasks.add(task)

    async def rest(self) -> None:
        """Until nothing goes on any more."""
        while self._tasks:
            await asyncio.gather(*self._tasks, return_exceptions=True)
            self._tasks = {task for task in self._tasks if not task.done()}


@asynccontextmanager
async def front(where: Folders) -> AsyncIterator[Screen]:
    made = Screen(where)
    await made.controller.begin()
    await made.rest()
    yield made
    await made.rest()
    await made.controller.close()


@pytest.fixture
def where(tmp_path: Path) -> Folders:
    return folders(tmp_path)


class Slow:
    """Holds a method back until it is let go."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, owner: KeptCases, name: str) -> None:
        self.begun, self.go = threading.Event(), threading.Event()
        plain = getattr(owner, name)

        def slow(*given: Any) -> object:
            self.begun.set()
            assert self.go.wait(10)
            return plain(*given)

        monkeypatch.setattr(owner, name, slow)

    async def until_begun(self) -> None:
        while not self.begun.is_set():
            await asyncio.sleep(0.001)


def cases(where: Folders) -> list[tuple[Case, str | None]]:
    """The cases on disk as another process reads them, oldest first, each with how it ended."""
    with Record.open(where, readonly=True) as record:
        return [(kept.case, kept.result) for kept in reversed(record.cases())]


# --- while the disk is slow ---------------------------------------------------------------------------------------


async def test_the_next_case_begun_during_a_slow_log_takes_nothing_of_the_one_before(
    where: Folders, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The new case was grafted on the id of the old one."""
    async with front(where) as one:
        control = one.controller
        control.state(QUARTZ)
        await one.rest()
        slow = Slow(monkeypatch, control.workspace.cases, "log")
        log = asyncio.create_task(control.log("clean-lap", "no-change"))
        await slow.until_begun()
        end = asyncio.create_task(control.end("given-up"))
        await asyncio.sleep(0)
        control.state(replace(control.case, material="topaz", symptoms=("haze",)))
        slow.go.set()
        await asyncio.gather(log, end)
        await one.rest()
        assert control.case.symptoms == ("haze",)
        assert control.case.tried == ()
    (old, ended_as), (new, still_open) = cases(where)
    assert (old.material, old.symptoms, old.tried) == ("quartz", ("fine-scratches",), (("clean-lap", "no-change"),))
    assert ended_as == "given-up"
    assert (new.material, new.symptoms, new.tried, still_open) == ("topaz", ("haze",), (), None)


async def test_the_next_case_begun_while_the_first_is_being_opened_is_another(
    where: Folders, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with front(where) as one:
        control = one.controller
        slow = Slow(monkeypatch, control.workspace.cases, "keep")
        control.state(QUARTZ)
        await slow.until_begun()
        end = asyncio.create_task(control.end("accepted"))
        await asyncio.sleep(0)
        control.state(replace(control.case, symptoms=("haze",)))
        slow.go.set()
        await end
        await one.rest()
    assert [(case.symptoms, result) for case, result in cases(where)] == [
        (("fine-scratches",), "accepted"),
        (("haze",), None),
    ]


async def test_what_is_stated_while_a_case_is_being_closed_is_of_the_next_one(
    where: Folders, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The facts were written behind the closing row and opened the closed case again."""
    async with front(where) as one:
        control = one.controller
        control.state(QUARTZ)
        await one.rest()
        slow = Slow(monkeypatch, control.workspace.cases, "log")
        log = asyncio.create_task(control.log("clean-lap", "fixed"))
        await slow.until_begun()
        control.put("wetness", "dry")
        slow.go.set()
        await log
        await one.rest()
        assert control.case.tried == ()
        assert dict(control.case.facts) == {"wetness": "dry"}
    (old, ended_as), (new, still_open) = cases(where)
    assert ended_as == "fixed"
    assert dict(old.facts) == {}
    assert (dict(new.facts), new.material, still_open) == ({"wetness": "dry"}, "quartz", None)


async def test_a_closed_case_is_never_written_to(where: Folders, monkeypatch: pytest.MonkeyPatch) -> None:
    async with front(where) as one:
        control = one.controller
        control.state(replace(QUARTZ, facet=FacetSetting(part="pavilion", trials=(Trial(0.0, 0.0, "BBD/BBD/BBD"),))))
        await one.rest()
        await control.log("clean-lap", "fixed")
        slow = Slow(monkeypatch, control.workspace.cases, "keep")
        assert control.put("wetness", "dry"), "it begins another"
        assert not control.put("carrier", "oil"), "which goes on"
        slow.go.set()
        await one.rest()
        assert control.case.facet == FacetSetting(), "another facet"
    (_, ended_as), (new, _) = cases(where)
    assert ended_as == "fixed"
    assert dict(new.facts) == {"wetness": "dry", "carrier": "oil"}


async def test_a_log_that_fails_leaves_case_clock_and_disk_as_they_were(
    where: Folders, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with front(where) as one:
        control = one.controller
        control.state(QUARTZ)
        await one.rest()
        control.time_try("clean-lap", 60)
        await one.rest()

        def full(*_: object) -> None:
            raise OSError(28, "No space left on device")

        with monkeypatch.context() as patch:
            patch.setattr(control.workspace.cases, "log", full)
            with pytest.raises(OSError, match="No space"):
                await control.log("clean-lap", "no-change")
        assert control.trying == "clean-lap"
        assert (control.elapsed() or 0) >= 60
        with monkeypatch.context() as patch:
            patch.setattr(control.workspace.cases, "end", full)
            with pytest.raises(OSError, match="No space"):
                await control.end("given-up")
        assert control.case == QUARTZ, "it is still the one at hand"
    assert cases(where) == [(QUARTZ, None)]


# --- two front ends -----------------------------------------------------------------------------------------------


async def test_two_windows_do_not_log_one_try_twice(where: Folders) -> None:
    async with front(where) as one:
        one.controller.state(QUARTZ)
        await one.rest()
        async with front(where) as two:
            assert two.controller.case == QUARTZ, "both show the same open case"
            await one.controller.log("clean-lap", "no-change")
            with pytest.raises(Overtaken):
                await two.controller.log("clean-lap", "no-change")
            await two.rest()
            assert two.controller.case.tried == (("clean-lap", "no-change"),), "and what the first did is seen"
            assert two.controller.answer is not None
            assert two.controller.answer.case == two.controller.case
            await two.controller.log("less-compound", "worse")
            with pytest.raises(Overtaken):
                await one.controller.log("less-compound", "worse")
    (case, _), *others = cases(where)
    assert case.tried == (("clean-lap", "no-change"), ("less-compound", "worse"))
    assert not others


async def test_what_two_windows_state_comes_together(where: Folders) -> None:
    async with front(where) as one:
        one.controller.state(QUARTZ)
        await one.rest()
        async with front(where) as two:
            one.controller.put("wetness", "dry")
            await one.rest()
            two.controller.put("carrier", "oil")
            await two.rest()
            assert dict(two.controller.case.facts) == {"wetness": "dry", "carrier": "oil"}
            await one.controller.look_round()
            await one.rest()
            assert one.controller.case == two.controller.case
            assert one.controller.answer is not None
            assert one.controller.answer.case == one.controller.case
    assert len(cases(where)) == 1


async def test_a_case_closed_in_one_window_is_not_opened_again_by_the_other(where: Folders) -> None:
    async with front(where) as one:
        one.controller.state(QUARTZ)
        await one.rest()
        async with front(where) as two:
            await one.controller.end("given-up")
            two.controller.put("wetness", "dry")
            await two.rest()
            assert dict(two.controller.case.facts) == {"wetness": "dry"}
    assert [(dict(case.facts), result) for case, result in cases(where)] == [
        ({}, "given-up"),
        ({"wetness": "dry"}, None),
    ]


async def test_rows_of_a_second_process_and_laps_changed_are_ranked_with(where: Folders) -> None:
    async with front(where) as one:
        control = one.controller
        control.state(QUARTZ)
        await one.rest()
        before = control.answer
        assert before is not None
        with Record.open(where) as record:
            for _ in range(6):
                record.log_outcome(QUARTZ, before.plan[-1].remedy, "fixed", minutes=3, knowledge_digest="k")
        await control.look_round()
        await one.rest()
        logged = control.answer
        assert logged is not None
        assert logged.plan != before.plan

        await control.change(
            lambda: control.workspace.record_to_write().add_lap(
                OwnLap("Clear one", "acrylic-lap", carries=("cerium-oxide",))
            )
        )
        control.state(control.with_own_lap(control.own_laps[0].id))
        await one.rest()
        lap = control.own_laps[0].id
        clean = control.answer
        await control.change(
            lambda: control.workspace.record_to_write().change_lap(lap, carries=("diamond-1200", "cerium-oxide"))
        )
        await one.rest()
        assert control.answer is not None
        assert clean is not None
        assert [c.probability for c in control.answer.causes] != [c.probability for c in clean.causes]
        with Record.open(where, readonly=True) as record:
            assert Session(control.workspace.knowledge, record=record).quick(control.case) == control.answer


async def test_a_record_that_can_no_longer_be_read_is_said_and_the_bench_goes_on(
    where: Folders, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looking back on it ended the program."""

    def unreadable(self: KeptCases) -> object:
        raise LapwiseError("the record is damaged")

    monkeypatch.setattr(KeptCases, "lately", unreadable)
    async with front(where) as one:
        assert any("the record is damaged" in words for words in one.controller.workspace.words)
        one.controller.state(QUARTZ)
        await one.rest()
        assert one.controller.answer is not None
        with pytest.raises(LapwiseError):
            await one.controller.end(None)
        assert one.controller.case.symptoms == ()
