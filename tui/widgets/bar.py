"""A row of things to tap: areas, actions, outcomes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
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

    @dataclass
    class Chosen(Message):
        """An item was tapped."""

        bar: Bar
        item_id: str

    def __init__(self, items: Iterable[Item] = (), *, id: str | None = None, spread: bool = False) -> None:
        super().__init__(id=id)
        self._items = tuple(items)
        self._line_ends: list[list[tuple[int, str]]] = []
        """For each line, where each item ends."""
        self._spread = spread

    def show(self, items: Iterable[Item]) -> None:
        """Show these items."""
        shown, self._items = self._items, tuple(items)
        if self._items != shown:
            self.refresh()

    @property
    def items(self) -> tuple[Item, ...]:
        """The items as shown."""
        return self._items

    @property
    def _ends(self) -> list[tuple[int, str]]:
        """Where each item ends on its line."""
        return [end for line in self._line_ends for end in line]

    def _laid_out(self, width: int, height: int) -> list[list[tuple[Item, str, str]]]:
        """Lines of (item, key, word): one line where that fits; else shorter words, more lines, no keys, words cut."""
        items = self._items
        full = [(i, i.key, i.label) for i in items]
        tight = [(i, i.key, i.short or i.label) for i in items]
        for texts in (full, tight):
            if _length(texts) + 2 * len(texts) - 1 <= width:
                return [texts]
        if _length(tight) + len(tight) <= width + 1:
            return [tight]
        if height == 1:
            alert = any(i.alert for i in items)
            return [[(i, k, w if i.on or i.alert or not alert else "") for i, k, w in tight]]
        for texts in (tight, [(i, "", w or k) for i, k, w in tight]):
            lines = _broken(texts, width)
            if len(lines) <= height:
                return lines
        each = -(-len(items) // height)
        cell = max(1, width // each - 2)
        words = [(i, "", (w or k)[:cell]) for i, k, w in tight]
        return [words[at : at + each] for at in range(0, len(words), each)]

    def render(self) -> Content:
        width, height = self.size.width, max(1, self.size.height)
        self._line_ends, shown = [], []
        for line in self._laid_out(width, height):
            content, ends = self._line(line, width)
            shown.append(content)
            self._line_ends.append(ends)
        return Content("\n").join(shown)

    def _line(self, line: list[tuple[Item, str, str]], width: int) -> tuple[Content, list[tuple[int, str]]]:
        """One line, and where each of its items ends."""
        parts: list[Content | tuple[str, str]] = []
        ends: list[tuple[int, str]] = []
        used = 0
        count = len(line)
        lengths = [_length([text]) for text in line]
        natural = sum(lengths)
        equal = max(lengths, default=0) < width // max(1, count)
        gap = 2 if natural + count * 2 <= width else 1 if natural + count <= width + 1 else 0
        for at, ((item, key, word), length) in enumerate(zip(line, lengths, strict=True)):
            if self._spread:
                rest = (width - natural) // count if natural < width else 0
                cell = (width - used) // (count - at) if equal or at == count - 1 else length + rest
                left = max(0, (cell - length) // 2)
                right = max(0, cell - length - left)
            else:
                left = gap // 2
                right = gap - left
            style = "reverse bold" if item.on else "reverse bold $warning" if item.alert else ""
            between = " " if key else ""
            parts += [
                (" " * left, style),
                (key, style or "bold $accent"),
                (between + word + " " * right, style),
            ]
            used += left + length + right
            ends.append((used, item.id))
        return Content.assemble(*parts), ends

    def on_click(self, event: events.Click) -> None:
        event.stop()
        if not self._line_ends:
            return
        for end, item_id in self._line_ends[event.y * len(self._line_ends) // max(1, self.size.height)]:
            if event.x < end:
                self.post_message(self.Chosen(self, item_id))
                return


def _length(texts: Sequence[tuple[Item, str, str]]) -> int:
    """Columns of keys and words, with what parts them."""
    return sum(cell_len(k) + cell_len(w) + bool(k) for _, k, w in texts)


def _broken(texts: list[tuple[Item, str, str]], width: int) -> list[list[tuple[Item, str, str]]]:
    """The items on as few lines as hold them, about as many on each."""
    for count in range(1, len(texts) + 1):
        each = -(-len(texts) // count)
        lines = [texts[at : at + each] for at in range(0, len(texts), each)]
        if all(_length(line) + len(line) <= width + 1 for line in lines):
            break
    return lines
