"""A row of things to tap: areas, actions, outcomes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.cells import cell_len
from textual import events
from textual.content import Content
from textual.message import Message
from textual.widget import Widget


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to tap. ``short`` stands in where the bar is narrow. ``on``: it is the present one."""

    id: str
    key: str
    label: str
    short: str = ""
    on: bool = False
    alert: bool = False
    """It says something one must not overlook, so its word is never left out."""


class Bar(Widget):
    """Shows its items side by side; a tap anywhere on an item's cell chooses it. Keys are the screen's affair."""

    DEFAULT_CSS = """
    Bar { height: 1; width: 100%; background: $panel; color: $foreground; content-align: left middle; }
    """
    help_text = "A row of things to tap; the key before each word does the same."

    class Chosen(Message):
        """An item was tapped."""

        def __init__(self, bar: Bar, item_id: str) -> None:
            super().__init__()
            self.bar, self.item_id = bar, item_id

        @property
        def control(self) -> Bar:
            return self.bar

    def __init__(self, *, id: str | None = None, classes: str | None = None, spread: bool = False) -> None:
        super().__init__(id=id, classes=classes)
        self._items: tuple[Item, ...] = ()
        self._ends: list[tuple[int, str]] = []
        self._spread = spread

    def show(self, items: Sequence[Item]) -> None:
        """Show these items."""
        if tuple(items) != self._items:
            self._items = tuple(items)
            self.refresh()

    @property
    def items(self) -> tuple[Item, ...]:
        """The items as shown."""
        return self._items

    def _texts(self, width: int) -> list[tuple[str, str]]:
        """(key, word) of each item, the words shortened until they fit."""
        full = [(i.key, i.label) for i in self._items]
        tight = [(i.key, i.short or i.label) for i in self._items]
        for texts in (full, tight):
            if sum(cell_len(k) + cell_len(w) + 2 for k, w in texts) + len(texts) - 1 <= width:
                return texts
        natural = sum(cell_len(k) + cell_len(w) + 2 for k, w in tight)
        if natural > width + 1 and any(i.alert for i in self._items):
            return [(k, w if i.on or i.alert else "") for i, (k, w) in zip(self._items, tight, strict=True)]
        return tight

    def render(self) -> Content:
        width = self.size.width
        texts = self._texts(width)
        parts: list[Content | tuple[str, str]] = []
        self._ends = []
        used = 0
        count = len(texts)
        natural = sum(cell_len(k) + cell_len(w) + 1 for k, w in texts)
        equal = max((cell_len(k) + cell_len(w) + 1 for k, w in texts), default=0) < width // max(1, count)
        gap = 2 if natural + count * 2 <= width else 1 if natural + count <= width + 1 else 0
        for at, (item, (key, word)) in enumerate(zip(self._items, texts, strict=True)):
            length = cell_len(key) + cell_len(word) + 1
            if self._spread:
                rest = (width - natural) // count if natural < width else 0
                cell = (width - used) // (count - at) if equal or at == count - 1 else length + rest
                left = max(0, (cell - length) // 2)
                right = max(0, cell - length - left)
            else:
                left = gap // 2
                right = gap - left
            style = "reverse bold" if item.on else "reverse bold $warning" if item.alert else ""
            parts += [
                (" " * left, style),
                (key, style or "bold $accent"),
                (" " + word + " " * right, style),
            ]
            used += left + length + right
            self._ends.append((used, item.id))
        return Content.assemble(*parts)

    def on_click(self, event: events.Click) -> None:
        event.stop()
        for end, item_id in self._ends:
            if event.x < end:
                self.post_message(self.Chosen(self, item_id))
                return
