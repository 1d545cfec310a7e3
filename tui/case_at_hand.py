"""The case at hand: what is stated, tried, ranked and written. No widget is touched here.

It belongs to the screen's own thread; whatever is slow is awaited on the workspace's.
"""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import Awaitable, Callable, Hashable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any, Protocol

from lapwise.engine.case import Case, Outcome
from lapwise.engine.errors import LapwiseError, Overtaken
from lapwise.tui.open_case import Hand, OpenCase, Try, ended, merged, with_fact, worth_ranking
from lapwise.tui.work import Work

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.model import Diagnosis, UnknownView
    from lapwise.engine.record.model import OwnLap, Step
    from lapwise.tui.workspace import Workspace


class Start(Protocol):
    """Begins work beside the screen; what it raises is said, after ``failed``. ``alone``: no other in its group."""

    def __call__(self, work: Work, *, group: str, alone: bool = False, failed: str = "") -> None: ...


@dataclass(frozen=True, slots=True)
class Front:
    """What a front end does for the case at hand. ``tell``: called after every change. ``calm``: waits until it is
    painted. ``clock``: seconds that run forward. ``entered``: called when the person has written something.

    What cannot be done is raised by the coroutines that ``start`` begins, and said by it.
    """

    start: Start
    tell: Callable[[], None]
    calm: Callable[[], Awaitable[None]]
    clock: Callable[[], float] = time.monotonic
    entered: Callable[[], None] = lambda: None


