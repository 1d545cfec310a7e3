"""A few things to type in: each with its name, what it may hold and what was there before."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Input, Static

from lapwise.engine.numerals import read_number
from lapwise.tui.present.words import safe
from lapwise.tui.screens.sheet import Explained, Line, para
from lapwise.tui.widgets.bar import Bar, Item


@dataclass(frozen=True, slots=True)
class Blank:
    """One thing to type. ``hint`` says what it may hold, in a few words."""

    id: str
    label: str
    value: str = ""
    hint: str = ""

    @classmethod
    def number(cls, id: str, label: str, value: float | None, hint: str) -> Blank:
        """One number to type; None if there was none before."""
        return cls(id, label, "" if value is None else f"{value:g}", hint)


Check = Callable[[Mapping[str, str]], str | None]
"""Looks over what was typed; answers with a complaint for the person, or None."""


class Ask(Explained[dict[str, str] | None]):
    """Answers with what was typed by blank id, or None if it was left. Enter goes on, and takes it at the last."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "step(1)", show=False, priority=True),
        Binding("up", "step(-1)", show=False, priority=True),
        Binding("ctrl+s,f10", "take", show=False, priority=True),
    ]
    AUTO_FOCUS = "Input"
    help_text = (
        "Type what you know; leave a line empty if you do not. Enter goes to the next line and takes all at the last "
        "one; ctrl+s takes all at once; escape leaves everything as it was."
    )

    further: ClassVar[tuple[Item, ...]] = ()
    """What else may be done, in front of leaving."""

    def __init__(self, title: str, blanks: Sequence[Blank], *, about: str = "", check: Check | None = None) -> None:
        super().__init__(title)
        self._blanks = tuple(blanks)
        self._about = about
        self._check = check

    def compose(self) -> ComposeResult:
        with Vertical(id="ask", classes="sheet"):
            yield self.title_line()
            if self._about:
                yield Static(Content(safe(self._about, 600)), classes="about", markup=False)
            with VerticalScroll(id="ask-body", can_focus=False):
                for blank in self._blanks:
                    with Horizontal(classes="blank"):
                        yield Static(Content(safe(blank.label, 60)), classes="blank-label", markup=False)
                        yield Input(
                            safe(blank.value, 4000),
                            placeholder=blank.hint,
                            id=f"blank-{blank.id}",
                            select_on_focus=_number(blank.value),
                            compact=True,
                        )
            yield Static("", id="ask-complaint", markup=False)
            key = "enter" if len(self._blanks) == 1 else "ctrl+s"
            items = (
                Item("take", key, "Take it"),
                *self.further,
                Item("help", "F1", "Help"),
                Item("leave", "esc", "Leave"),
            )
            yield Bar(items, id="ask-bar", spread=True)

    def _inputs(self) -> list[Input]:
        return list(self.query(Input))

    def action_step(self, step: int) -> None:
        inputs = self._inputs()
        at = next((i for i, widget in enumerate(inputs) if widget.has_focus), 0)
        inputs[(at + step) % len(inputs)].focus()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        inputs = self._inputs()
        if event.input is inputs[-1]:
            self.action_take()
        else:
            inputs[inputs.index(event.input) + 1].focus()

    def action_take(self) -> None:
        typed = {b.id: self.query_one(f"#blank-{b.id}", Input).value.strip() for b in self._blanks}
        complaint = self._check(typed) if self._check else None
        if complaint:
            self.query_one("#ask-complaint", Static).update(para("! " + complaint, style="bold $warning"))
            words = complaint.lower()
            meant = [b for b in self._blanks if b.label.lower() in words or b.id.replace("_", " ") in words]
            if meant:
                self.query_one(f"#blank-{meant[0].id}", Input).focus()
        else:
            self.dismiss(typed)

    def hints(self) -> list[Line]:
        return [Content(""), *(Content(f"{b.label}: {b.hint}") for b in self._blanks if b.hint)]


def _number(text: str) -> bool:
    """A number is typed anew; words are added to."""
    return read_number(text) is not None
