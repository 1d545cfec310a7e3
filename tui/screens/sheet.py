"""A sheet laid over the screen: words to read, with things to choose below."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.events import Key
from textual.widgets import Static

from lapwise.tui.pictures.catalog import DRAWINGS
from lapwise.tui.present.words import safe
from lapwise.tui.screens.dialog import Dialog
from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.widgets.lines import Line, Lines, Point, Table, heading, para, point
from lapwise.tui.widgets.picture import Picture


class Sheet(Dialog[str | None]):
    """Shows lines of content; answers with the id of the item chosen by key or tap, or None."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q,f1", "leave", show=False),
        Binding("down", "scroll(1)", show=False),
        Binding("up", "scroll(-1)", show=False),
        Binding("pagedown,space", "scroll(10)", show=False),
        Binding("pageup", "scroll(-10)", show=False),
        Binding("home", "scroll(-100000)", show=False),
        Binding("end", "scroll(100000)", show=False),
    ]
    enter_closes: ClassVar[bool] = True
    """Whether enter closes it where no item has that key."""
    help_text = "A sheet to read. Up and down scroll, escape closes it; keys at the foot do what they say."

    def __init__(
        self, title: str, lines: Sequence[Line], items: Sequence[Item] = (), *, close: str = "Close", picture: str = ""
    ) -> None:
        """``picture``: the id of a drawing, beside the text where there is room and below it where not."""
        super().__init__(classes="-pictured" if picture in DRAWINGS else "")
        self._picture = picture
        self._close = close
        self._title = title
        self._lines = tuple(lines)
        self._items = tuple(items)

    def compose(self) -> ComposeResult:
        with Vertical(id="sheet", classes="sheet"):
            yield Static(Content(safe(self._title, 200)), classes="title", markup=False)
            with VerticalScroll(id="sheet-body", can_focus=False):
                yield Lines(self._lines, id="sheet-text")
                yield Picture(self._picture, id="sheet-below", most=16)
            yield Picture(self._picture, id="sheet-beside")
            by_enter = self.enter_closes and not any(i.key == "enter" for i in self._items)
            close = Item("", "enter" if by_enter else "esc", self._close)
            further = [Item("#further", "▼", "Read on")] if self.has_class("-touch") else []
            yield Bar([*self._items, *further, close], id="sheet-bar", spread=True)

    def action_scroll(self, lines: int) -> None:
        self.query_one("#sheet-body", VerticalScroll).scroll_relative(y=lines, animate=False)

    def on_key(self, event: Key) -> None:
        for item in self._items:
            if event.key == item.key or (event.character is not None and event.character == item.key):
                event.stop()
                self.dismiss(item.id)
                return
        if event.key == "enter" and self.enter_closes:
            event.stop()
            self.dismiss(None)

    async def on_bar_chosen(self, message: Bar.Chosen) -> None:
        message.prevent_default().stop()
        if message.item_id == "#further":
            self.action_scroll(8)
        else:
            self.dismiss(message.item_id or None)


__all__ = ["Line", "Point", "Sheet", "Table", "heading", "para", "point"]
