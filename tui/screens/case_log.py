"""The try: its clock, its outcome in the record, and something new where finding out matters more than time."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from functools import partial
from typing import TYPE_CHECKING

from textual.content import Content
from textual.widgets import Static

from lapwise.engine.case import Outcome
from lapwise.engine.errors import LapwiseError
from lapwise.engine.wording import small
from lapwise.tui.present import case as case_view
from lapwise.tui.present.words import clock
from lapwise.tui.present.words import taken as logged_minutes
from lapwise.tui.screens.case_changes import CaseChanges
from lapwise.tui.widgets.bar import Item
from lapwise.tui.work import start

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.model import PlanStep

LONG_SECONDS = 120.0
"""Two minutes on one facet without a look is long: common practice, no source."""
FIXED = ("case.new", "case.undo", "case.edit", "case.done")
"""What can be done while there is no plan: a row to each."""


class CaseLog(CaseChanges):
    """The part of the case screen that tries and logs; :class:`~lapwise.tui.screens.case.CaseScreen` shows it."""

    trying: str | None
    began: float | None
    follow: bool
    """True while the next remedy shown is to be begun at once."""
    ranking: bool
    """True while what is shown is not yet the plan of the case as it stands."""
    logging: bool
    """True while an outcome is on its way to the disk: a key pressed twice is not a second outcome."""
    then: Callable[[], None] | None
    """What was asked for while the plan was on its way."""

    def marked_step(self) -> PlanStep | None:
        """The plan's step under the mark."""
        raise NotImplementedError

    def mark(self, remedy: str) -> None:
        """Put the mark on a remedy of the plan."""
        raise NotImplementedError

    def show_rows(self, mark: str | None) -> None:
        """Show the plan's rows as they stand."""
        raise NotImplementedError

    def show_nothing(self, actions: tuple[str, ...], title: str) -> None:
        """Show what can be done while there is no plan."""
        raise NotImplementedError

    def hold(self) -> ExitStack:
        """Paint nothing until the ranking is there; returns what holds."""
        raise NotImplementedError

    def let_go(self, held: ExitStack | None = None) -> None:
        """Paint from now on; ``held``: only if this is what holds the picture."""
        raise NotImplementedError

    # --- the clock -------------------------------------------------------------------------------------------

    def time_try(self, remedy: str | None, seconds: float = 0.0) -> None:
        """Start the clock on a remedy, ``seconds`` ago, or stop it (None). It survives the end of the program."""
        before = self.trying
        self.trying = remedy
        self.began = None if remedy is None else self.lapwise.clock() - seconds
        if remedy is not None or before is not None:
            start(self, self._keep_clock, group="clock", alone=True)

    def leave_clock(self) -> None:
        """Show no try any more; the one on disk runs on, and is taken up again with its bench."""
        self.trying, self.began = None, None

    async def _keep_clock(self) -> None:
        await self.painted()
        if self.trying is not None:
            await self.lapwise.keep()
        await self.workspace.do(self.workspace.keep_clock, self.open_case, self.trying, self.elapsed() or 0.0)

    def elapsed(self) -> float | None:
        """Seconds since the try began, or None if none did."""
        return None if self.began is None else max(0.0, self.lapwise.clock() - self.began)

    def _tick(self) -> None:
        if self.trying is not None:
            self.show_trying()

    def show_trying(self) -> None:
        """The line above the outcomes: what is being tried and for how long."""
        line = self.query_one("#trying", Static)
        if not self.workspace.ready:
            return
        step = self.marked_step()
        seconds = self.elapsed()
        if self.trying is not None and seconds is not None:
            label = case_view.name_of(self.workspace.knowledge, self.trying)
            # the name comes last: it is what may be cut
            parts: list[tuple[str, str]] = [(f"» {clock(seconds)} ", "bold $secondary")]
            if seconds >= LONG_SECONDS:
                parts.append(("● two minutes: stop and look  ", "$warning"))
            parts += [("How did it go?  ", "$secondary"), (label, "bold")]
            line.update(Content.assemble(*parts), layout=False)
        elif step is not None:
            words = Content.assemble(("t starts the clock.  Or tried already: ", "$secondary"), (step.label, ""))
            line.update(words, layout=False)
        else:
            line.update("", layout=False)

    # --- trying and logging ----------------------------------------------------------------------------------

    def do_try(self) -> None:
        """Begin the marked remedy."""
        if self._must_wait(self.do_try):
            return
        step = self.marked_step()
        if step is None:
            self.warn("There is nothing to try yet. Press s and say what you see.")
            return
        self.time_try(step.remedy)
        self.show_rows(step.remedy)
        self.show_trying()
        cautions = [c for c in step.cautions if c in self.workspace.knowledge.cautions]
        if "rotating-lap" in cautions:
            self.say("Stop the lap before you touch it.", style="bold $warning")
        elif cautions:
            self.say("Take care: " + case_view.name_of(self.workspace.knowledge, cautions[0]), style="bold $warning")
        else:
            self.say("The clock is running.")

    def do_fixed(self) -> None:
        self._outcome("fixed")

    def do_better(self) -> None:
        self._outcome("better")

    def do_no_change(self) -> None:
        self._outcome("no-change")

    def do_worse(self) -> None:
        self._outcome("worse")

    def _must_wait(self, then: Callable[[], None]) -> bool:
        """True if this is not the time: the case is closed, or its plan is on the way and ``then`` follows it."""
        if self.is_closed():
            return True
        if self.ranking:
            self.then = then
        return self.ranking

    def _outcome(self, outcome: Outcome) -> None:
        if self.logging or self._must_wait(partial(self._outcome, outcome)):
            return
        step = self.marked_step()
        remedy = self.trying or (step.remedy if step else None)
        if remedy is None:
            self.warn("Nothing was tried yet. Mark a remedy and press t.")
            return
        self.logging = True
        held = self.hold()
        start(self, partial(self._log_held, remedy, outcome, held), group="log")

    async def _log_held(self, remedy: str, outcome: Outcome, held: ExitStack) -> None:
        try:
            await self._log(remedy, outcome)
        finally:
            self.logging = False
            self.let_go(held)

    async def _log(self, remedy: str, outcome: Outcome) -> None:
        seconds = self.elapsed() if self.trying == remedy else None
        taken = None if seconds is None else max(0.1, round(seconds / 60, 1))
        timed = self.began is not None
        self.time_try(None)
        shown = self.answer
        try:
            await self.lapwise.write(lambda open_case: self.workspace.log(open_case, remedy, outcome, taken, "", shown))
        except (LapwiseError, OSError) as error:
            if seconds is not None:
                self.time_try(remedy, seconds)
            self.warn(f"Not logged: {error}")
            return
        label = case_view.name_of(self.workspace.knowledge, remedy)
        words = "Logged" if self.workspace.record is not None else "Noted, not kept"
        words += f": {case_view.OUTCOME_WORDS[outcome]}"
        words += f", {logged_minutes(taken)}." if taken is not None else "."
        label = small(label)  # the name comes last: it is what may be cut
        if outcome == "fixed":
            self.say(f"{words}  x: next case, u: undo  ({label})", style="bold $success")
            self.show_nothing(FIXED, "Fixed")
            return
        self.say(f"{words}  u: undo, e: time, note  ({label})")
        self.show_fields()
        # the hand is already at the machine: the clock goes on with the next remedy
        self.follow = timed
        self.rank()

    def do_something_new(self) -> None:
        start(self, self._something_new, group="new", alone=True)

    async def _something_new(self) -> None:
        if self.is_closed():
            return
        if self.answer is None or not self.answer.plan:
            self.say("First say what you see: press s.")
            return
        try:
            new = await self.workspace.do(self.workspace.something_new, self.open_case.case)
        except (LapwiseError, OSError) as error:
            self.warn(str(error))
            return
        step = next((s for s in self.answer.plan if new is not None and s.remedy == new.remedy), None)
        if new is None or step is None:
            self.say("Nothing new to offer: your record holds no cases yet, or nothing is left to try.")
            return
        from lapwise.tui.screens.case_sheets import new_sheet

        def decided(chosen: str | None) -> None:
            if chosen == "try":
                self.mark(step.remedy)
                self.do_try()

        first = step is self.answer.plan[0]
        self.read("Something new", new_sheet(step, new, first=first), [Item("try", "t", "Try it")], decided)
