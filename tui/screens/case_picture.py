"""What stands on the case screen of the controller's ranking: rows, reason, notes, the line of the try."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content
from textual.widgets import Static

from lapwise.tui.actions import action_of
from lapwise.tui.open_case import ended
from lapwise.tui.present.case import name_of
from lapwise.tui.present.words import clock, fit
from lapwise.tui.screens import case_view
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.widgets.fields import Fields
from lapwise.tui.widgets.lines import Lines, cut, heading
from lapwise.tui.widgets.rows import Rows, text_row

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.model import Diagnosis, PlanStep
    from lapwise.engine.knowledge.model import Knowledge

LONG_SECONDS = 120.0
"""Two minutes on one facet without a look is long: common practice, no source."""
NOTHING_SEEN = ("case.seen", "case.tell", "case.machine", "case.say")
FIXED = ("case.new", "case.undo", "case.edit", "case.done")
"""What can be done while there is no plan: a row to each."""


class PlanRows(Rows):
    """What to try, best first."""

    help_text = (
        "What to try, in order. Each line: the remedy; its chance of putting the facet right if you tried it now; the "
        "minutes it takes; how many facets in a hundred are good by then, if all above it was tried too. » marks "
        "the one you are trying. Up and down move the mark ▸, enter shows how and why, t begins to try it and "
        "starts the clock. The list ends where a look, or saying more of what you know, would save more than a try; r "
        "lists the rest and says why each is not offered."
    )


class CaseFields(Fields):
    """What is on the machine and what is seen."""

    help_text = (
        "What is on the machine and what is seen. Tap any of it to change it; m lists all of it, s is for what you see "
        "or feel on the facet, a for more that you know. Leave out what you do not know."
    )


class CasePicture:
    """Paints into the widgets of ``screen`` what its controller holds."""

    def __init__(self, screen: AreaScreen) -> None:
        self._screen = screen
        self._shown: Diagnosis | None = None
        """The ranking that the rows show."""
        self._about: tuple[str | None, bool] | None = None
        """What else they show: what is being tried, and whether the case is closed."""

    @property
    def _knowledge(self) -> Knowledge:
        return self._screen.workspace.knowledge

    @property
    def _answer(self) -> Diagnosis | None:
        return self._screen.controller.answer

    def show_fields(self) -> None:
        """What is on the machine and what is seen."""
        controller = self._screen.controller
        own = controller.own_lap_name(controller.case.own_lap)
        fields = case_view.machine_fields(controller.case, self._knowledge, own)
        self._screen.query_one("#case-fields", Fields).show(fields)

    def show_ranking(self) -> None:
        """The newest ranking, or what can be done without one."""
        controller = self._screen.controller
        about = (controller.trying, ended(controller.case))
        if controller.answer is not self._shown or about != self._about:
            if controller.answer is not None:
                self.show_answer(controller.answer)
            else:
                self._show_nothing()
            self._shown, self._about = controller.answer, about

    def show_answer(self, answer: Diagnosis) -> None:
        """Show this answer. Of the same case the mark stays; else it goes to what is being tried, which an outcome key
        means, or to the first remedy."""
        rows, trying = self._screen.query_one(PlanRows), self._screen.controller.trying
        same = self._shown is not None and self._shown.case == answer.case
        self.show_rows(rows.marked if same else trying or (answer.plan[0].remedy if answer.plan else None))
        self.show_title()
        self.show_first()
        self.show_notes()
        self.show_trying()
        if self._screen.workspace.trouble:
            self._screen.warn(self._screen.workspace.trouble)

    def show_rows(self, mark: str | None) -> None:
        rows, trying = self._screen.query_one(PlanRows), self._screen.controller.trying
        case, tall = self._screen.controller.case, rows.row_height > 1
        shown = []
        if self._answer is not None and self._answer.plan:
            # what is being tried stays in sight even where the list would end before it
            steps = [s for s in self._answer.plan if s in self._answer.listed or s.remedy == trying]
            for place, step in enumerate(steps, 1):
                now = step.remedy == trying
                shown.append(case_view.plan_row(place, step, case, self._knowledge, trying=now, large=tall))
            shown.append(text_row("act:case.other", case_view.rest_words(self._answer, self._screen.key("case.other"))))
        with self._screen.prevent(Rows.Moved):
            rows.show(shown, mark=mark)
        self.show_reason()

    def show_first(self) -> None:
        """What comes before the first try, or why the first is first."""
        key, to_area = self._screen.key, self._screen.lapwise.keymap.to_area
        keys = {"fact": key("case.say"), "look": key("case.look"), "map": to_area("correction")}
        keys["fixed"] = key("case.fixed")
        keys["machine"] = key("case.machine")
        controller = self._screen.controller
        done = bool(controller.corrected_by())
        fields = case_view.first_fields(self._answer, controller.helps, keys, self._knowledge, corrected=done)
        self._screen.query_one("#first", Fields).show(fields)

    def show_title(self) -> None:
        title = self._screen.query_one("#plan-title", Static)
        if self._answer is None and self._screen.workspace.ready and ended(self._screen.controller.case):
            title.update(Content.styled("Fixed", "bold"))
            return
        rows = self._screen.query_one(PlanRows)
        # the columns of the rows, which are as wide as they are without the mark and the bar that scrolls
        inner = max(1, rows.scrollable_content_region.width - 2)
        room = title.content_size.width
        words = case_view.plan_title(self._answer, min(inner, room)) if room else Content("What to try")
        title.update(Content(" ") + words if inner < room else words, layout=False)

    def show_notes(self) -> None:
        notes = case_view.note_fields(self._answer, self._knowledge)
        self._screen.query_one("#notes", Fields).show(notes)
        causes = self._screen.query_one("#case-causes", Static)
        if self._answer is not None and self._screen.has_class("-wide"):
            lines = case_view.cause_lines(self._answer, max(20, causes.content_size.width), 9)
            causes.update(Content("\n").join([Content.styled("What may be wrong", "bold"), *lines]))

    def spread(self) -> None:
        """Let what is cut above and below the list go on in lines that the list leaves empty."""
        screen = self._screen
        if not screen.is_mounted:
            return
        rows = screen.query_one(PlanRows)
        places = [screen.query_one(name, Fields) for name in ("#notes", "#first")]
        needed = len(rows.rows) * rows.row_height
        empty = rows.size.height - needed + sum(place.size.height - len(place.fields) for place in places)
        for place in places:
            place.spare = max(0, min(empty, place.wanted(place.content_size.width)))
            empty -= place.spare

    def show_how(self) -> None:
        """Where there is room beside the plan: how the marked remedy is done, and why."""
        place = self._screen.query_one("#case-how", Lines)
        step = self.marked_step()
        if step is None or self._answer is None or not place.display:
            place.show(())
            return
        from lapwise.tui.screens.case_sheets import how_lines, why_lines  # start-up time

        place.show((heading(step.label), *how_lines(step, self._answer, self._knowledge), *why_lines(step)))

    def show_reason(self) -> None:
        self.show_how()
        place = self._screen.query_one("#reason", Static)
        words = case_view.reason_words(self.marked_step(), self._answer, self._knowledge)
        place.update(cut(words, place.content_size.width, place.content_size.height), layout=False)

    def marked_step(self) -> PlanStep | None:
        """The plan's step under the mark."""
        marked = self._screen.query_one(PlanRows).marked
        if self._answer is None or marked is None:
            return None
        return next((s for s in self._answer.plan if s.remedy == marked), None)

    def show_trying(self) -> None:
        """The line above the outcomes: what is being tried and for how long."""
        if not self._screen.workspace.ready:
            return
        line, step = self._screen.query_one("#trying", Static), self.marked_step()
        trying = self._screen.controller.trying
        parts: list[tuple[str, str]] = []
        if trying is not None:
            seconds = self._screen.controller.elapsed() or 0.0
            # the name comes last: it is what may be cut
            parts = [(f"» {clock(seconds)} ", "bold $secondary")]
            if seconds >= LONG_SECONDS:
                parts.append(("● two minutes: stop and look  ", "$warning"))
            parts += [("How did it go?  ", "$secondary"), (name_of(self._knowledge, trying), "bold")]
        elif step is not None:
            parts = [("t starts the clock.  Or tried already: ", "$secondary"), (step.label, "")]
        line.update(Content.assemble(*parts), layout=False)

    def _show_nothing(self) -> None:
        """What can be done while there is no plan."""
        actions = FIXED if ended(self._screen.controller.case) else NOTHING_SEEN
        rows = [text_row("act:" + name, fit(self._screen.key(name), 6) + action_of(name).about) for name in actions]
        self._screen.query_one(PlanRows).show(rows, mark=rows[0].id)
        for name in ("#notes", "#first"):
            self._screen.query_one(name, Fields).show(())
        self._screen.query_one("#case-how", Lines).show(())
        for place in ("#reason", "#case-causes", "#trying"):
            self._screen.query_one(place, Static).update("")
        self.show_title()
