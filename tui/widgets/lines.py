"""Paragraphs and points that wrap to whatever width they get, points with a hanging indent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.cells import cell_len
from textual.content import Content
from textual.geometry import Size
from textual.widget import Widget

from lapwise.tui.present.table import Table
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
            if isinstance(line, Table):
                head, rows = line.laid_out(
                    width, lambda label, room: [part.plain for part in Content(label).wrap(room)]
                )
                out += [*([Content.styled(head, "$secondary")] if head else []), *map(Content, rows)]
            elif isinstance(line, Point):
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
