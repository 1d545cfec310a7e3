"""The case: what is on the machine, what is seen, what to try, and how it went."""

from __future__ import annotations

from collections.abc import Callable, Coroutine, Mapping
from contextlib import ExitStack
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from lapwise.engine.case import Case, Outcome
from lapwise.engine.errors import BadInput
from lapwise.engine.numerals import read_number
from lapwise.engine.wording import counted, small
from lapwise.tui.actions import OUTCOME_ACTIONS
from lapwise.tui.open_case import OpenCase, ended, fresh, merged, with_fact, worth_keeping
from lapwise.tui.present.case import OUTCOME_WORDS, key_name, name_of, value_name
from lapwise.tui.present.words import taken as logged_minutes
from lapwise.tui.screens.asking import choose, fill_in
from lapwise.tui.screens.base import AreaScreen, keys_of
from lapwise.tui.screens.case_picture import CaseFields, CasePicture, PlanRows
from lapwise.tui.screens.case_questions import ENDS, Questions
from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.widgets.fields import Fields
from lapwise.tui.widgets.lines import Lines
from lapwise.tui.widgets.rows import Rows
from lapwise.tui.work import start

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.model import Diagnosis, PlanStep
    from lapwise.engine.knowledge.model import Look
    from lapwise.tui.screens.told import Told

HOLD_SECONDS = 0.08
"""How long the picture may wait for the ranking, so that a change and its answer are painted as one."""
OUTCOMES = (("fixed", "Fixed"), ("better", "Better"), ("no-change", "No change"), ("worse", "Worse"))


