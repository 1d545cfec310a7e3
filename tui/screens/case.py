"""The case: what is on the machine, what is seen, what to try, and how it went."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from lapwise.engine.case import Case
from lapwise.engine.wording import counted, small
from lapwise.tui.actions import OUTCOME_ACTIONS, action_of
from lapwise.tui.open_case import ended, merged, with_fact, worth_keeping
from lapwise.tui.present.case import key_name, value_name
from lapwise.tui.present.words import safe
from lapwise.tui.screens.asking import choose
from lapwise.tui.screens.case_picture import CaseFields, PlanRows
from lapwise.tui.screens.case_tries import CaseTries
from lapwise.tui.screens.entry import Entry
from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.widgets.fields import Fields
from lapwise.tui.widgets.lines import Lines
from lapwise.tui.widgets.rows import Rows
from lapwise.tui.work import beside, start

if TYPE_CHECKING:
    from lapwise.engine.words.heard import Hearing
    from lapwise.tui.screens.told import Told


class CaseScreen(CaseTries, area="case", row="why"):
    """Where the day is spent: shows what the controller holds, asks, and hands on what was answered."""

    AUTO_FOCUS = "#plan"
    help_text = "The case at hand. Say what is on the machine and what you see; try what comes first; say how it went."

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
        items = (Item(outcome, self.key(name), action_of(name).label) for outcome, name in OUTCOME_ACTIONS.items())
        self.query_one("#outcomes", Bar).show(items)
        self.set_interval(1.0, self._tick)

    def dress(self) -> None:
        super().dress()
        rows = self.query_one(PlanRows)
        if rows.row_height != self.row_height:
            rows.row_height = self.row_height
            if self.answer is not None:
                self.picture.show_rows(rows.marked)

    # --- what is shown ---------------------------------------------------------------------------------------

    def say(self, text: str, *, style: str = "") -> None:
        super().say(text, style=style)
        if self.workspace.ready:
            self.call_after_refresh(self.picture.spread)

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
        self.call_after_refresh(self.picture.spread)
        while self._then and not (controller.ranking or controller.logging):
            self._then.pop(next(iter(self._then)))()

    def _tick(self) -> None:
        if self.controller.trying is not None:
            self.picture.show_trying()

    def on_resize(self) -> None:
        if self.workspace.ready:
            picture = self.picture
            for show in (picture.show_title, picture.show_reason, picture.show_notes, picture.spread):
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

    def do_plan(self) -> None:
        """The work on this stone from cutting to polish; asked for where none is stated."""
        stone = self.controller.case.material
        if stone is None:
            self.ask.any_value("material", self._plan)
        else:
            self._plan(stone)

    def _plan(self, stone: str | None) -> None:
        if stone is not None:
            start(self, partial(self._show_plan, stone), group="plan", alone=True)

    async def _show_plan(self, stone: str) -> None:
        from lapwise.tui.screens.case_sheets import plan_sheet  # start-up time

        workspace = self.workspace
        result = await workspace.do(workspace.plan, stone, self.controller.own_laps)
        self.read(f"{self._label(stone)}: from cutting to polish", plan_sheet(result, workspace.knowledge))

    # --- what is stated --------------------------------------------------------------------------------------

    def do_machine(self) -> None:
        self.ask.machine()

    def do_seen(self) -> None:
        self.ask.seen()

    def do_tell(self) -> None:
        """Hear the case in the person's own words; what was heard is confirmed before anything of it is taken."""
        draft = self.controller.draft
        if not draft.strip():
            self._tell("")
            return
        entries = [
            Entry("on", "Go on with that text", safe(draft, 200)),
            Entry("anew", "Begin with an empty line", "that text is dropped"),
        ]
        title = "You typed something before that was not taken"
        choose(self.app, title, entries, lambda how: self._tell(draft if how == "on" else ""), whole=True)

    def _tell(self, draft: str) -> None:
        from lapwise.tui.screens.tell import Tell  # start-up time

        controller, workspace = self.controller, self.workspace

        def taken(lines: tuple[Told, ...] | None) -> None:
            if lines is not None:
                self._is_it_this_stone(lines)

        keep = partial(setattr, controller, "draft")

        async def hear(text: str) -> Hearing:
            return await workspace.do(workspace.hear, text)

        tell = Tell(workspace.knowledge, self._base(), hear, self.ask.any_value, keep, draft)
        self.app.push_screen(tell, taken)

    def _is_it_this_stone(self, lines: tuple[Told, ...]) -> None:
        """Take what was told; of another stone than that of a case under way, ask first which case it is of."""
        from lapwise.tui.screens.told import stated  # start-up time

        case = self._base()
        stone = stated(lines, case).material

        def take(which: str = "same") -> None:
            self.controller.draft = ""
            self._log(partial(self._told, lines, anew=which == "new"), "Not kept")

        if case.material in (None, stone) or not worth_keeping(case):
            take()
            return
        before, now = self._label(case.material), self._label(stone)
        entries = [
            Entry("new", f"Begin a new case: {small(now)}", "same lap and polish; the case before stays open"),
            Entry("same", f"Same case: it is {small(now)}, not {small(before)}", "what was seen and tried stays"),
        ]
        choose(self.app, f"Another stone? This case is of {small(before)}", entries, take, whole=True)

    async def _told(self, lines: tuple[Told, ...], *, anew: bool = False) -> None:
        from lapwise.tui.screens.told import logged, stated  # start-up time

        if anew:
            await self.controller.end(None)
        # the step before was that of the other stone
        case = replace(self._base(), prior=None) if anew else self._base()
        tried, saw = logged(lines, case)
        await self.controller.tell(stated(lines, case), tried.items(), saw.items())
        count = counted(sum(line.taken for line in lines), "thing")
        begun = "A new case. " if anew else ""
        self.say(f"{begun}Taken: {count} from what you told." + ("  u: undo the last log" if tried or saw else ""))

    def _base(self) -> Case:
        """What is told now goes upon this: the case at hand, or the next one with the same machine."""
        now = self.open_case
        return now.following if ended(now.case) else now.case

    def do_say(self) -> None:
        self.ask.fact("What else do you know?")

    def do_what_if(self) -> None:
        """Change one thing for a moment and show what would move."""
        if not self._is_closed():
            self.ask.fact("What if … ?", self._what_if)

    @beside("what-if", alone=True)
    async def _what_if(self, key: str, value: str | None) -> None:
        before, now = self.answer, self.open_case.case
        if before is None:
            return
        after = await self.workspace.do(self.workspace.what_if, merged(now, with_fact(now, key, value), now))
        words = value_name(self.workspace.knowledge, key, value) if value else "not known"
        thing = {"material": "the stone", "lap": "the lap", "compound": "the polish"}.get(key)
        title = f"If {thing} were {small(words)}" if thing else f"If {key_name(key)} were: {small(words)}"

        from lapwise.tui.screens.case_sheets import moves  # start-up time

        def keep() -> None:
            self.change(with_fact(self.open_case.case, key, value))

        self.read(title, moves(before, after), {Item("keep", "k", "It is so: keep it"): keep})

    # --- taps ------------------------------------------------------------------------------------------------

    def field_chosen(self, field: str) -> None:
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
                "corrected": lambda: self.action_act(OUTCOME_ACTIONS["fixed"]),
                "ask:fact": self.do_say,
                "ask:look": self.do_look,
                "ask:machine": self.do_machine,
                "remains": self.do_why,
                "began": self.do_machine,
                "ask:map": lambda: self.lapwise.action_area("correction"),
            }
            does[field]()

    def on_bar_chosen(self, message: Bar.Chosen) -> None:
        if message.bar.id == "outcomes":
            message.prevent_default().stop()
            self.action_act(OUTCOME_ACTIONS[message.item_id])
