"""The correction: mark what polished, and see which side must go down, which way to turn, and how far."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import replace
from functools import partialmethod
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from lapwise.engine.case import Trial
from lapwise.engine.contact.frame import frame_of, index_change
from lapwise.engine.contact.words import signed
from lapwise.engine.errors import BadInput, LapwiseError, NothingFound
from lapwise.engine.machine import gear_of
from lapwise.engine.machine.described import FACTS
from lapwise.engine.transfer import make_row
from lapwise.tui.open_case import ended
from lapwise.tui.present.words import taken as logged_minutes
from lapwise.tui.screens.ask import Blank
from lapwise.tui.screens.asking import choose_or_leave_open, fill_in
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.correction_view import (
    DONE,
    RENEWED,
    answer_lines,
    legend,
    setting_fields,
    trial_lines,
    why_no_turn,
)
from lapwise.tui.screens.entry import DO_NOT_KNOW, Entry
from lapwise.tui.screens.facet_questions import FacetQuestions
from lapwise.tui.screens.settings import Setting, blank_like, degrees_typed, settings_of, trials_of, turned_dull
from lapwise.tui.screens.sheet import para
from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.widgets.facet_map import FacetPicture, Grid
from lapwise.tui.widgets.fields import Fields
from lapwise.tui.work import beside

if TYPE_CHECKING:
    from lapwise.engine.contact import Correction


MOST_BACK = 200
"""Marks that can be taken back."""
RUNS = (Entry("up", "Up"), Entry("down", "Down"))
"""Which way the index numbers run, where the machine is not described."""


class CorrectionScreen(AreaScreen, area="correction"):
    """Works on the facet of the case at hand; every mark is kept as it is made."""

    CSS_PATH = "../correction.tcss"
    AUTO_FOCUS = "#facet"
    help_text = "Which way to nudge: mark what this setting touched, then follow the arrow and the words."

    def __init__(self) -> None:
        super().__init__()
        self.forget()

    def forget(self) -> None:
        self.settings: list[Setting] = [Setting()]
        self.on_ink = False
        self.answer: Correction | None = None
        self._told_of: tuple[Trial, ...] = ()
        """The maps it was last said of that they are the end."""
        self._working = False
        self._then: Callable[[], None] | None = None
        """What was asked for while the answer to the newest mark was still on its way."""
        self._before: list[tuple[Hashable, list[Setting], bool]] = []
        """What stood before each mark: the case it is of, the settings, and whether it was the ink map's."""
        self._gone: tuple[list[Setting], str | None] | None = None
        """Settings taken away by one key, and the id of the case they are of."""

    def body(self) -> ComposeResult:
        yield Fields(id="correction-fields")
        with Horizontal(id="correction-body"):
            with Vertical(id="correction-left"):
                yield Static("", id="map-title", markup=False)
                with Horizontal(id="maps"):
                    yield FacetPicture(id="facet", painted=self._painted)
                    yield FacetPicture(id="other-map")
                yield Static("", id="map-legend", markup=False)
                yield Bar(id="marks", spread=True)
            with VerticalScroll(id="correction-right", can_focus=False):
                yield Static("", id="advice", markup=False)

    # --- what is shown ---------------------------------------------------------------------------------------

    @property
    def setting(self) -> Setting:
        """The present setting."""
        return self.settings[-1]

    @property
    def picture(self) -> FacetPicture:
        """The map being marked."""
        return self.query_one("#facet", FacetPicture)

    @property
    def ask(self) -> FacetQuestions:
        """The questions of this area."""
        return FacetQuestions(self.app, lambda: self.controller, self.controller.state)

    def refresh_view(self) -> None:
        self.meet()
        self._take()
        if self.setting.ink is not None and not any(c in "BD" for row in self.setting.polish for c in row):
            self.on_ink = True
        self._show()

    def case_changed(self) -> None:
        self._take()
        self._show()

    def _take(self) -> None:
        """The settings of the case, where they are not those at hand."""
        trials = self.controller.case.facet.trials
        if trials_of(self.settings) != trials:
            self.settings = settings_of(trials)
            self.on_ink = False
            self._before.clear()

    def _show(self) -> None:
        self.show_maps()
        self._working = True
        self._work_out()

    def show_maps(self) -> None:
        """Show both maps of the present setting and what is stated of the facet."""
        case, answer = self.controller.case, self.answer
        across = along = 0.0
        frame = frame_of(case.facet)
        ends = (frame.tip, frame.dop)
        if answer is not None and not answer.done and answer.shape.kind != "even":
            across = answer.slope_across.degrees if answer.turn.degrees or answer.spins else 0.0
            along = answer.angle.degrees
        ink = self.setting.ink or blank_like(self.setting.polish)
        mine, other = (ink, self.setting.polish) if self.on_ink else (self.setting.polish, ink)
        self.picture.show(mine, ink=self.on_ink, across=across, along=along, ends=ends)
        other_map = self.query_one("#other-map", FacetPicture)
        other_map.show(other, ink=not self.on_ink, ends=ends)
        other_map.display = self.has_class("-wide") and (self.setting.ink is not None or self.on_ink)
        number = len(self.settings)
        what = "ink map" if self.on_ink else "polish map"
        fresh = ", fresh" if self.setting.fresh or (number == 1 and not self.on_ink) else ""
        self.query_one("#map-title", Static).update(Content.styled(f"Setting {number}: {what}{fresh}", "bold"))
        self.query_one("#map-legend", Static).update(legend(ink=self.on_ink))
        self._show_marks()
        self.query_one("#correction-fields", Fields).show(setting_fields(case, self.workspace))

    def _show_marks(self) -> None:
        """What marks the map, to tap; at the end, what comes then."""
        pace = "Goes on" if self.lapwise.choices.goes_on else "Stays"
        names = {
            "bright": ("Rubbed" if self.on_ink else "Bright", ""),
            "dull": ("Ink left" if self.on_ink else "Dull", ""),
            "unknown": (DO_NOT_KNOW, "?"),
            "none": ("No stone", ""),
            "rest": ("Rest rubbed" if self.on_ink else "Rest bright", "Rest"),
            "fixed": ("Log it", ""),
            "hand-over": ("To Transfer", "Transfer"),
            "pace": (f"Cursor {pace.lower()}", pace),
        }
        done = self.answer is not None and self.answer.done
        left_out = {"unknown", "rest", "none", "pace"} if done else {"hand-over", "fixed"}
        if not self.lapwise.touch:
            left_out.add("none")  # a finger has no key for it
        if not self._moved:
            left_out.add("fixed")
        shown = {f"correction.{name}": said for name, said in names.items() if name not in left_out}
        self.query_one("#marks", Bar).show(Item(name, self.key(name), *said) for name, said in shown.items())

    @beside("correct", alone=True)
    async def _work_out(self) -> None:
        case, answer, complaint = self.controller.case, None, None
        if case.facet.trials and self.setting.said:  # what the setting before called for is turned already
            try:
                answer = await self.workspace.do(self.workspace.correct, case.facet, case.prior)
            except (BadInput, NothingFound) as error:  # the map says nothing: that is the advice
                complaint = str(error.problems[0])
            except LapwiseError:
                self._working = False
                raise
        self._working = False
        self.answer = answer
        self._show_advice(complaint)
        if answer is not None and answer.done and self._told_of != case.facet.trials:
            self._told_of = case.facet.trials
            self._say_done()
        self.show_maps()
        then, self._then = self._then, None
        if then is not None:
            then()

    @property
    def _moved(self) -> bool:
        """Whether stone or angle were moved at all, so that it may be what fixed it."""
        return bool(self.setting.turn or self.setting.angle)

    def _say_done(self) -> None:
        log = f"  {self.key('correction.fixed')}: log it" if self._moved else ""
        words = f"{DONE}{log}  {self.key('correction.hand-over')}: row into Transfer"
        self.say(words, style="bold $success")

    def _must_wait(self, then: Callable[[], None]) -> bool:
        """True if what the newest mark says is still being worked out; ``then`` follows it."""
        if self._working:
            self._then = then
        return self._working

    def _show_advice(self, complaint: str | None = None) -> None:
        lines = answer_lines(self.answer, self.workspace.profile, complaint)
        lines += trial_lines(self.settings)
        if turned_dull(self.settings):
            lines.insert(0, para(f"! {RENEWED}", style="bold $warning"))
        self.show_answer("#advice", "#correction-right", Content("\n").join(lines))

    def on_resize(self) -> None:
        if self.workspace.ready:
            self.call_after_refresh(self.show_maps)

    # --- keeping ---------------------------------------------------------------------------------------------

    def keep(self) -> None:
        """Take the marks into the case."""
        before = self.controller.case
        self.controller.state(replace(before, facet=replace(before.facet, trials=trials_of(self.settings))))
        if self.controller.case is before:
            self._show()

    def _painted(self, grid: Grid) -> None:
        """The map as it was marked now."""
        self._gone = None
        self._note()
        now = self.setting
        self.settings[-1] = replace(now, ink=grid) if self.on_ink else replace(now, polish=grid)
        self.keep()

    def _note(self) -> None:
        """Take note of what stands now, for it is about to be changed."""
        self._before.append((self.controller.at_hand, list(self.settings), self.on_ink))
        del self._before[:-MOST_BACK]

    # --- actions ---------------------------------------------------------------------------------------------

    def do_mark(self) -> None:
        self.picture.mark()

    def _mark(self, polish: str, ink: str) -> None:
        self.picture.mark(ink if self.on_ink else polish, step=self.lapwise.choices.goes_on)

    do_bright = partialmethod(_mark, "B", "R")
    do_dull = partialmethod(_mark, "D", "N")
    do_unknown = partialmethod(_mark, "?", "?")
    do_none = partialmethod(_mark, ".", ".")

    def do_pace(self) -> None:
        """After a mark the cursor stays, or goes on: which of both is stated beside the map, and kept."""
        goes_on = not self.lapwise.choices.goes_on
        self.lapwise.choose(goes_on=goes_on)
        self.show_maps()
        self.say("After each mark the cursor goes to the next cell." if goes_on else "The cursor stays where it is.")

    def do_rest(self) -> None:
        """All cells not marked yet are bright (rubbed)."""
        mark = "R" if self.on_ink else "B"
        self._painted(tuple(row.replace("?", mark) for row in self.picture.grid))

    def do_turned(self) -> None:
        """Begin the next setting where the advice said."""
        if self._must_wait(self.do_turned):
            return
        answer = self.answer
        if answer is None:
            self.warn("Mark first what this setting polished.")
        elif answer.done:
            self._say_done()
        elif answer.turn.degrees or answer.angle.degrees:
            self._next(answer.next_turn, answer.next_angle)
        else:
            self.say(why_no_turn(answer))

    def _next(self, turn: float, angle: float) -> None:
        self._note()
        self.settings.append(Setting(turn, angle, polish=blank_like(self.setting.polish)))
        self.on_ink, self.answer = False, None
        self.show_maps()
        self.say(f"Setting {len(self.settings)}. Polish a while, then mark. f: newly inked.")
        self._show_advice()

    @property
    def _not_done(self) -> str:
        """Why the facet is not called bright all over."""
        if self.answer is not None and self.answer.warns("two-planes"):
            key = self.key("correction.fresh")
            return f"Press {key} first, if it was inked or pre-polished afresh."
        return "Not yet: first the facet must be bright all over."

    def do_fixed(self) -> None:
        """Log that the correction fixed it, which closes the case."""
        if self._must_wait(self.do_fixed):
            return
        controller = self.controller
        ways = controller.corrected_by()
        if ended(controller.case):
            self.say("This case is closed already.")
        elif self.answer is None or not self.answer.done:
            self.warn(self._not_done)
        elif not ways:
            self.warn("Nothing was turned here, so it was not the correction that fixed it. 1: log what you tried.")
        elif not controller.logging:
            self._log_fixed(ways[0])

    @beside("log", failed="Not logged")
    async def _log_fixed(self, remedy: str) -> None:
        minutes = await self.controller.log(remedy, "fixed")
        took = f", {logged_minutes(minutes)}" if minutes is not None else ""
        self.say(f"Logged: fixed it{took}. The case is closed.  1: see it  u there: undo", style="bold $success")

    def do_hand_over(self) -> None:
        """Put what this facet needed in all into the list of the transfer."""
        if self._must_wait(self.do_hand_over):
            return
        answer, facet = self.answer, self.controller.case.facet
        if answer is None or not answer.done:
            self.warn(self._not_done)
        elif facet.adapter == "45":
            self.warn("A table in the 45-degree adapter does not tell how the stone sits on its dop: no row for it.")
        elif facet.angle is None or facet.index is None:
            self.ask.numbers(self.do_hand_over, "Transfer counts from the facet's own angle and index.")
        elif self.controller.transfer.rows and self.controller.transfer.gear not in (None, self._gear):
            self.warn(f"Transfer counts in a {self.controller.transfer.gear} gear, this facet in {self._gear}.")
        else:
            teeth, angle = answer.in_all
            sign = self.workspace.profile.index_sign() if self.workspace.profile is not None else None

            def run(way: str | None) -> None:
                if way is None:
                    self.warn("Without it Transfer gets no row: turn the stone a little, and read the index.")
                    return
                self.controller.told_of_machine(numbers_run="counterclockwise" if way == "up" else "clockwise")
                self._list(index_change(self.setting.turn, self._gear, 1 if way == "up" else -1), angle)

            if teeth is not None:
                self._list(teeth, angle)
            elif sign is not None:
                run("up" if sign > 0 else "down")
            else:
                choose_or_leave_open(self.app, FACTS["numbers_run"].asks, RUNS, run)

    @property
    def _gear(self) -> int:
        return gear_of(self.controller.case.facet.gear, self.workspace.profile)

    def _list(self, teeth: float, angle: float) -> None:
        facet, rows = self.controller.case.facet, self.controller.transfer.rows
        assert facet.index is not None
        assert facet.angle is not None
        try:
            row = make_row(len(rows) + 1, facet.index, facet.angle, teeth, angle, self._gear)
        except LapwiseError as error:
            self.warn(str(error.problems[0]))
            return
        others = [other for other in rows if (other.index, other.angle) != (row.index, row.angle)]
        self.controller.list_facets([*others, row], self._gear)
        changes = f"index {signed(teeth)} teeth, angle {signed(angle)}°"
        self.say(f"Row {len(others) + 1} of Transfer: {changes}.  3: see it")

    def do_totals(self) -> None:
        """State what was really turned since the first setting."""
        turn, angle = self.setting.turn, self.setting.angle
        if self.answer is not None and not self.answer.done and self.setting.said:
            turn, angle = self.answer.next_turn, self.answer.next_angle
        blanks = [
            Blank.number("turn", "Turn of the stone", turn, "degrees in all, clockwise +"),
            Blank.number("angle", "Change of angle", angle, "degrees in all, raise +"),
        ]

        def read(typed: Mapping[str, str]) -> tuple[float, float]:
            return degrees_typed("Turn", typed["turn"]), degrees_typed("Angle", typed["angle"])

        def taken(new: tuple[float, float]) -> None:
            if self.setting.said and new != (self.setting.turn, self.setting.angle):
                self._next(*new)
            else:
                self.settings[-1] = replace(self.setting, turn=new[0], angle=new[1])
                self.keep()

        about = "In all from the first setting, of the stone, seen from behind the handpiece."
        fill_in(self.app, "What did you set?", blanks, read, taken, about=about)

    def do_ink(self) -> None:
        self.on_ink = not self.on_ink
        if self.on_ink and self.setting.ink is None:
            self.settings[-1] = replace(self.setting, ink=blank_like(self.setting.polish))
        self.show_maps()
        self.say("Ink map: R where the ink went, N where it is still there." if self.on_ink else "Polish map.")

    def do_fresh(self) -> None:
        self._note()
        self.settings[-1] = replace(self.setting, fresh=not self.setting.fresh)
        self.say("Fresh ink or pre-polish before this map." if self.setting.fresh else "Not fresh: bright may be old.")
        self.keep()

    def _resize(self, step: int) -> None:
        self.settings[-1] = self.setting.in_cells(step)
        self.keep()

    do_finer = partialmethod(_resize, 1)
    do_coarser = partialmethod(_resize, -1)

    def do_back(self) -> None:
        before = self._before.pop() if self._before else None
        if before is not None and before[0] is self.controller.at_hand:
            fewer = len(before[1]) < len(self.settings)
            self.settings, self.on_ink, self.answer = list(before[1]), before[2], None
            self.say("Back to the setting before." if fewer else "The last mark is taken back.")
            self.keep()
            return
        self._before.clear()
        if len(self.settings) > 1:
            self.settings.pop()
            self.say("Back to the setting before.")
        elif not self.setting.said and self._gone is not None and self._gone[1] == self.controller.open_case.case_id:
            self.settings, self._gone = self._gone[0], None
            self.say("The settings are back.")
        elif self.setting.said:
            self._take_away([Setting(polish=blank_like(self.setting.polish))])
            self.say("The map is empty again. u brings it back.")
        else:
            self.say("There is nothing to undo.")
        self.on_ink, self.answer = False, None
        self.keep()

    def do_restart(self) -> None:
        if len(self.settings) == 1 and not self.setting.said:
            self.say("No setting of this facet is marked yet.")
            return
        self._take_away([Setting()])
        self.on_ink, self.answer = False, None
        self.say("All maps of this facet are forgotten. u brings them back.")
        self.keep()

    def _take_away(self, instead: list[Setting]) -> None:
        self._before.clear()
        self._gone = (self.settings, self.controller.open_case.case_id)
        self.settings = instead

    def do_read(self) -> None:
        self.read_on("#correction-right")

    def do_knob(self) -> None:
        self.lapwise.action_area("machine")

    def do_setting(self) -> None:
        self.ask.facet()

    def field_chosen(self, field: str) -> None:
        if field == "machine":
            self.do_knob()
        else:
            self.ask.of_facet(field)
