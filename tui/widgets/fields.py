"""Named values that can be tapped: flowing like words on a line, or one to a line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import NamedTuple

from rich.cells import cell_len
from textual import events
from textual.content import Content
from textual.geometry import Size
from textual.message import Message
from textual.widget import Widget

from lapwise.tui.present.words import fit, safe

GAP = 3
INDENT = 2


@dataclass(frozen=True, slots=True)
class Field:
    """``name`` in front, ``value`` behind it; ``style`` of the value."""

    id: str
    name: str
    value: str
    style: str = ""


class _Part(NamedTuple):
    """A field, or a further line of one, from column ``start`` to ``end``."""

    field: Field
    name: str
    value: str
    start: int
    end: int


def _wrapped(field: Field, width: int) -> list[str]:
    """The value of a field on as many lines as it needs, the further ones indented."""
    before = cell_len(field.name) + 1
    value = safe(field.value, 4000)
    if min(width - before, width - INDENT) < 8 or cell_len(value) <= width - before:
        return [value]
    lines = wrap(value, width, initial_indent=" " * before, subsequent_indent=" " * INDENT, break_on_hyphens=False)
    return [line.strip() for line in lines]


class Fields(Widget):
    """``flow``: as many to a line as fit, the longest cut short; else one to a line. A tap on one chooses it."""

    DEFAULT_CSS = """
    Fields { height: auto; width: 100%; padding: 0 1; }
    """
    help_text = "What is stated. Tap a value to change it."

    @dataclass
    class Chosen(Message):
        """A field was tapped."""

        field_id: str

    def __init__(self, *, id: str | None = None, classes: str | None = None, flow: bool = True) -> None:
        super().__init__(id=id, classes=classes)
        self._fields: tuple[Field, ...] = ()
        self._flow = flow
        self._spare = 0

    def show(self, fields: Sequence[Field]) -> None:
        """Show these fields."""
        if tuple(fields) != self._fields:
            width = self.content_size.width
            before = len(self._lines(width))
            self._fields = tuple(fields)
            # only another number of lines moves what stands below
            self.refresh(layout=not width or len(self._lines(width)) != before or not before)

    @property
    def fields(self) -> tuple[Field, ...]:
        """The fields as shown."""
        return self._fields

    @property
    def spare(self) -> int:
        """Lines that may be taken beyond one to a field, so that long values go on below instead of being cut."""
        return self._spare

    @spare.setter
    def spare(self, lines: int) -> None:
        before = len(self._lines(self.content_size.width))
        self._spare = lines
        if len(self._lines(self.content_size.width)) != before:
            self.refresh(layout=True)

    def wanted(self, width: int) -> int:
        """Lines beyond one to a field that would show all of it."""
        return sum(len(_wrapped(field, width)) - 1 for field in self._fields)

    def _lines(self, width: int) -> list[list[_Part]]:
        """What stands on each line."""
        lines: list[list[_Part]] = []
        used, spare = 0, self._spare
        for field in self._fields:
            name = cell_len(field.name) + 1
            room = width - name
            value = safe(field.value, 4000)
            if cell_len(value) > room and spare > 0:
                parts = _wrapped(field, width)
                taken = min(spare, len(parts) - 1)
                spare -= taken
                if taken < len(parts) - 1:
                    rest = " ".join(parts[taken:])
                    parts = [*parts[:taken], fit(rest, max(1, width - INDENT))]
                lines.append([_Part(field, field.name + " ", parts[0], 0, name + cell_len(parts[0]))])
                lines += [[_Part(field, " " * INDENT, text, 0, INDENT + cell_len(text))] for text in parts[1:]]
                used = width
                continue
            if cell_len(value) > room:
                value = fit(value, max(1, room))
            length = name + cell_len(value)
            start = used + GAP if lines and used else 0
            if not lines or not self._flow or start + length > width:
                lines.append([])
                start = 0
            lines[-1].append(_Part(field, field.name + " ", value, start, start + length))
            used = start + length
        return lines

    @property
    def _high(self) -> int:
        """Rows to a line: two for a finger, where there is room."""
        return 2 if self.screen.has_class("-touch") and self.screen.has_class("-tall") else 1

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return max(1, len(self._lines(width)) * self._high)

    def render(self) -> Content:
        out: list[Content] = []
        for line in self._lines(self.content_size.width):
            parts: list[tuple[str, str]] = []
            at = 0
            for part in line:
                style = part.field.style or "bold"
                parts += [(" " * (part.start - at), ""), (part.name, "$secondary"), (part.value, style)]
                at = part.end
            out.append(Content.assemble(*parts))
        return Content("\n" * self._high).join(out)

    def on_click(self, event: events.Click) -> None:
        lines = self._lines(self.content_size.width)
        x, y = event.x - self.gutter.left, (event.y - self.gutter.top) // self._high
        if not 0 <= y < len(lines):
            return
        event.stop()
        for part in lines[y]:
            if part.start <= x < part.end + GAP or not self._flow:
                self.post_message(self.Chosen(part.field.id))
                return