class CaseAtHand:
    """The only owner of the open case."""

    def __init__(self, workspace: Workspace, front: Front) -> None:
        self.workspace = workspace
        self.entered: set[str] = set()
        """What the person has written since the start: ``case``, ``laps``, ``machine``, ``transfer``."""
        self.answer: Diagnosis | None = None
        """The newest ranking; None where there is nothing to rank."""
        self.helps: tuple[UnknownView, ...] = ()
        """What would help most to know of the case just ranked."""
        self.ranking = False
        """True while ``answer`` is not yet that of the case as it stands."""
        self.trying: str | None = None
        self.draft = ""
        """What was typed in own words and not taken yet."""
        self.own_laps: tuple[OwnLap, ...] = ()
        self.seen_lately: tuple[str, ...] = ()
        self._front = front
        self._hand = Hand(OpenCase(Case()))
        self._writing = asyncio.Lock()
        self._logs = 0  # on their way to the disk
        self.shown = self._hand.next_try
        """The try that the newest ranking shown is for."""
        self._begun: Try | None = None
        self._began: float | None = None
        self._asked: tuple[Case, int] | None = None
        self._changes = 0
        """Grows with whatever an answer rests on beside the case: the record, own laps, the machine."""

    @property
    def open_case(self) -> OpenCase:
        """The case at hand."""
        return self._hand.open_case

    @property
    def case(self) -> Case:
        """What is stated, tried and seen by now."""
        return self._hand.open_case.case

    @property
    def at_hand(self) -> Hashable:
        """Stands for the case at hand: another one as soon as another case is."""
        return self._hand

    @property
    def logging(self) -> bool:
        """True while a log is on its way to the disk."""
        return self._logs > 0

    def _tell(self) -> None:
        if not (self.ranking or self.logging):
            self.shown = self._hand.next_try
        self._front.tell()

    def _changed(self, *, anew: bool = False) -> None:
        """The case, or (``anew``) what its ranking rests on, is another than before."""
        self._changes += anew
        if (self.case, self._changes) != self._asked:
            self._asked = (self.case, self._changes)
            self.helps = ()
            self.ranking = worth_ranking(self.case) and not ended(self.case)
            if self.ranking:
                self._front.start(self._rank, group="rank", alone=True)
            else:
                self.answer = None
                self.time_try(None)
        self._tell()

    async def look_back(self) -> None:
        """Read own laps and what was seen lately from the record."""
        self.own_laps, self.seen_lately = await self.workspace.do(self.workspace.cases.lately)

    # --- what is stated --------------------------------------------------------------------------------------

    def state(self, case: Case) -> bool:
        """Take the case as stated now and put it on disk. Stated of a closed case, it begins another; True then."""
        now = self.open_case
        if case == now.case:
            return False
        another = ended(now.case)
        if another:
            self._hand = Hand(OpenCase(merged(now.case, case, now.following)))
        else:
            self._hand.open_case = replace(now, case=merged(now.case, case, now.case), resumed=False)
        self._changed()
        self._front.start(partial(self._keep, self._hand), group="keep", failed="Not kept")
        self._enter("case")
        return another

    def put(self, key: str, value: str | None) -> bool:
        """State one thing, as :meth:`state`."""
        return self.state(with_fact(self.case, key, value))

    # --- the ranking -----------------------------------------------------------------------------------------

    async def _rank(self) -> None:
        asked, case, workspace = self._asked, self.case, self.workspace
        try:
            answer = await workspace.do(workspace.quick, case)
        except (LapwiseError, OSError):
            self._ranked(asked, None)
            raise
        self._ranked(asked, answer)
        if answer.plan:
            await self._front.calm()
            helps = await workspace.do(workspace.unknowns, case)
            if asked is self._asked and helps != self.helps:
                self.helps = helps
                self._tell()

    def _ranked(self, asked: tuple[Case, int] | None, answer: Diagnosis | None) -> None:
        if asked is not self._asked:
            return  # another ranking has taken its place
        self.answer, self.ranking = answer, False
        plan = [step.remedy for step in answer.plan] if answer else []
        if self.trying not in (None, *plan):
            self.time_try(None)
        self._tell()

    # --- the clock of a try ----------------------------------------------------------------------------------

    def time_try(self, remedy: str | None, seconds: float = 0.0) -> None:
        """Start the clock on a remedy, ``seconds`` ago, or stop it (None). It survives the end of the program."""
        before, self.trying = self.trying, remedy
        self._began = None if remedy is None else self._front.clock() - seconds
        if remedy is not None or before is not None:
            self._front.start(self._keep_clock, group="clock", alone=True, failed="Not kept")

    def begin_try(self, remedy: str) -> None:
        """Start the clock on a remedy chosen by the person: what is asked for from now on is of this try."""
        self._begun = self._hand.next_try
        self.time_try(remedy)

    def has_outcome(self, seen: Hashable) -> bool:
        """Whether ``seen``, the try :attr:`shown` at some time, has its outcome and the person began none since."""
        now, known = self._hand.next_try, (seen, self._begun)
        return now not in known and any(isinstance(one, Try) and one.hand is now.hand for one in known)

    def elapsed(self) -> float | None:
        """Seconds since the try began, or None if none did."""
        return None if self._began is None else max(0.0, self._front.clock() - self._began)

    async def _keep_clock(self) -> None:
        await self._front.calm()
        if self.trying is not None:
            await self.keep()
        workspace = self.workspace
        await workspace.do(workspace.keep_clock, self.open_case, self.trying, self.elapsed() or 0.0)

    # --- what is written -------------------------------------------------------------------------------------

    async def _write(self, hand: Hand, work: Callable[..., OpenCase], *what: Any) -> None:
        """Put something of a case on disk: one after the other, each upon what the one before left.

        Once asked for it is seen to its end, though what asked has gone, as everything does when the program is left.
        """
        await asyncio.shield(self._put(hand, work, *what))

    async def _put(self, hand: Hand, work: Callable[..., OpenCase], *what: Any) -> None:
        async with self._writing:
            before = hand.open_case
            try:
                after = await self.workspace.do(work, before, *what)
            except Overtaken:
                if hand.kept is not None and hand.kept.case_id is not None:
                    after = await self.workspace.do(self.workspace.cases.reread, hand.kept.case_id)
                    self._settle(hand, hand.kept.case, after)
                raise
            self._settle(hand, before.case, after)

    def _settle(self, hand: Hand, base: Case, after: OpenCase) -> None:
        """A case as it is on disk now; what was stated of it since ``base`` stays stated."""
        stated = hand.open_case.case
        hand.open_case = hand.kept = after
        if stated == base:
            return
        if not ended(after.case):
            hand.open_case = replace(after, case=merged(base, stated, after.case))
        elif hand is self._hand:  # closed meanwhile: what was stated since is of the next one
            self._hand = hand = Hand(OpenCase(merged(base, stated, after.following)))
        self._front.start(partial(self._keep, hand), group="keep", failed="Not kept")

    async def _keep(self, hand: Hand) -> None:
        await self._front.calm()
        if hand.open_case is not hand.kept:
            with contextlib.suppress(Overtaken):  # what the other window said is taken up, and kept with what is here
                await self._write(hand, self.workspace.cases.keep)
            self._changed()

    async def keep(self) -> None:
        """Put the case on disk as it now stands."""
        await self._keep(self._hand)

    def _enter(self, what: str) -> None:
        self.entered.add(what)
        self._front.entered()

    @contextlib.contextmanager
    def on_its_way(self) -> Iterator[None]:
        """While this lasts, a log is on its way to the disk."""
        self._logs += 1
        try:
            yield
        finally:
            self._logs -= 1
            self._changed()

    async def _log(self, work: Callable[..., OpenCase], *what: Any) -> None:
        self._enter("case")
        with self.on_its_way():
            await self._write(self._hand, work, *what)
            self._changes += 1

    async def log(self, remedy: str, outcome: Outcome) -> float | None:
        """Log what a remedy did; returns the minutes it was timed for, None for one that was never begun.

        It is on disk when this returns. No clock runs afterwards before another try is begun; that of another remedy
        than the one logged goes on.
        """
        seconds = self.elapsed() if self.trying == remedy else None
        minutes = None if seconds is None else max(0.1, round(seconds / 60, 1))
        shown, hand = self.answer, self._hand
        self._begun = hand.next_try
        if seconds is not None:
            self.time_try(None)
        try:
            await self._log(self.workspace.cases.log, remedy, outcome, minutes, shown)
        except BaseException:
            if seconds is not None and hand is self._hand:
                self.time_try(remedy, seconds)
                self._tell()
            raise
        return minutes

    async def look(self, look: str, result: str, minutes: float) -> None:
        """Log what a look showed."""
        await self._log(self.workspace.cases.look, look, result, minutes, self.answer)

    async def tell(self, case: Case, tried: Iterable[tuple[str, Outcome]], saw: Iterable[tuple[str, str]]) -> None:
        """State what was told of the case, then log what was tried and looked at before: nobody timed or advised it.

        ``case``: upon the case at hand, or upon a fresh one with the same machine where that is closed.
        """
        if ended(self.case):
            self._hand = Hand(OpenCase(self.open_case.following))
        self.state(case)
        with self.on_its_way():
            told = sorted(tried, key=lambda t: t[1] == "fixed")  # what cured it ends the case
            cures = [remedy for remedy, outcome in told if outcome == "fixed"]
            for remedy, outcome in told[: len(told) - len(cures)]:
                await self._log(self.workspace.cases.log, remedy, outcome, None, None)
            for name, result in saw:
                await self._log(self.workspace.cases.look, name, result, None, None)
            for remedy in cures[-1:]:
                await self._log(self.workspace.cases.log, remedy, "fixed", None, None)

    async def undo(self) -> Step | None:
        """Take the last log back, and let the clock of a timed try go on. Returns what was taken back."""
        step = self.open_case.last
        await self._log(self.workspace.cases.undo)
        if step is not None and step.kind == "try" and step.minutes:
            self.time_try(step.remedy, step.minutes * 60)  # it goes on where it was when it was logged
            self._tell()
        return step

    async def amend(self, minutes: float | None, note: str) -> None:
        """Other minutes or another note for the last log."""
        await self._log(self.workspace.cases.amend, minutes, note)

    async def end(self, result: str | None) -> None:
        """Begin another case with the same machine; close this one as ``result``, or let it be (None)."""
        hand, new = self._hand, Hand(OpenCase(self.open_case.following))
        untouched = new.open_case
        self._hand = new
        self.time_try(None)
        self._changed()
        if result is not None:
            try:
                await self._write(hand, self.workspace.cases.end, result)
            except BaseException:
                if self._hand is new and new.open_case is untouched:
                    self._hand = hand
                    self._changed()
                raise
        await self.look_back()
        self._changed(anew=True)
