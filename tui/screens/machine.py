"""The machine: what differs from one to another, stated by hand or found with a two-minute ink test."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from itertools import takewhile

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.events import Key
from textual.widgets import Input, Static

from lapwise.engine.errors import LapwiseError
from lapwise.engine.machine import MachineProfile, profile_from
from lapwise.engine.machine.calibrate import QUESTIONS, TELLS, UNTOLD, Seen, answers_of, deduce
from lapwise.engine.machine.described import FACTS
from lapwise.engine.numerals import read_number
from lapwise.engine.wording import capital, listing
from lapwise.tui.present.machine import found_words, value_words
from lapwise.tui.present.words import fit
from lapwise.tui.screens.ask import Ask, Blank
from lapwise.tui.screens.asking import choose_or_leave_open, fill_in
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.entry import DO_NOT_KNOW, Entry
from lapwise.tui.screens.sheet import Sheet, para
from lapwise.tui.widgets.bar import Item
from lapwise.tui.widgets.rows import Row, Rows
from lapwise.tui.work import beside

SKIP, KEEP, BACK = "#skip", "#keep", "#back"
BACK_KEY = "<"


class MachineRows(Rows):
    """The lines of the profile."""

    help_text = (
        "What is known of your machine. Enter or a tap changes the marked line; t begins the ink test, which finds out "
        "which way index and knob turn the stone. Without it the correction still says in words how to turn the stone."
    )


class MachineScreen(AreaScreen, area="machine", row="change"):
    """The profile, a line to each fact; nothing is saved before s."""

    CSS_PATH = "../machine.tcss"
    AUTO_FOCUS = "#machine-rows"
    help_text = "Your machine."

    def __init__(self) -> None:
        super().__init__()
        self.forget()

    def forget(self) -> None:
        self.profile = MachineProfile()
        self._saved = MachineProfile()
        """The profile as it was saved when it was read: what differs from it here is not saved yet."""

    def body(self) -> ComposeResult:
        yield MachineRows(id="machine-rows")
        with VerticalScroll(id="machine-detail", can_focus=False):
            yield Static("", id="machine-text", markup=False)

    def dress(self) -> None:
        super().dress()
        self.query_one(MachineRows).row_height = self.row_height

    def refresh_view(self) -> None:
        self.meet()
        saved = self.workspace.profile or MachineProfile()
        if saved != self._saved:  # what was told elsewhere meanwhile; what is typed here stays
            before, here = self._saved.as_json(), self.profile.as_json()
            typed = {name: value for name, value in here.items() if value != before[name]}
            self.profile, self._saved = replace(saved, **typed), saved
        self.query_one(MachineRows).show([Row(name, partial(self._paint, name)) for name in FACTS])
        self._show_marked()

    def _paint(self, name: str, width: int) -> Content:
        style = "italic" if getattr(self.profile, name) is None else "bold"
        words = fit(value_words(name, self.profile), width - 24)
        return Content.assemble((fit(FACTS[name].label, 24), "$secondary"), (words, style))

    def _show_marked(self) -> None:
        name = self.query_one(MachineRows).marked or "gear"
        lines = [para(FACTS[name].asks or capital(FACTS[name].about) + ".")]
        if (per_mark := self.profile.degrees_per_mark()) is not None:
            lines.append(para(f"One mark of the fine index turns the stone {per_mark:.3g}°."))
        if self.profile != (self.workspace.profile or MachineProfile()):
            lines.append(para("Not saved yet: press s.", style="bold $warning"))
        self.query_one("#machine-text", Static).update(Content("\n").join(lines))

    def on_rows_moved(self, message: Rows.Moved) -> None:
        message.stop()
        self._show_marked()

    # --- actions ---------------------------------------------------------------------------------------------

    def do_change(self) -> None:
        name = self.query_one(MachineRows).marked
        if name is None:
            return
        now, fact = getattr(self.profile, name), FACTS[name]
        if fact.values:
            entries = [Entry(value, capital(words)) for value, words in fact.values.items()]
            title = fact.asks or fact.label
            choose_or_leave_open(self.app, title, entries, lambda v: self._put(name, v or ""), start=now)
        else:
            low, high = fact.limits
            blank = Blank.number("value", fact.label, now, f"{low:g} to {high:g}, or empty")

            def read(typed: Mapping[str, str]) -> str:
                profile_from({**self.values(), name: typed["value"]})
                return typed["value"]

            about = capital(fact.about) + "."
            fill_in(self.app, fact.label, [blank], read, partial(self._put, name), about=about)

    def values(self) -> dict[str, object]:
        """The profile as it stands, a value to each line."""
        return dict(self.profile.as_json())

    def _put(self, name: str, value: str) -> None:
        values = {**self.values(), name: value}
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
        self.profile = self._saved
        self.refresh_view()
        self.say("As saved.")

    def do_calibrate(self) -> None:
        """The guided ink test: one question after the other, then what follows from the answers."""
        InkTest(self).begin()

    def found(self, profile: MachineProfile) -> None:
        """Take what the ink test found, and keep it."""
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


class InkChoice(Sheet):
    """A question with its answers below. Enter keeps what is known; where nothing is, it skips nothing."""

    enter_closes = False

    def on_key(self, event: Key) -> None:
        if event.key == "enter" and all(item.key != "enter" for item in self._items):
            event.stop()
            self.say("Press the key of your answer. k: I do not know")


class InkNumber(Ask):
    """A question answered with a number; ``<`` goes back."""

    further = (Item("back", BACK_KEY, "Back"),)

    def on_input_changed(self, event: Input.Changed) -> None:
        if BACK_KEY in event.value:
            self.action_back()

    def action_back(self) -> None:
        """To the question before."""
        self.dismiss({"value": BACK})


class InkTest:
    """One question after the other over ``screen``, then what follows from the answers, and whether to keep it.

    Nothing answered is lost by one key: leaving early shows what follows so far, and dropping it is asked first.
    """

    def __init__(self, screen: MachineScreen) -> None:
        self._screen, self._app, self._say = screen, screen.app, screen.say

    def begin(self) -> None:
        """Say what is needed, then ask."""
        lines = [
            para("You need a stone on its dop with a flat that lies level on the lap, and a felt pen."),
            para("Stop the lap for the whole test, and rub by hand.", style="bold $warning"),
            para(f"{BACK_KEY} goes back to the question before, escape leaves. What you do not know stays as it is."),
            para("What is known already stands with its question. At the end you see what follows, and decide."),
        ]
        does = {Item("begin", "enter", "Begin"): lambda: self._question(next(iter(QUESTIONS)), {})}
        self._screen.read("The ink test, two minutes", lines, does)

    def _question(self, name: str, answers: dict[str, str]) -> None:
        """Ask this one; ``answers``: those given before it."""
        names = list(QUESTIONS)
        question, known = QUESTIONS[name], self._known(name, answers)

        def go_on(value: str | None) -> None:
            if value is None:
                self._leave(answers)
            elif value == BACK:
                self._question(self._beside(name, answers, -1) or name, answers)
            else:
                told = {key: said for key, said in answers.items() if key != name}
                if value and value != SKIP:
                    told[name] = known if value == KEEP else value
                after = self._beside(name, told, 1)
                self._deduce(told) if after is None else self._question(after, told)

        title = _title(name, names)
        if question.answers:
            items = [
                Item(value, value[0] if value.isdigit() else str(at), capital(words))  # a digit is its own key
                for at, (value, words) in enumerate(question.answers.items(), 1)
            ]
            lines = [para(question.asks)]
            if known:
                lines += [Content(""), para(f"So far: {question.answers[known]}. Enter keeps it.")]
                items.append(Item(KEEP, "enter", "Keep"))
            items += [Item(SKIP, "k", DO_NOT_KNOW), Item(BACK, BACK_KEY, "Back")]
            self._app.push_screen(InkChoice(title, lines, items, close="Leave test"), go_on)
        else:
            blank = Blank("value", "Your answer", known, "a number, or empty: I do not know")
            ask = Ask if name == names[0] else InkNumber  # nothing is before the first
            asked = ask(title, [blank], about=question.asks, check=_check_number)
            self._app.push_screen(asked, lambda typed: go_on(typed["value"] if typed is not None else None))

    def _known(self, name: str, answers: Mapping[str, str]) -> str:
        """What stands with a question: its answer of before, else what the machine as known would answer to it.

        Of a second question about the same thing only where the first was answered as known.
        """
        if name in answers:
            return answers[name]
        known, fact = answers_of(self._screen.profile), TELLS[name][0] if name in TELLS else None
        before = [other for other in takewhile(lambda q: q != name, TELLS) if TELLS[other][0] == fact]
        return known.get(name, "") if all(answers.get(other) == known.get(other) for other in before) else ""

    def _beside(self, name: str, answers: Mapping[str, str], step: int) -> str | None:
        """The question before or after this one; None beyond the last. Counted marks need no second way of asking."""
        counted = "marks_per_tooth" in answers
        names = [n for n in QUESTIONS if n == name or not (counted and n == "degrees_per_mark")]
        at = names.index(name) + step
        return names[max(at, 0)] if at < len(names) else None

    def _leave(self, answers: dict[str, str]) -> None:
        if answers:
            self._deduce(answers)
        else:
            self._say("The ink test was left; nothing is changed.")

    def _deduce(self, answers: dict[str, str]) -> None:
        try:
            found = deduce(Seen(**answers))
            new = profile_from({**self._screen.values(), **found.facts})
        except LapwiseError as error:
            self._say(f"! {error.problems[0]}")
            return
        lines = [para("! " + text, style="bold $warning") for text in found.contradictions]
        for name, value in found.facts.items():
            lines.append(para(found_words(name, value) or f"{FACTS[name].label}: {value_words(name, new)}"))
        if not found.facts:
            lines.append(para("The answers tell nothing new of the machine."))
        if still := [words for name, words in UNTOLD.items() if getattr(new, name) is None]:
            lines.append(para("Still open: " + "; ".join(still) + "."))
        self._show(lines, new if found.facts else None)

    def _show(self, lines: list[Content], new: MachineProfile | None) -> None:
        def decided(answer: str | None) -> None:
            if new is None:
                self._say("The ink test told nothing new; nothing is changed.")
            elif answer == "save":
                self._screen.found(new)
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
