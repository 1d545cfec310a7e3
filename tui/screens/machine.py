"""The machine: what differs from one to another, stated by hand or found with a two-minute ink test."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import ClassVar

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from lapwise.engine.errors import LapwiseError
from lapwise.engine.machine import MachineProfile, profile_from
from lapwise.engine.machine.profile import ABOUT, CHOICES, LIMITS
from lapwise.engine.wording import capital, listing, plain_id
from lapwise.tui.present.words import fit
from lapwise.tui.screens.ask import Blank
from lapwise.tui.screens.asking import choose_or_leave_open, fill_in
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.entry import Entry
from lapwise.tui.screens.ink_test import LABELS, InkTest
from lapwise.tui.screens.sheet import para
from lapwise.tui.widgets.rows import Row, Rows
from lapwise.tui.work import beside

WORDS = {
    "counterclockwise": "counter-clockwise",
    "own": "turns the stone the same way",
    "reversed": "turns the stone the other way",
    "upright": "dop upright",
    "level": "dop level",
    "teeth": "fractions of a tooth",
    "lines": "plain lines",
    "degrees": "degrees of the stone",
    "both": "both ways",
}
UNITS = {"gear": "teeth", "angle_resolution": "°", "lap_diameter_mm": "mm"}


class MachineRows(Rows):
    """The lines of the profile."""

    help_text = (
        "What is known of your machine. Enter or a tap changes the marked line; t begins the ink test, which finds out "
        "which way index and knob turn the stone. Without it the correction still says in words how to turn the stone."
    )


class MachineScreen(AreaScreen, area="machine"):
    """The profile, a line to each fact; nothing is saved before s."""

    CSS_PATH = "../machine.tcss"
    AUTO_FOCUS: ClassVar[str | None] = "#machine-rows"
    help_text = "Your machine."

    def __init__(self) -> None:
        super().__init__()
        self.forget()

    def forget(self) -> None:
        self.profile = MachineProfile()
        self._read = False

    def body(self) -> ComposeResult:
        yield MachineRows(id="machine-rows")
        with VerticalScroll(id="machine-detail", can_focus=False):
            yield Static("", id="machine-text", markup=False)

    def dress(self) -> None:
        super().dress()
        self.query_one(MachineRows).row_height = self.row_height

    def refresh_view(self) -> None:
        self.meet()
        if not self._read:
            self.profile = self.workspace.profile or MachineProfile()
            self._read = True
        self.query_one(MachineRows).show([Row(name, partial(self._paint, name)) for name in LABELS])
        self._show_marked()

    def _paint(self, name: str, width: int) -> Content:
        style = "italic" if getattr(self.profile, name) is None else "bold"
        words = fit(value_words(name, self.profile), width - 24)
        return Content.assemble((fit(LABELS[name], 24), "$secondary"), (words, style))

    def _show_marked(self) -> None:
        name = self.query_one(MachineRows).marked or "gear"
        lines = [para(capital(ABOUT[name]) + ".")]
        if (sign := self.profile.index_sign()) is not None:
            rise = "rises" if sign == 1 else "falls"
            lines.append(para(f"Turn the stone clockwise, seen from behind the handpiece: the index reading {rise}."))
        if (per_mark := self.profile.degrees_per_mark()) is not None:
            lines.append(para(f"One mark of the fine index turns the stone {per_mark:.3g}°."))
        if self.profile != (self.workspace.profile or MachineProfile()):
            lines.append(para("Not saved yet: press s.", style="bold $warning"))
        self.query_one("#machine-text", Static).update(Content("\n").join(lines))

    def on_rows_moved(self, message: Rows.Moved) -> None:
        message.stop()
        self._show_marked()

    def on_rows_chosen(self, message: Rows.Chosen) -> None:
        message.stop()
        self.do_change()

    # --- actions ---------------------------------------------------------------------------------------------

    def do_change(self) -> None:
        name = self.query_one(MachineRows).marked
        if name is None:
            return
        now = getattr(self.profile, name)
        if name in CHOICES:
            entries = [Entry(v, capital(WORDS.get(v, plain_id(v)))) for v in CHOICES[name]]
            choose_or_leave_open(self.app, LABELS[name], entries, lambda v: self._put(name, v or ""), start=now)
        else:
            low, high = LIMITS[name]
            typed_now = "" if now is None else f"{now:g}"
            blank = Blank("value", LABELS[name], typed_now, f"{low:g} to {high:g}, or empty")

            def read(typed: Mapping[str, str]) -> str:
                profile_from({**self._values(), name: typed["value"]})
                return typed["value"]

            about = capital(ABOUT[name]) + "."
            fill_in(self.app, LABELS[name], [blank], read, partial(self._put, name), about=about)

    def _values(self) -> dict[str, object]:
        return dict(self.profile.as_json())

    def _put(self, name: str, value: str) -> None:
        values = {**self._values(), name: value}
        if name == "fine_mark" and not value:
            values["fine_mark_size"] = None
        try:
            self.profile = profile_from(values)
        except LapwiseError as error:
            self.warn(str(error.problems[0]))
            return
        self.refresh_view()
        self.say("s saves the profile.")

    def do_keep(self) -> None:
        if self._met is self.workspace:  # never the profile of one bench on another
            self._keep()

    @beside("profile", alone=True, failed="Not saved")
    async def _keep(self) -> None:
        profile = self.profile
        await self.controller.keep_profile(profile)
        self.say(saved_words(profile))
        self._show_marked()

    def do_undo(self) -> None:
        self._read = False
        self.refresh_view()
        self.say("As saved.")

    def do_calibrate(self) -> None:
        """The guided ink test: one question after the other, then what follows from the answers."""
        InkTest(self, self._values, self._found, value_words).begin()

    def _found(self, profile: MachineProfile) -> None:
        self.profile = profile
        self.refresh_view()
        self.do_keep()


def saved_words(profile: MachineProfile) -> str:
    """What the correction can say from this profile, and what it still cannot."""
    named = {
        "the teeth of your gear": profile.gear,
        "your index numbers": profile.numbers_run,
        "your marks": profile.degrees_per_mark(),
        "your knob": profile.knob,
    }
    known = [words for words, value in named.items() if value is not None]
    open_ = [words for words, value in named.items() if value is None and words in ("your index numbers", "your knob")]
    text = f"Saved. Corrections now use {listing(known)}." if known else "Saved."
    return text + (f" t finds out {listing(open_)}." if open_ else "")


def value_words(name: str, profile: MachineProfile) -> str:
    """A fact of the profile in words."""
    value = getattr(profile, name)
    if value is None:
        return "not known"
    if name == "fine_mark_size":
        return f"{value:.4g} " + ("of a tooth" if profile.fine_mark == "teeth" else "° of the stone")
    if isinstance(value, int | float):
        return f"{value:g} {UNITS.get(name, '')}".strip()
    return WORDS.get(value, plain_id(str(value)))