class CaseScreen(AreaScreen):
    """Where the day is spent: shows what the controller holds, asks, and hands on what was answered."""

    area = "case"
    BINDINGS: ClassVar[list[BindingType]] = keys_of("case")
    AUTO_FOCUS: ClassVar[str | None] = "#plan"
    help_text = "The case at hand. Say what is on the machine and what you see; try what stands first; say how it went."

    def __init__(self) -> None:
        super().__init__()
        self.picture = CasePicture(self)
        self._then: dict[str, Callable[[], None]] = {}
        """What was asked for while the plan, or the disk, was on its way."""
        self._held: ExitStack | None = None

    def body(self) -> ComposeResult:
        with Horizontal(id="case-body"):
            with Vertical(id="case-left"):
                yield CaseFields(id="case-fields")
                yield Static("", id="case-causes", markup=False)
                yield Lines(id="case-how")
            with Vertical(id="case-right"):
                yield Fields(id="first")
                yield Static("", id="plan-title", markup=False)
                yield PlanRows(id="plan", empty="Loading …")
                yield Static("", id="reason", markup=False)
                yield Fields(id="notes", flow=False)
        yield Static("", id="trying", markup=False)
        yield Bar(id="outcomes", spread=True)

    def on_mount(self) -> None:
        self.query_one("#outcomes", Bar).show(
            [Item(outcome, self.key(OUTCOME_ACTIONS[outcome]), label) for outcome, label in OUTCOMES]
        )
        self.set_interval(1.0, self._tick)

    @property
    def ask(self) -> Questions:
        """The questions of this area."""
        return Questions(self.app, lambda: self.controller, self.change)

    def dress(self) -> None:
        super().dress()
        rows = self.query_one(PlanRows)
        if rows.row_height != self.row_height:
            rows.row_height = self.row_height
            if self.answer is not None:
                self.picture.show_rows(rows.marked)

    # --- what is shown ---------------------------------------------------------------------------------------

    @property
    def open_case(self) -> OpenCase:
        """The case at hand."""
        return self.controller.open_case

    @property
    def answer(self) -> Diagnosis | None:
        """The newest ranking."""
        return self.controller.answer

    def refresh_view(self) -> None:
        self.case_changed()
        # the window may have got another size while another area was on the screen
        self.call_after_refresh(self.picture.show_title)
        self.call_after_refresh(self.picture.show_reason)

    def case_changed(self) -> None:
        controller = self.controller
        self.picture.show_fields()
        if controller.ranking or controller.logging:
            self.hold()
            return
        self.picture.show_ranking()
        self.picture.show_first()
        self.let_go()
        while self._then and not (controller.ranking or controller.logging):
            self._then.pop(next(iter(self._then)))()

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

    def _tick(self) -> None:
        if self.controller.trying is not None:
            self.picture.show_trying()

    def _label(self, item: str | None, unknown: str = "not stated") -> str:
        return name_of(self.workspace.knowledge, item, unknown)

    def on_resize(self) -> None:
        if self.workspace.ready:
            for show in (self.picture.show_title, self.picture.show_reason, self.picture.show_notes):
                self.call_after_refresh(show)

    def on_rows_moved(self, message: Rows.Moved) -> None:
        message.stop()
        self.picture.show_reason()
        self.picture.show_trying()

    # --- what is read ----------------------------------------------------------------------------------------

    def do_why(self) -> None:
        step = self.picture.marked_step()
        marked = self.query_one(PlanRows).marked or ""
        if marked.startswith("act:"):
            self.action_act(marked.removeprefix("act:"))
            return
        if step is None or self.answer is None:
            return
        from lapwise.tui.screens.case_sheets import remedy_sheet  # start-up time

        lines = remedy_sheet(step, self.answer, self.workspace.knowledge)
        does = {Item("try", "t", "Try it"): self.do_try, Item("causes", "y", "Causes"): self.do_causes}
        self.read(step.label, lines, does, picture=step.remedy)

    def do_other(self) -> None:
        """Every remedy that is not listed: why not, how it is done, and to try it all the same."""
        if self.answer is None or not self.answer.plan:
            self.warn("There is nothing to try yet. Press s and say what you see.")
        elif not self._is_closed():
            self.ask.rest(self._show_rest)

    def _show_rest(self, remedy: str) -> None:
        from lapwise.tui.screens.case_sheets import left_out_sheet, remedy_sheet  # start-up time

        answer, knowledge = self.answer, self.workspace.knowledge
        if answer is None:
            return
        step = next((s for s in answer.plan if s.remedy == remedy), None)
        if step is None:
            self.read(self._label(remedy), left_out_sheet(remedy, answer, knowledge))
        else:
            does = {Item("try", "t", "Try it all the same"): partial(self._try, step)}
            self.read(step.label, remedy_sheet(step, answer, knowledge), does, picture=remedy)

    def do_causes(self) -> None:
        from lapwise.tui.screens.case_sheets import causes_sheet  # start-up time

        if self.answer is not None:
            self.read("What may be wrong", causes_sheet(self.answer, self.workspace.knowledge))

    def do_cautions(self) -> None:
        from lapwise.tui.screens.case_sheets import cautions_sheet  # start-up time

        if self.answer is not None:
            self.read("Take care", cautions_sheet(self.answer, self.workspace.knowledge))

    def do_done(self) -> None:
        from lapwise.tui.screens.case_sheets import done_sheet  # start-up time

        self.read("Done in this case", done_sheet(self.open_case.steps, self.open_case.case, self.workspace.knowledge))

    # --- what is stated --------------------------------------------------------------------------------------

    def change(self, case: Case) -> None:
        """Take the case as it is stated now."""
        if self.controller.state(case):
            self.say("A new case with the same machine. The one before stays closed.")

    def do_machine(self) -> None:
        self.ask.machine()

    def do_seen(self) -> None:
        self.ask.seen()

    def do_tell(self) -> None:
        """Hear the case in the person's own words; what was heard is confirmed before anything of it is taken."""
        from lapwise.tui.screens.tell import Tell  # start-up time

        controller, workspace = self.controller, self.workspace

        def taken(lines: tuple[Told, ...] | None) -> None:
            if lines is not None:
                controller.draft = ""
                self._log(partial(self._told, lines), "Not kept")

        self.app.push_screen(
            Tell(
                workspace.knowledge,
                self._base(),
                lambda text: workspace.do(workspace.hear, text),
                self.ask.any_value,
                partial(setattr, controller, "draft"),
                controller.draft,
            ),
            taken,
        )

    async def _told(self, lines: tuple[Told, ...]) -> None:
        from lapwise.tui.screens.told import logged, stated  # start-up time

        case = self._base()
        tried, saw = logged(lines, case)
        await self.controller.tell(stated(lines, case), tried.items(), saw.items())
        count = counted(sum(line.taken for line in lines), "thing")
        self.say(f"Taken: {count} of what you told." + ("  u: undo the last log" if tried or saw else ""))

    def _base(self) -> Case:
        """What is told now goes upon this: the case at hand, or the next one with the same machine."""
        case = self.open_case.case
        return fresh(case) if ended(case) else case

    def do_say(self) -> None:
        self.ask.fact("What else do you know?")

    def do_what_if(self) -> None:
        """Change one thing for a moment and show what would move."""
        if not self._is_closed():
            self.ask.fact(
                "What if … ?",
                lambda key, value: start(self, partial(self._what_if, key, value), alone=True, group="what-if"),
            )

    async def _what_if(self, key: str, value: str | None) -> None:
        before, now = self.answer, self.open_case.case
        if before is None:
            return
        after = await self.workspace.do(self.workspace.what_if, merged(now, with_fact(now, key, value), now))
        words = value_name(self.workspace.knowledge, key, value) if value else "not known"
        title = f"If {key_name(key)} were: {small(words)}"

        from lapwise.tui.screens.case_sheets import moves  # start-up time

        def keep() -> None:
            self.change(with_fact(self.open_case.case, key, value))

        self.read(title, moves(before, after), {Item("keep", "k", "It is so: keep it"): keep})

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
        self.controller.time_try(step.remedy)
        self.case_changed()
        self.query_one(PlanRows).mark(step.remedy)
        cautions = [c for c in step.cautions if c in self.workspace.knowledge.cautions]
        if "rotating-lap" in cautions:
            self.say("Stop the lap before you touch it.", style="bold $warning")
        elif cautions:
            self.say("Take care: " + self._label(cautions[0]), style="bold $warning")
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

    def _outcome(self, outcome: Outcome) -> None:
        # a key pressed twice is not a second outcome
        if self.controller.logging or self._is_closed():
            return
        if self._must_wait("outcome", partial(self._outcome, outcome)):
            return
        step = self.picture.marked_step()
        remedy = self.controller.trying or (step.remedy if step else None)
        if remedy is None:
            self.warn("Nothing was tried yet. Mark a remedy and press t.")
            return
        self.hold()
        self._log(partial(self._log_outcome, remedy, outcome), "Not logged")

    def _log(self, work: Callable[[], Coroutine[Any, Any, None]], failed: str) -> None:
        self.controller.logging = True  # from the key on, not only from when it is begun
        start(self, work, group="log", failed=failed)

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

    def do_something_new(self) -> None:
        start(self, self._something_new, group="new", alone=True)

    async def _something_new(self) -> None:
        answer = self.answer
        if self._is_closed():
            return
        if answer is None or not answer.plan:
            self.say("First say what you see: press s.")
            return
        new = await self.workspace.do(self.workspace.something_new, self.open_case.case)
        step = next((s for s in answer.plan if new is not None and s.remedy == new.remedy), None)
        if new is None or step is None:
            self.say("Nothing new to offer: your record holds no cases yet, or nothing is left to try.")
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
        self.say(f"Undone: {small(name)}. The record keeps both.")

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
            Blank("minutes", "Minutes", "" if last.minutes is None else f"{last.minutes:g}", "a number, or empty"),
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
        await self.controller.end(result)
        self.say("A new case with the same machine. Press s and say what you see.")

    # --- taps ------------------------------------------------------------------------------------------------

    def on_rows_chosen(self, message: Rows.Chosen) -> None:
        message.stop()
        self.do_why()

    def on_fields_chosen(self, message: Fields.Chosen) -> None:
        message.stop()
        if not self.workspace.ready:
            return
        field = message.field_id
        if field in ("material", "lap", "compound", "stage", "prior"):
            self.ask.of_machine(field)
        else:
            does: Mapping[str, Callable[[], None]] = {
                "seen": self.do_seen,
                "say": self.do_say,
                "look": self.do_look,
                "worse": self.do_done,
                "cautions": self.do_cautions,
                "not": self.do_other,
                "unexplained": self.do_causes,
                "lead": self.do_why,
                "ask:fact": self.do_say,
                "ask:look": self.do_look,
                "ask:map": lambda: self.lapwise.action_area("correction"),
            }
            does[field]()

    def on_bar_chosen(self, message: Bar.Chosen) -> None:
        if message.bar.id == "outcomes":
            message.prevent_default().stop()
            self.action_act(OUTCOME_ACTIONS[message.item_id])


def _minutes(text: str) -> float | None:
    """Minutes typed; None if empty. Raises :class:`BadInput` for what is no number of minutes."""
    value = read_number(text, "min")
    if text and (value is None or not 0 <= value <= 100_000):
        raise BadInput("Minutes: a number from 0 to 100000 is required")
    return value
