"""A sheet laid over the screen: words to read, with things to choose below."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.events import Key

from lapwise.tui.pictures.catalog import DRAWINGS
from lapwise.tui.screens.dialog import Dialog, T
from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.widgets.lines import Line, Lines, Point, heading, para, point
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
    further = ""
    """The key that reads on, where the foot names it; a finger is offered it anyway."""

    def __init__(
        self, title: str, lines: Sequence[Line], items: Sequence[Item] = (), *, close: str = "Close", picture: str = ""
    ) -> None:
        """``picture``: the id of a drawing, beside the text where there is room and below it where not."""
        super().__init__(title, classes="-pictured" if picture in DRAWINGS else "")
        self._picture = picture
        self._close = close
        self._lines = tuple(lines)
        self._items = tuple(items)

    def compose(self) -> ComposeResult:
        with Vertical(id="sheet", classes="sheet"):
            if self._title:
                yield self.title_line()
            with VerticalScroll(id="sheet-body", can_focus=False):
                yield from self.text()
            yield Picture(self._picture, id="sheet-beside")
            by_enter = self.enter_closes and not any(i.key == "enter" for i in self._items)
            close = Item("", "enter" if by_enter else "esc", self._close)
            key = self.further or ("▼" if self.has_class("-touch") else "")
            further = [Item("#further", key, "Read on")] if key else []
            yield Bar([*self._items, *further, close], id="sheet-bar", spread=True)

    def action_scroll(self, lines: int) -> None:
        self.query_one("#sheet-body", VerticalScroll).scroll_relative(y=lines, animate=False)

    def text(self) -> ComposeResult:
        """What there is to read."""
        yield Lines(self._lines, id="sheet-text")
        yield Picture(self._picture, id="sheet-below", most=16)

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


class Explained(Dialog[T]):
    """A dialog in which letters may be typed: F1 tells how it is used, escape leaves it from anywhere."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", show=False, priority=True),
        Binding("f1", "help", show=False, priority=True),
    ]
    help_text = ""
    help_title = ""

    def hints(self) -> list[Line]:
        """What its help says besides."""
        return []

    def action_help(self) -> None:
        self.app.push_screen(Sheet(self.help_title or self._title, [Content(self.help_text), *self.hints()]))


__all__ = ["Explained", "Line", "Point", "Sheet", "heading", "para", "point"]
