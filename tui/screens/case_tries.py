"""The case's screen as far as it tries and logs: the clock, outcomes, looks, undo, and the end of a case."""

from __future__ import annotations

from collections.abc import Callable, Coroutine, Hashable, Mapping
from contextlib import ExitStack
from functools import partial, partialmethod
from typing import TYPE_CHECKING, Any

from lapwise.engine.case import Case, Outcome
from lapwise.engine.errors import BadInput
from lapwise.engine.numerals import read_number
from lapwise.engine.wording import small
from lapwise.tui.open_case import OpenCase, ended, worth_keeping
from lapwise.tui.present.case import OUTCOME_WORDS, name_of
from lapwise.tui.present.words import clock
from lapwise.tui.present.words import taken as logged_minutes
from lapwise.tui.screens.asking import choose, fill_in
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.case_picture import CasePicture, PlanRows
from lapwise.tui.screens.case_questions import ENDS, Questions
from lapwise.tui.widgets.bar import Item
from lapwise.tui.work import beside, start

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.model import Diagnosis, PlanStep
    from lapwise.engine.knowledge.model import Look
    from lapwise.tui.screens.sheet import Line

HOLD_SECONDS = 0.08
"""How long the picture may wait for the ranking, so that a change and its answer are painted as one."""


class CaseTries(AreaScreen):
    """What is done to the case at hand, and logged."""

    def __init__(self) -> None:
        super().__init__()
        self.picture = CasePicture(self)
        self._then: dict[str, Callable[[], None]] = {}
        """What was asked for while the plan, or the disk, was on its way."""
        self._held: ExitStack | None = None

    @property
    def puts_off(self) -> bool:
        """True while something asked for waits for the plan or the disk: the keys after it wait too."""
        return bool(self._then)

    @property
    def ask(self) -> Questions:
        """The questions of this area."""
        return Questions(self.app, lambda: self.controller, self.change)

    @property
    def open_case(self) -> OpenCase:
        """The case at hand."""
        return self.controller.open_case

    @property
    def answer(self) -> Diagnosis | None:
        """The newest ranking."""
        return self.controller.answer

    def hold(self) -> None:
        """Paint nothing until the ranking is there, but no longer than :data:`HOLD_SECONDS`."""
        if self._held is None:
            self._held = ExitStack()
            self._held.enter_context(self.app.batch_update())
            self._held.callback(self.set_timer(HOLD_SECONDS, self.let_go).stop)

    def let_go(self) -> None:
        """Paint from now on."""
        held, self._held = self._held, None
        if held is not None:
            held.close()
            self.check_idle()

    def _label(self, item: str | None, unknown: str = "not stated") -> str:
        return name_of(self.workspace.knowledge, item, unknown)

    def change(self, case: Case) -> None:
        """Take the case as it is stated now."""
        before = self.open_case
        if self.controller.state(case):
            self.say(f"A new case, {self._machine_after(before)}. The one before stays closed.")

    def _machine_after(self, before: OpenCase) -> str:
        """What is on the machine of the case that follows: the same, or what fixed the one before."""
        now = before.following
        if (now.lap, now.compound) == (before.case.lap, before.case.compound):
            return "same machine"
        pair = " with ".join(small(self._label(item)) for item in (now.lap, now.compound) if item)
        return f"now on {pair}, which fixed it (m changes it)"

    # --- trying and logging ----------------------------------------------------------------------------------

    def _is_closed(self) -> bool:
        """Whether the case is closed; says so."""
        if ended(self.open_case.case):
            self.say("This case is closed. x begins the next one.")
        return ended(self.open_case.case)

    def _must_wait(self, name: str, then: Callable[[], None]) -> bool:
        """True if the plan or the disk is on the way; ``then`` follows it, once."""
        if self.controller.ranking or self.controller.logging:
            self._then.setdefault(name, then)
            return True
        return False

    def do_try(self) -> None:
        """Begin the marked remedy."""
        if self._is_closed() or self._must_wait("try", self.do_try):
            return
        step = self.picture.marked_step()
        if step is None:
            self.warn("There is nothing to try yet. Press s and say what you see.")
            return
        self._try(step)

    def _try(self, step: PlanStep) -> None:
        self.controller.begin_try(step.remedy)
        self.case_changed()
        self.query_one(PlanRows).mark(step.remedy)
        cautions = [c for c in step.cautions if c in self.workspace.knowledge.cautions]
        if "rotating-lap" in cautions:
            self.say("Stop the lap before you touch it.", style="bold $warning")
        elif cautions:
            self.say("Take care: " + self._label(cautions[0]), style="bold $warning")
        else:
            self.say("The clock is running.")

    def _outcome(self, outcome: Outcome) -> None:
        self._outcome_of(self.lapwise.keys.pressed_on, outcome)

    def _outcome_of(self, pressed_on: Hashable, outcome: Outcome) -> None:
        """Log the outcome of the try that was at hand when it was pressed: pressed twice, it counts once."""
        if self._must_wait("outcome", partial(self._outcome_of, pressed_on, outcome)):
            return
        if self.controller.has_outcome(pressed_on):
            self.say("This try has its outcome already.  u: undo, e: time, note")
            return
        if self._is_closed():
            return
        step, running = self.picture.marked_step(), self.controller.trying
        if step is None and running is None:
            self.warn("Nothing was tried yet. Mark a remedy and press t.")
        elif outcome == "fixed" and running is None and step is not None and self._corrected_beside(step):
            self._ask_whether_corrected(pressed_on, step)
        elif running is None or step is None or step.remedy == running:
            self._outcome_for(running or (step.remedy if step else ""), outcome)
        else:
            self._ask_which(pressed_on, running, step, outcome)

    def _corrected_beside(self, step: PlanStep) -> bool:
        """Whether the map in Correction shows that another remedy than this one has fixed it."""
        ways = self.controller.corrected_by()
        return bool(ways) and step.remedy not in ways

    def _ask_which(self, pressed_on: Hashable, running: str, step: PlanStep, outcome: Outcome) -> None:
        """A try runs and the mark stands on another line: ask which of the two the outcome is of."""
        time = clock(self.controller.elapsed() or 0.0)
        ways = {
            running: ("The one » tried", f"» {self._label(running)}: you are trying it, the clock is at {time}."),
            step.remedy: (
                "The one ▸ marked",
                f"▸ {step.label}: the marked line. It was not timed; the clock of the other goes on.",
            ),
        }
        self._ask_of(pressed_on, outcome, ways)

    def _ask_whether_corrected(self, pressed_on: Hashable, step: PlanStep) -> None:
        """The map in Correction is bright all over: ask whether that, or the marked line, has fixed it."""
        remedy = self.controller.corrected_by()[0]
        ways = {
            remedy: ("The correction", f"{self._label(remedy)}: your map in Correction is bright all over."),
            step.remedy: ("The one ▸ marked", f"▸ {step.label}: the marked line."),
        }
        self._ask_of(pressed_on, "fixed", ways)

    def _ask_of(self, pressed_on: Hashable, outcome: Outcome, ways: Mapping[str, tuple[str, str]]) -> None:
        """Ask of which remedy an outcome is; ``ways``: remedy to its word at the foot and its sentence."""
        from lapwise.tui.screens.sheet import Sheet, para, point  # start-up time

        lines: list[Line] = [para(f"How it went: {OUTCOME_WORDS[outcome]}.", style="bold")]
        lines += [point(said, str(at)) for at, (_, said) in enumerate(ways.values(), 1)]
        items = [Item(remedy, str(at), word) for at, (remedy, (word, _)) in enumerate(ways.items(), 1)]

        def meant(remedy: str | None) -> None:
            if remedy is None:
                self.say("Nothing was logged.")
            elif self.controller.has_outcome(pressed_on):
                self.say("This try has its outcome already.  u: undo, e: time, note")
            else:
                self._outcome_for(remedy, outcome)

        self.app.push_screen(Sheet("Which one do you mean?", lines, items, close="Log nothing"), meant)

    def _outcome_for(self, remedy: str, outcome: Outcome) -> None:
        self.hold()
        self._log(partial(self._log_outcome, remedy, outcome), "Not logged")

    do_fixed = partialmethod(_outcome, "fixed")
    do_better = partialmethod(_outcome, "better")
    do_no_change = partialmethod(_outcome, "no-change")
    do_worse = partialmethod(_outcome, "worse")

    def _log(self, work: Callable[[], Coroutine[Any, Any, None]], failed: str) -> None:
        on_its_way = ExitStack()
        on_its_way.enter_context(self.controller.on_its_way())  # from the key on, not only from when it is begun

        async def logged() -> None:
            with on_its_way:
                await work()

        start(self, logged, group="log", failed=failed)

    async def _log_outcome(self, remedy: str, outcome: Outcome) -> None:
        minutes = await self.controller.log(remedy, outcome)
        words = "Logged" if self.workspace.record is not None else "Noted, not saved"
        words += f": {OUTCOME_WORDS[outcome]}"
        words += f", {logged_minutes(minutes)}." if minutes is not None else "."
        label = small(self._label(remedy))  # the name comes last: it is what may be cut
        if outcome == "fixed":
            self.say(f"{words}  x: next case, u: undo  ({label})", style="bold $success")
        else:
            self.say(f"{words}  u: undo, e: time, note  ({label})")

    def do_look(self) -> None:
        """Take a look: the most telling stands first; then say what it showed."""
        if not self._is_closed():
            self.ask.look(self._show_look)

    def _show_look(self, look: Look) -> None:
        from lapwise.tui.screens.case_sheets import look_sheet  # start-up time

        began = self.lapwise.clock()

        def log(result: str) -> None:
            minutes = max(0.1, round((self.lapwise.clock() - began) / 60, 1))
            self._log(partial(self._log_look, look, result, minutes), "Not logged")

        does = {Item("result", "enter", "Say what you saw"): partial(self.ask.result, look, log)}
        self.read(look.label, look_sheet(look, self.workspace.knowledge), does, picture=look.id)

    async def _log_look(self, look: Look, result: str, minutes: float) -> None:
        await self.controller.look(look.id, result, minutes)
        self.say(f"Logged: {small(look.label)}: {small(look.result_labels.get(result, result))}. u: undo")

    @beside("new", alone=True)
    async def do_something_new(self) -> None:
        answer = self.answer
        if self._is_closed():
            return
        if answer is None or not answer.plan:
            self.say("First say what you see: press s.")
            return
        new = await self.workspace.do(self.workspace.something_new, self.open_case.case)
        step = next((s for s in answer.plan if new is not None and s.remedy == new.remedy), None)
        if new is None or step is None:
            self.say("Nothing new to offer: no cases yet, or nothing left to try.")
            return
        from lapwise.tui.screens.case_sheets import new_sheet  # start-up time

        def try_it() -> None:
            self.query_one(PlanRows).mark(step.remedy)
            self.do_try()

        first = step is answer.plan[0]
        self.read("Something new", new_sheet(step, new, first=first), {Item("try", "t", "Try it"): try_it})

    # --- undo, time and note, new case -----------------------------------------------------------------------

    def do_undo(self) -> None:
        if self._must_wait("undo", self.do_undo):
            return
        if self.open_case.last is None and not (self.open_case.case.tried or self.open_case.case.saw):
            self.say("There is nothing to undo in this case.")
            return
        self._log(self._undo, "Not undone")

    async def _undo(self) -> None:
        step = await self.controller.undo()
        name = self._label((step.remedy or step.look) if step else None, "the last log")
        self.say(f"Undone: {small(name)}. The record shows it as taken back.")

    def do_edit(self) -> None:
        """Correct the minutes of the last log or add a note."""
        if self._must_wait("edit", self.do_edit):
            return
        last = self.open_case.last
        if last is None:
            self.say("Nothing is logged in this case yet.")
            return
        from lapwise.tui.screens.ask import Blank  # start-up time

        blanks = [
            Blank.number("minutes", "Minutes", last.minutes, "a number, or empty"),
            Blank("note", "Note", last.note, "anything worth keeping"),
        ]

        def typed(said: tuple[float | None, str]) -> None:
            self._log(partial(self._amend, *said), "Not changed")

        title = f"Last log: {small(self._label(last.remedy or last.look))}"
        fill_in(self.app, title, blanks, lambda typed: (_minutes(typed["minutes"]), typed["note"]), typed)

    async def _amend(self, minutes: float | None, note: str) -> None:
        await self.controller.amend(minutes, note)
        self.say(f"Changed: {logged_minutes(minutes)}" + (f", “{note}”" if note else "") + ".")

    def do_new(self) -> None:
        """Close this case and begin another with the same machine."""
        if self._must_wait("new", self.do_new):
            return
        now = self.open_case
        if self.workspace.record is None or ended(now.case) or not (now.case_id or worth_keeping(now.case)):
            start(self, partial(self._end, None), group="log")
            return

        def chosen(result: str) -> None:
            start(self, partial(self._end, result), group="log", failed="Not closed")

        choose(self.app, "How did this case end?", ENDS, chosen)

    async def _end(self, result: str | None) -> None:
        machine = self._machine_after(self.open_case)
        await self.controller.end(result)
        self.say(f"A new case, {machine}. Press s and say what you see.")


def _minutes(text: str) -> float | None:
    """Minutes typed; None if empty. Raises :class:`BadInput` for what is no number of minutes."""
    value = read_number(text, "min")
    if text and (value is None or not 0 <= value <= 100_000):
        raise BadInput("Minutes: a number from 0 to 100000 is required")
    return value
