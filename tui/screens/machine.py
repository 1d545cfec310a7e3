"""The machine: what differs from one to another, stated by hand or found with a two-minute ink test."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from lapwise.engine.errors import LapwiseError
from lapwise.engine.machine import MachineProfile, profile_from
from lapwise.engine.machine.profile import ABOUT, CHOICES, LIMITS
from lapwise.tui.screens.ask import Ask, Blank
from lapwise.tui.screens.base import AreaScreen, keys_of
from lapwise.tui.screens.chooser import Chooser
from lapwise.tui.screens.entry import Entry
from lapwise.tui.screens.sheet import Sheet, para
from lapwise.tui.widgets.bar import Item
from lapwise.tui.widgets.rows import Row, Rows
from lapwise.tui.words import capital, fit, plain_id
from lapwise.tui.work import start

LABELS = {
    "gear": "Index gear", "numbers_run": "Index numbers rise", "fine_mark": "Fine index marked in",
    "fine_mark_size": "One mark is", "knob": "Fine-index knob", "angle_zero": "Angle dial 0 is",
    "angle_resolution": "Angle dial step", "rest": "Angle rests on", "lap_diameter_mm": "Lap diameter",
    "lap_directions": "Lap runs",
}  # fmt: skip
WORDS = {
    "counterclockwise": "counter-clockwise", "own": "turns the stone its own way",
    "reversed": "turns the stone the other way", "upright": "dop upright", "level": "dop level",
    "teeth": "fractions of a tooth", "lines": "plain lines", "degrees": "degrees of the stone", "both": "both ways",
}  # fmt: skip
UNITS = {"gear": "teeth", "angle_resolution": "°", "lap_diameter_mm": "mm"}


class MachineRows(Rows):
    """The lines of the profile."""

    help_text = (
        "What is known of your machine. Enter or a tap changes the marked line; t begins the ink test, which finds out "
        "which way index and knob turn the stone. Without it the correction is still right in words about the stone."
    )


class MachineScreen(AreaScreen):
    """The profile, a line to each fact; nothing is saved before s."""

    area = "machine"
    CSS_PATH = "../machine.tcss"
    BINDINGS: ClassVar[list[BindingType]] = keys_of("machine")
    AUTO_FOCUS: ClassVar[str | None] = "#machine-rows"
    help_text = "Your machine."

    def __init__(self) -> None:
        super().__init__()
        self.profile = MachineProfile()
        self._read = False

    def body(self) -> ComposeResult:
        yield MachineRows(id="machine-rows")
        with VerticalScroll(id="machine-detail", can_focus=False):
            yield Static("", id="machine-text", markup=False)

    def dress(self) -> None:
        super().dress()
        self.query_one(MachineRows).row_height = 2 if self.lapwise.large or self.lapwise.touch else 1

    def refresh_view(self) -> None:
        if not self._read:
            self.profile = self.bench.profile or MachineProfile()
            self._read = True
        self.query_one(MachineRows).show([Row(name, self._painter(name)) for name in LABELS])
        self._show_marked()

    def _painter(self, name: str) -> Callable[[int], Content]:
        def paint(width: int) -> Content:
            value = getattr(self.profile, name)
            words = value_words(name, self.profile)
            return Content.assemble(
                (fit(LABELS[name], 24), "$secondary"),
                (fit(words, width - 24), "bold" if value is not None else "italic"),
            )

        return paint

    def _show_marked(self) -> None:
        name = self.query_one(MachineRows).marked or "gear"
        lines = [para(capital(ABOUT[name]) + ".")]
        sign = self.profile.index_sign()
        if sign is not None:
            rise = "rises" if sign == 1 else "falls"
            lines.append(para(f"Turn the stone clockwise, seen from behind the hand piece: the index reading {rise}."))
        per_mark = self.profile.degrees_per_mark()
        if per_mark is not None:
            lines.append(para(f"One mark of the fine index turns the stone {per_mark:.3g}°."))
        if self.profile != (self.bench.profile or MachineProfile()):
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
        if name in CHOICES:
            entries = [Entry(v, capital(WORDS.get(v, plain_id(v)))) for v in CHOICES[name]]

            def chosen(ids: tuple[str, ...] | None) -> None:
                if ids is not None:
                    self._put(name, ids[0] if ids else "")

            self.app.push_screen(
                Chooser(LABELS[name], entries, none="Not known", start=getattr(self.profile, name)), chosen
            )
        else:
            low, high = LIMITS[name]
            value = getattr(self.profile, name)
            blank = Blank(
                "value", LABELS[name], "" if value is None else f"{value:g}", f"{low:g} to {high:g}, or empty"
            )

            def check(values: Mapping[str, str]) -> str | None:
                try:
                    profile_from({**self._values(), name: values["value"]})
                except LapwiseError as error:
                    return str(error.problems[0])
                return None

            def typed(values: dict[str, str] | None) -> None:
                if values is not None:
                    self._put(name, values["value"])

            self.app.push_screen(Ask(LABELS[name], [blank], about=capital(ABOUT[name]) + ".", check=check), typed)

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
        start(self, self._keep, group="profile", alone=True)

    async def _keep(self) -> None:
        try:
            await self.bench.do(self.bench.keep_profile, self.profile)
        except (LapwiseError, OSError) as error:
            self.warn(f"Not saved: {error}")
            return
        self.say("Saved. The correction now speaks of your knob and your numbers.")
        self._show_marked()

    def do_undo(self) -> None:
        self._read = False
        self.refresh_view()
        self.say("As saved.")

    def do_calibrate(self) -> None:
        """The guided ink test: one question after the other, then what follows from the answers."""
        lines = [
            para("You need a stone on its dop with a flat that lies level on the lap, and a felt pen."),
            para("Stop the lap for the whole test, and rub by hand.", style="bold $warning"),
            para("Escape leaves a question out. At the end you see what follows, and decide."),
        ]

        def begun(answer: str | None) -> None:
            if answer == "begin":
                self._question(0, {})

        self.app.push_screen(Sheet("The ink test, two minutes", lines, [Item("begin", "enter", "Begin")]), begun)

    def _question(self, at: int, answers: dict[str, str]) -> None:
        from lapwise.engine.machine.calibrate import ANSWERS, QUESTIONS

        names = [n for n in QUESTIONS if not (n == "degrees_per_mark" and "marks_per_tooth" in answers)]
        if at >= len(names):
            self._deduce(answers)
            return
        name = names[at]
        title = f"{at + 1} of {len(names)}"
        allowed = ANSWERS.get(name) or CHOICES.get(name)

        def go_on(value: str | None) -> None:
            self._question(at + 1, {**answers, name: value} if value else answers)

        if allowed:
            items = [Item(value, str(n), capital(plain_id(value))) for n, value in enumerate(allowed, 1)]
            self.app.push_screen(Sheet(title, [para(QUESTIONS[name])], items, close="Leave it out"), go_on)
        else:
            blank = Blank("value", "Your answer", "", "a number, or empty")

            def typed(values: dict[str, str] | None) -> None:
                go_on(values["value"] if values else None)

            self.app.push_screen(Ask(title, [blank], about=QUESTIONS[name], check=_check_number), typed)

    def _deduce(self, answers: dict[str, str]) -> None:
        from lapwise.engine.machine.calibrate import Seen, deduce

        try:
            found = deduce(Seen(**answers))
            new = profile_from({**self._values(), **found.facts})
        except LapwiseError as error:
            self.warn(str(error.problems[0]))
            return
        lines = [para("! " + text, style="bold $warning") for text in found.contradictions]
        lines += [para(f"{LABELS[name]}: {value_words(name, new)}") for name in found.facts if name in LABELS]
        if not found.facts:
            lines.append(para("The answers tell nothing new of the machine."))
        if found.open:
            lines.append(para("Still open: " + "; ".join(found.open) + "."))

        def decided(answer: str | None) -> None:
            if answer == "save":
                self.profile = new
                self.refresh_view()
                self.do_keep()

        items = [Item("save", "s", "Save it")] if found.facts else []
        self.app.push_screen(Sheet("What follows", lines, items), decided)


def value_words(name: str, profile: MachineProfile) -> str:
    """A fact of the profile in words."""
    value = getattr(profile, name)
    if value is None:
        return "not known"
    if name == "fine_mark_size":
        return f"{value:g} " + ("of a tooth" if profile.fine_mark == "teeth" else "° of the stone")
    if isinstance(value, int | float):
        return f"{value:g} {UNITS.get(name, '')}".strip()
    return WORDS.get(value, plain_id(str(value)))


def _check_number(values: Mapping[str, str]) -> str | None:
    text = values["value"]
    try:
        good = not text or float(text.replace(",", ".")) > 0
    except ValueError:
        good = False
    return None if good else "A number over 0 is wanted, or nothing."
