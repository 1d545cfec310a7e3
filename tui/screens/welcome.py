"""The first run: what this is, and an invented sample to look at. Nothing is asked."""

from __future__ import annotations

from textual.content import Content
from textual.events import Key

from lapwise.tui.screens.sheet import Sheet, para
from lapwise.tui.widgets.bar import Item


class Welcome(Sheet):
    """Answers ``sample``, ``guide`` or None (begin)."""

    help_text = "The first page. Enter begins with your own stone; s shows the invented sample."

    def __init__(self) -> None:
        lines = [
            para(
                "When a facet will not polish, say what is on the machine and what you see, or press o and tell it in "
                "your own words. Lapwise says what to try first, how likely it is to help, how long it takes, and why."
            ),
            Content(""),
            para(
                "Say how it went with one key. The next remedy then stands first. What worked is kept for the next "
                "stone."
            ),
            Content(""),
            para(
                "It also tells which way to turn the stone when only part of a facet polishes, and how the stone sits "
                "after the transfer."
            ),
            Content(""),
            para("Everything stays on this computer. Leave out what you do not know. F1 explains what you see."),
            Content(""),
            para(
                "Before you work: stop the lap before you touch it, keep it wet, know what your stone's dust does. "
                "Local codes and licensed practice decide."
            ),
        ]
        super().__init__(
            "Welcome to the bench",
            lines,
            [Item("begin", "enter", "Begin"), Item("sample", "s", "Look at a sample"), Item("guide", "g", "Guide")],
        )

    def on_key(self, event: Key) -> None:
        if event.key == "f1":
            # the page says that F1 explains: here it must not close what it is asked about
            event.prevent_default().stop()
            self.app.push_screen(Sheet("Help", [para(self.help_text)]))
