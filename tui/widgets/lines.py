"""Paragraphs and points that wrap to whatever width they get, points with a hanging indent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.cells import cell_len
from textual.content import Content
from textual.geometry import Size
from textual.widget import Widget

from lapwise.tui.present.words import bar, fit, safe


@dataclass(frozen=True, slots=True)
class Point:
    """A point of a list: what follows its mark keeps clear of it on every line."""

    mark: str
    text: Content

    def wrapped(self, width: int) -> list[Content]:
        """The point's lines for a width in cells."""
        lead = f"  {self.mark} " if self.mark else "    "
        room = max(8, width - cell_len(lead))
        lines = self.text.wrap(room)
        return [Content(lead if at == 0 else " " * cell_len(lead)) + line for at, line in enumerate(lines)]


@dataclass(frozen=True, slots=True)
class Table:
    """A small table. ``head`` names the columns after the first; a row is a label and a cell for each of them.

    Where a line holds label and cells, they stand on one; on narrower ones the label stands above its cells, and where
    not even these fit, each cell stands on a line of its own beside its name.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def plain(self) -> str:
        """The text as it stands, unwrapped."""
        return "\n".join("  ".join(cells) for cells in (self.head, *self.rows))

    def wrapped(self, width: int) -> list[Content]:
        """The table's lines for a width in cells."""
        table = [tuple(safe(cell, 300) for cell in row) for row in (("", *self.head), *self.rows)]
        widths = [max(cell_len(row[i]) for row in table) for i in range(1, len(table[0]))]
        columns = _GAP + sum(widths) + _GAP * (len(widths) - 1)

        def cells(row: tuple[str, ...]) -> str:
            return "".join(" " * _GAP + f"{cell:<{w}}" for cell, w in zip(row[1:], widths, strict=True)).rstrip()

        def styled(indent: int) -> Content:
            return Content.styled(" " * indent + cells(table[0]), "$secondary")

        first = width - columns
        if first >= min(max(cell_len(row[0]) for row in table), _LABEL):
            out = [styled(first)]
            for row in table[1:]:
                *above, last = Content(row[0]).wrap(first)
                out += [*above, Content(last.plain.ljust(first - cell_len(last.plain) + len(last.plain)) + cells(row))]
            return out
        out = [styled(0)] if first >= 0 else []
        for row in table[1:]:
            out += Content(row[0]).wrap(max(8, width))
            if first >= 0:
                out.append(Content(cells(row)))
            else:
                out += [Content(f"{' ' * _GAP}{n} {cell}") for n, cell in zip(self.head, row[1:], strict=True)]
        return out


_GAP = 2
_LABEL = 24
"""The width a label of a table gets, if it needs it, before it stands above its cells."""
Line = Content | Point | Table


def cut(content: Content, width: int, lines: int) -> Content:
    """The content wrapped to a place; an ellipsis shows that there is more than the place holds."""
    if width <= 1 or lines < 1:
        return content
    wrapped = content.wrap(width)
    if len(wrapped) <= lines:
        return content
    last = wrapped[lines - 1].rstrip()
    return Content("\n").join([*wrapped[: lines - 1], last.truncate(width - 2) + " …"])


class Lines(Widget):
    """Shows lines to read; as high as they need at the width they get."""

    DEFAULT_CSS = "Lines { height: auto; width: 100%; }"

    def __init__(self, lines: Sequence[Line] = (), *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._lines = tuple(lines)

    def show(self, lines: Sequence[Line]) -> None:
        """Show these lines."""
        self._lines = tuple(lines)
        self.refresh(layout=True)

    @property
    def plain(self) -> str:
        """The text as it stands, unwrapped."""
        return "\n".join(line.text.plain if isinstance(line, Point) else line.plain for line in self._lines)

    def _wrapped(self, width: int) -> list[Content]:
        out: list[Content] = []
        for line in self._lines:
            if isinstance(line, Point | Table):
                out += line.wrapped(width)
            else:
                out += line.wrap(max(8, width)) or [Content("")]
        return out

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return max(1, len(self._wrapped(width)))

    def render(self) -> Content:
        return Content("\n").join(self._wrapped(self.content_size.width))


def bar_line(label: str, room: int, share: float, cells: int, figure: str, last: int) -> Content:
    """A label cut to ``room``, a bar of ``cells`` filled to ``share`` (0 to 1), and a figure in ``last`` cells."""
    return Content.assemble(
        fit(label, room), " ", (bar(share, cells), "$primary"), (fit(figure, last, right=True), "bold")
    )


def heading(text: str) -> Content:
    """A heading on a sheet."""
    return Content.styled(safe(text, 300), "bold $secondary")


def para(text: object, *, indent: str = "", style: str = "") -> Content:
    """A paragraph of plain text, cleaned; it wraps by itself."""
    return Content.styled(indent + safe(text, 4000), style)


def point(text: object, mark: str = "•") -> Point:
    """One point of a list, of plain text, cleaned."""
    return Point(mark, Content(safe(text, 4000)))
