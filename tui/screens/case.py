"""The case: what is on the machine, what is seen, what to try, and how it went."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from rich.cells import cell_len
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Static

from lapwise.engine.case import Case, Outcome
from lapwise.engine.errors import LapwiseError
from lapwise.tui.actions import OUTCOME_ACTIONS, of_area
from lapwise.tui.open_case import OpenCase, ended, worth_ranking
from lapwise.tui.present.words import fit
from lapwise.tui.screens import case_view
from lapwise.tui.screens.base import AreaScreen, keys_of
from lapwise.tui.screens.case_log import FIXED, CaseLog
from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.widgets.fields import Fields
from lapwise.tui.widgets.lines import cut
from lapwise.tui.widgets.rows import Rows, text_row
from lapwise.tui.work import start

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.model import Diagnosis, PlanStep, UnknownView
    from lapwise.tui.workspace import Workspace

HOLD_SECONDS = 0.08
"""How long the picture may wait for the ranking, so that a change and its answer are painted as one."""
NOTHING_SEEN = ("case.seen", "case.machine", "case.say")
OUTCOMES: tuple[tuple[Outcome, str, str], ...] = (
    ("fixed", "Fixed", "Fixed"),
    ("better", "Better", "Better"),
    ("no-change", "No change", "No change"),
    ("worse", "Worse", "Worse"),
)


class PlanRows(Rows):
    """What to try, best first."""

    help_text = (
        "What to try, in order. Each line: the remedy; the chance that it puts the facet right if what stands above it "
        "did nothing, as a bar, in per cent and in a word; the minutes it takes. » stands before the one you are "
        "trying. Up and down move the mark ▸, enter shows why and how, t begins to try it and starts the clock."
    )


class CaseFields(Fields):
    """What is on the machine and what is seen."""

    help_text = (
        "What is on the machine and what is seen. Tap any of it to change it; m lists all of it, s is for what you see "
        "or feel on the facet, a for more that you know. Leave out what you do not know."
    )


class CaseScreen(CaseLog, AreaScreen):
    """Where the day is spent."""

    area = "case"
    BINDINGS: ClassVar[list[BindingType]] = keys_of("case")
    AUTO_FOCUS: ClassVar[str | None] = "#plan"
    help_text = "The case at hand. Say what is on the machine and what you see; try what stands first; say how it went."

    def __init__(self) -> None:
        super().__init__()
        self.answer: Diagnosis | None = None
        self.trying: str | None = None
        self.began: float | None = None
        self.follow = False
        self.ranking = False
        self.logging = False
        self.then: Callable[[], None] | None = None
        self.helps: tuple[UnknownView, ...] = ()
        self.asked: tuple[Case, int, int] | None = None
        self._thinking = False
        self._moved_at = 0.0
        self._waiting: Diagnosis | None = None
        self._held = ExitStack()

    def body(self) -> ComposeResult:
        with Horizontal(id="case-body"):
            with Vertical(id="case-left"):
                yield CaseFields(id="case-fields")
                yield Static("", id="case-causes", markup=False)
            with Vertical(id="case-right"):
                yield Static("", id="plan-title", markup=False)
                yield PlanRows(id="plan", empty="Reading what is known …")
                yield Static("", id="reason", markup=False)
                yield Fields(id="notes", flow=False)
        yield Static("", id="trying", markup=False)
        yield Bar(id="outcomes", spread=True)

    def on_mount(self) -> None:
        keys = self.lapwise.keymap
        actions = {a.id: a for a in of_area("case")}
        self.query_one("#outcomes", Bar).show(
            [Item(o, keys.shown(actions[OUTCOME_ACTIONS[o]]), label, short) for o, label, short in OUTCOMES]
        )
        self.set_interval(1.0, self._tick)

    def bench_ready(self) -> None:
        if (running := self.lapwise.running) is not None:
            self.time_try(*running)
        super().bench_ready()

    def dress(self) -> None:
        super().dress()
        rows = self.query_one(PlanRows)
        height = 2 if self.lapwise.large or self.lapwise.touch else 1
        if rows.row_height != height:
            rows.row_height = height
            if self.answer is not None:
                self.show_rows(rows.marked)

    # --- what is shown ---------------------------------------------------------------------------------------

    @property
    def open_case(self) -> OpenCase:
        """The case at hand."""
        return self.lapwise.open_case

    def refresh_view(self) -> None:
        self.show_fields()
        self.rank()
        # the window may have got another size while another area was on the screen
        self.call_after_refresh(self._show_title)
        self.call_after_refresh(self._show_reason)

    def show_fields(self) -> None:
        """Show what the case states."""
        own = self.lapwise.own_lap_name(self.open_case.case.own_lap)
        fields = case_view.machine_fields(self.open_case.case, self.workspace.knowledge, own)
        self.query_one("#case-fields", Fields).show(fields)

    def rank(self) -> None:
        """Ask for the ranking; shows the quick one as soon as it is there and the exact one when it is ready.

        What was asked already is not asked again: coming back from a sheet changes nothing.
        """
        asked = (self.open_case.case, self.workspace.changes, id(self.workspace))
        if asked == self.asked:
            return
        self.asked = asked
        self.ranking = True
        start(self, partial(self._rank_held, self.hold()), alone=True, group="rank")

    def hold(self) -> ExitStack:
        """Paint nothing until the ranking is there, but no longer than :data:`HOLD_SECONDS`; returns what holds."""
        before, held = self._held, ExitStack()
        held.enter_context(self.app.batch_update())
        timer = self.set_timer(HOLD_SECONDS, partial(self.let_go, held))
        held.callback(timer.stop)
        self._held = held
        before.close()
        return held

    def let_go(self, held: ExitStack | None = None) -> None:
        """Paint from now on; ``held``: only if this is what holds the picture."""
        if held is None or held is self._held:
            self._held.close()
            self.check_idle()

    async def _rank_held(self, held: ExitStack) -> None:
        asked = self.asked
        try:
            await self._rank()
        finally:
            if asked is self.asked:  # else another ranking has taken its place
                self._ranked()
            self.let_go(held)

    def _ranked(self) -> None:
        """What is shown is the plan of the case as it stands: do what was asked for meanwhile."""
        self.ranking = False
        then, self.then = self.then, None
        if then is not None and self.answer is not None and self.answer.case == self.open_case.case:
            then()

    async def _rank(self) -> None:
        case, workspace = self.open_case.case, self.workspace
        workspace.stop_looking_on()
        self.helps = ()
        self._waiting = None
        if ended(case):
            self.show_nothing(FIXED, "Fixed")
            return
        if not worth_ranking(case):
            self.show_nothing(NOTHING_SEEN, "What to try")
            return
        self._thinking = True
        try:
            answer = await workspace.do(workspace.quick, case)
        except LapwiseError as error:
            self.warn(str(error.problems[0]))
            return
        if workspace is not self.workspace:
            return
        self._thinking = not answer.exact
        if self.follow and answer.plan:
            self.time_try(answer.plan[0].remedy)
        self.follow = False
        self.show_answer(answer)
        self._ranked()
        if workspace.trouble:
            self.warn(workspace.trouble)
        if not answer.plan:
            return
        self.let_go()
        await self.painted()
        if not answer.exact:
            await self._improve(workspace, case)
        if workspace is self.workspace and case == self.open_case.case:
            self.helps = await workspace.do(workspace.unknowns, case)

    async def _improve(self, workspace: Workspace, case: Case) -> None:
        """Put the better order in the place of the quick one, but never under a moving mark."""
        better = await workspace.exact_in_time(case)
        if workspace is not self.workspace:
            return
        self._thinking = False
        if better is not None and case == self.open_case.case:
            if self.cursor_is_moving():
                self._waiting = better
            else:
                self.show_answer(better)
        else:
            self._show_title()

    def cursor_is_moving(self) -> bool:
        """True if the mark was moved within the last seconds, or a remedy further down is being looked at."""
        return self.lapwise.clock() - self._moved_at < 3.0 or self.query_one(PlanRows).cursor > 0

    def show_answer(self, answer: Diagnosis) -> None:
        """Show this answer. A new quick order puts the mark on its first remedy; another of the same case keeps it."""
        rows = self.query_one(PlanRows)
        same = self.answer is not None and self.answer.case == answer.case
        mark = rows.marked if same else (answer.plan[0].remedy if answer.plan else None)
        self.answer = answer
        if self.trying is not None and self.trying not in {s.remedy for s in answer.plan}:
            self.time_try(None)
        self.show_rows(mark)
        self._show_title()
        self._show_notes()
        self.show_trying()

    def show_rows(self, mark: str | None) -> None:
        rows = self.query_one(PlanRows)
        plan = self.answer.plan if self.answer else ()
        tall = rows.row_height > 1
        with self.prevent(Rows.Moved):
            rows.show(
                [
                    case_view.plan_row(p, s, self.workspace.knowledge, trying=s.remedy == self.trying, large=tall)
                    for p, s in enumerate(plan, 1)
                ],
                mark=mark,
            )
        self._show_reason()

    def _show_title(self) -> None:
        title = self.query_one("#plan-title", Static)
        left, right = case_view.plan_title(self.answer, thinking=self._thinking)
        room = max(1, title.content_size.width - cell_len(left) - cell_len(right))
        if room <= 1 and " · " in right:
            right = right.partition(" · ")[0]
            room = max(1, title.content_size.width - cell_len(left) - cell_len(right))
        title.update(Content.assemble((left, "bold"), " " * room, (right, "$foreground 80%")), layout=False)

    def _show_notes(self) -> None:
        self.query_one("#notes", Fields).show(case_view.note_fields(self.answer, self.workspace.knowledge))
        causes = self.query_one("#case-causes", Static)
        if self.answer is not None and self.has_class("-wide"):
            lines = case_view.cause_lines(self.answer, max(20, causes.content_size.width), 9)
            causes.update(Content("\n").join([Content.styled("What may be wrong", "bold"), *lines]))

    def _show_reason(self) -> None:
        place = self.query_one("#reason", Static)
        words = case_view.reason_words(self.marked_step(), self.answer, self.workspace.knowledge)
        place.update(cut(words, place.content_size.width, place.content_size.height), layout=False)

    def marked_step(self) -> PlanStep | None:
        """The plan's step under the mark."""
        marked = self.query_one(PlanRows).marked
        if self.answer is None or marked is None:
            return None
        return next((s for s in self.answer.plan if s.remedy == marked), None)

    def mark(self, remedy: str) -> None:
        """Put the mark on a remedy of the plan."""
        self.query_one(PlanRows).mark(remedy)

    def on_resize(self) -> None:
        if self.workspace.ready:
            self.call_after_refresh(self._show_title)
            self.call_after_refresh(self._show_reason)
            self.call_after_refresh(self._show_notes)

    def on_rows_moved(self, message: Rows.Moved) -> None:
        message.stop()
        self._moved_at = self.lapwise.clock()
        self._show_reason()
        self.show_trying()
        if message.rows.cursor == 0 and self._waiting is not None and self._waiting.case == self.open_case.case:
            better, self._waiting = self._waiting, None
            self.set_timer(3.0, lambda: self._take_waiting(better))

    def _take_waiting(self, better: Diagnosis) -> None:
        if better.case == self.open_case.case and not self.cursor_is_moving():
            self.show_answer(better)

    def show_nothing(self, actions: tuple[str, ...], title: str) -> None:
        self.answer = None
        self.time_try(None)
        table = {a.id: a for a in of_area("case")}
        keymap = self.lapwise.keymap
        rows = [text_row("act:" + name, fit(keymap.shown(table[name]), 6) + table[name].about) for name in actions]
        self.query_one(PlanRows).show(rows, mark=rows[0].id)
        self.query_one("#notes", Fields).show(())
        self.query_one("#reason", Static).update("")
        self.query_one("#case-causes", Static).update("")
        self.query_one("#trying", Static).update("")
        self.query_one("#plan-title", Static).update(Content.styled(title, "bold"))

    def do_why(self) -> None:
        step = self.marked_step()
        marked = self.query_one(PlanRows).marked or ""
        if marked.startswith("act:"):
            self.action_act(marked.removeprefix("act:"))
            return
        if step is None or self.answer is None:
            return
        place = [s.remedy for s in self.answer.plan].index(step.remedy) + 1
        title = f"{place}. {step.label}"
        from lapwise.tui.screens.case_sheets import remedy_sheet

        lines = remedy_sheet(step, place, self.answer, self.workspace.knowledge)
        items = [Item("try", "t", "Try it"), Item("causes", "y", "Causes")]
        self.read(title, lines, items, self._after_why)

    def _after_why(self, chosen: str | None) -> None:
        if chosen == "try":
            self.do_try()
        elif chosen == "causes":
            self.do_causes()

    def do_causes(self) -> None:
        from lapwise.tui.screens.case_sheets import causes_sheet

        if self.answer is not None:
            self.read("What may be wrong", causes_sheet(self.answer, self.workspace.knowledge))

    def do_cautions(self) -> None:
        from lapwise.tui.screens.case_sheets import cautions_sheet

        if self.answer is not None:
            self.read("Take care", cautions_sheet(self.answer, self.workspace.knowledge))

    def do_done(self) -> None:
        from lapwise.tui.screens.case_sheets import done_sheet

        self.read("Done in this case", done_sheet(self.open_case.steps, self.open_case.case, self.workspace.knowledge))

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
            self.ask_for(field)
        else:
            {
                "seen": self.do_seen,
                "say": self.do_say,
                "look": self.do_look,
                "cautions": self.do_cautions,
                "not": self.do_cautions,
                "unexplained": self.do_causes,
            }[field]()

    def on_bar_chosen(self, message: Bar.Chosen) -> None:
        if message.bar.id == "outcomes":
            message.prevent_default().stop()
            self.action_act(OUTCOME_ACTIONS[message.item_id])
