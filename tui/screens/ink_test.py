"""The guided ink test: one question after the other, then what follows from the answers, and whether to keep it."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from textual.content import Content

from lapwise.engine.errors import LapwiseError
from lapwise.engine.machine import MachineProfile, profile_from
from lapwise.engine.machine.calibrate import ANSWERS, QUESTIONS, Seen, deduce
from lapwise.engine.machine.profile import CHOICES
from lapwise.engine.numerals import read_number
from lapwise.engine.wording import capital, plain_id
from lapwise.tui.present.machine import found_words
from lapwise.tui.screens.ask import Ask, Blank
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.sheet import Sheet, para
from lapwise.tui.widgets.bar import Item

LABELS = {
    "gear": "Index gear",
    "numbers_run": "Index numbers rise",
    "fine_mark": "Fine index marked in",
    "fine_mark_size": "One mark is",
    "knob": "Fine-index knob",
    "angle_zero": "Angle dial 0 is",
    "angle_resolution": "Angle dial step",
    "rest": "Angle rests on",
    "lap_diameter_mm": "Lap diameter",
    "lap_directions": "Lap runs",
}
"""What a line of the profile is called."""
SKIP = "#skip"
KEYS = {"dial_with_dop_upright": {"0": ("0", "Near 0"), "90": ("9", "Near 90")}}
"""Question and answer to key and words, where numbered keys could be taken for the answers."""


class InkTest:
    """Runs over ``screen``. ``values``: the profile as it stands; ``found`` takes the new one, to be kept.

    Nothing answered is lost by one key: leaving early shows what follows so far, and dropping it is asked first.
    """

    def __init__(
        self,
        screen: AreaScreen,
        values: Callable[[], dict[str, object]],
        found: Callable[[MachineProfile], None],
        words: Callable[[str, MachineProfile], str],
    ) -> None:
        self._app, self._say = screen.app, screen.say
        self._read, self._values, self._found, self._words = screen.read, values, found, words

    def begin(self) -> None:
        """Say what is needed, then ask."""
        lines = [
            para("You need a stone on its dop with a flat that lies level on the lap, and a felt pen."),
            para("Stop the lap for the whole test, and rub by hand.", style="bold $warning"),
            para("Enter leaves a question out, escape leaves the test. At the end you see what follows, and decide."),
        ]
        does = {Item("begin", "enter", "Begin"): lambda: self._question(0, {})}
        self._read("The ink test, two minutes", lines, does)

    def _question(self, at: int, answers: dict[str, str]) -> None:
        names = list(QUESTIONS)
        if at < len(names) and names[at] == "degrees_per_mark" and "marks_per_tooth" in answers:
            at += 1
        if at >= len(names):
            self._deduce(answers)
            return
        name = names[at]
        title = _title(name, names)
        allowed = ANSWERS.get(name) or CHOICES.get(name)

        def go_on(value: str | None) -> None:
            if value is None:
                self._leave(answers)
            else:
                self._question(at + 1, {**answers, name: value} if value and value != SKIP else answers)

        if allowed:
            known = KEYS.get(name, {})
            shown = [known.get(v, (str(at), capital(plain_id(v)))) for at, v in enumerate(allowed, 1)]
            items = [Item(value, key, words) for value, (key, words) in zip(allowed, shown, strict=True)]
            items.append(Item(SKIP, "enter", "Leave it out"))
            self._app.push_screen(Sheet(title, [para(QUESTIONS[name])], items, close="Leave test"), go_on)
        else:
            blank = Blank("value", "Your answer", "", "a number, or empty to leave it out")

            ask = Ask(title, [blank], about=QUESTIONS[name], check=_check_number)
            self._app.push_screen(ask, lambda typed: go_on(typed["value"] if typed is not None else None))

    def _leave(self, answers: dict[str, str]) -> None:
        if answers:
            self._deduce(answers)
        else:
            self._say("The ink test was left; nothing is changed.")

    def _deduce(self, answers: dict[str, str]) -> None:
        try:
            found = deduce(Seen(**answers))
            new = profile_from({**self._values(), **found.facts})
        except LapwiseError as error:
            self._say(f"! {error.problems[0]}")
            return
        lines = [para("! " + text, style="bold $warning") for text in found.contradictions]
        for name, value in found.facts.items():
            if name in LABELS:
                lines.append(para(found_words(name, value) or f"{LABELS[name]}: {self._words(name, new)}"))
        if not found.facts:
            lines.append(para("The answers tell nothing new of the machine."))
        if found.open:
            lines.append(para("Still open: " + "; ".join(found.open) + "."))
        self._show(lines, new if found.facts else None)

    def _show(self, lines: list[Content], new: MachineProfile | None) -> None:
        def decided(answer: str | None) -> None:
            if new is None:
                self._say("The ink test told nothing new; nothing is changed.")
            elif answer == "save":
                self._found(new)
            else:
                self._drop(lines, new)

        items = [Item("save", "enter", "Save it")] if new is not None else []
        close = "Leave" if new is not None else "Close"
        self._app.push_screen(Sheet("What follows", lines, items, close=close), decided)

    def _drop(self, lines: list[Content], new: MachineProfile) -> None:
        """Ask before the answers are lost."""

        def decided(answer: str | None) -> None:
            if answer == "drop":
                self._say("The answers of the ink test were dropped; nothing is changed.")
            else:
                self._show(lines, new)

        lost = [para("What the ink test found has not been saved. Leaving now drops all its answers.")]
        self._app.push_screen(Sheet("Drop the answers?", lost, [Item("drop", "d", "Drop them")], close="Back"), decided)


def _title(name: str, names: list[str]) -> str:
    """``7 of 9``: a size asked for in two ways counts once, whether the second way is asked or not."""
    steps = [n for n in names if n != "degrees_per_mark"]
    if name == "degrees_per_mark":
        return f"{steps.index('marks_per_tooth') + 1} of {len(steps)}, in degrees"
    return f"{steps.index(name) + 1} of {len(steps)}"


def _check_number(values: Mapping[str, str]) -> str | None:
    text = values["value"]
    return None if not text or (read_number(text) or 0.0) > 0 else "A number over 0 is required, or nothing."
