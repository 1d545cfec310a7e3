"""A list of rows painted to fit: one mark, one cursor, keys, mouse and taps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar

from rich.segment import Segment
from textual import events
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.geometry import Region, Size
from textual.message import Message
from textual.reactive import var
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.style import Style
from textual.visual import Visual

Paint = Callable[[int], Content | Sequence[Content]]
"""Paints a row for a width in cells: one line, or one content a line."""


@dataclass(frozen=True, slots=True)
class Row:
    """``id``: unique in its list. ``paint``: see :data:`Paint`. ``heading``: cannot be chosen."""

    id: str
    paint: Paint
    heading: bool = False


def text_row(row_id: str, text: str | Content, *, heading: bool = False) -> Row:
    """A row of one line of plain text."""
    content = text if isinstance(text, Content) else Content(text)
    return Row(row_id, lambda width: content.truncate(width, ellipsis=True), heading)


class Rows(ScrollView, can_focus=True):
    """Rows of one height. The cursor's row carries the mark ``▸`` as well as its colour."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", show=False),
        Binding("down", "move(1)", show=False),
        Binding("pageup", "page(-1)", show=False),
        Binding("pagedown", "page(1)", show=False),
        Binding("home", "edge(-1)", show=False),
        Binding("end", "edge(1)", show=False),
        Binding("enter", "choose", show=False),
    ]
    COMPONENT_CLASSES: ClassVar[set[str]] = {"rows--row", "rows--cursor", "rows--heading"}
    DEFAULT_CSS = """
    Rows {
        background: $background; color: $foreground; overflow-x: hidden; height: 1fr; scrollbar-size-vertical: 1;
        scrollbar-color: $primary 60%; scrollbar-background: $background;
        & > .rows--row { color: $foreground; }
        & > .rows--heading { color: $secondary; text-style: bold; }
        & > .rows--cursor { background: $panel; text-style: bold; }
        &:focus > .rows--cursor { background: $block-cursor-background; color: $block-cursor-foreground; }
    }
    """

    cursor = var(0, init=False)
    row_height = var(1, init=False)
    help_text = "A list. Up and down move the mark ▸, enter chooses the marked row; or tap a row."

    @dataclass
    class Moved(Message):
        """The mark has moved to another row."""

        row_id: str

    @dataclass
    class Chosen(Message):
        """A row was chosen by enter, click or tap."""

        row_id: str

    def __init__(
        self, *, id: str | None = None, classes: str | None = None, tap_chooses: bool = True, empty: str = ""
    ) -> None:
        super().__init__(id=id, classes=classes)
        self._rows: tuple[Row, ...] = ()
        self._painted: dict[tuple[int, int, str], list[Strip]] = {}
        self._tap_chooses = tap_chooses
        self._empty = empty

    # --- what is shown ---------------------------------------------------------------------------------------

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows as shown."""
        return self._rows

    @property
    def marked(self) -> str | None:
        """The id of the row under the cursor, or None."""
        if 0 <= self.cursor < len(self._rows) and not self._rows[self.cursor].heading:
            return self._rows[self.cursor].id
        return None

    def show(self, rows: Sequence[Row], *, mark: str | None = None) -> None:
        """Show these rows; the cursor stays on its row if that is still there, or goes to ``mark``."""
        wanted = mark if mark is not None else self.marked
        self._rows = tuple(rows)
        self._painted.clear()
        places = [i for i, row in enumerate(self._rows) if not row.heading]
        at = next((i for i in places if self._rows[i].id == wanted), places[0] if places else 0)
        self._resize_content()
        self.cursor = at
        self._show_cursor()
        self.refresh()

    def mark(self, row_id: str) -> None:
        """Put the cursor on this row, if it is there."""
        for at, row in enumerate(self._rows):
            if row.id == row_id:
                self.cursor = at

    def watch_cursor(self) -> None:
        self._show_cursor()
        self.refresh()
        if (row_id := self.marked) is not None:
            self.post_message(self.Moved(row_id))

    def watch_row_height(self) -> None:
        self._painted.clear()
        self._resize_content()
        self.refresh()

    def _resize_content(self) -> None:
        self.virtual_size = Size(self.scrollable_content_region.width, len(self._rows) * self.row_height)

    def _show_cursor(self) -> None:
        if self.is_mounted and self.size.height:
            top = self.cursor * self.row_height
            if all(row.heading for row in self._rows[: self.cursor]):
                top = 0
            height = (self.cursor + 1) * self.row_height - top
            self.scroll_to_region(
                Region(0, top, max(1, self.size.width), max(1, height)), animate=False, force=True, immediate=True
            )

    def on_resize(self) -> None:
        self._painted.clear()
        self._resize_content()
        self._show_cursor()

    def notify_style_update(self) -> None:
        self._painted.clear()
        super().notify_style_update()

    # --- painting --------------------------------------------------------------------------------------------

    def render_line(self, y: int) -> Strip:
        width = self.scrollable_content_region.width
        line = y + self.scroll_offset.y
        at, part = divmod(line, self.row_height)
        if at >= len(self._rows) or width <= 0:
            style = self.get_visual_style("rows--row")
            if not self._rows and y == 0 and self._empty:
                return Visual.to_strips(self, Content(self._empty).truncate(width), width, 1, style, pad=True)[0]
            return Strip.blank(width, style.rich_style)
        row = self._rows[at]
        name = "rows--heading" if row.heading else "rows--cursor" if at == self.cursor else "rows--row"
        key = (at, width, f"{name}{self.has_focus}")
        strips = self._painted.get(key)
        if strips is None:
            strips = self._painted[key] = self._paint(row, width, name)
        return strips[part]

    def _paint(self, row: Row, width: int, name: str) -> list[Strip]:
        style = self.get_visual_style(name)
        if name == "rows--cursor" and self.has_focus and self.app.no_color:
            style += Style(reverse=True)
        rich_style = style.rich_style
        painted = row.paint(max(1, width - 2))
        lines = [painted] if isinstance(painted, Content) else list(painted)
        out: list[Strip] = []
        for part in range(self.row_height):
            mark = "▸ " if name == "rows--cursor" and part == 0 else "  "
            body = lines[part] if part < len(lines) else Content("")
            if name == "rows--cursor" and self.has_focus:
                body = Content(body.plain)
            # a row is one line that fits: painted straight away, without the wrapping that a visual pays for
            told = body.render(style, "", self.app.stylesheet.parse_style)
            segments = [Segment(mark, rich_style), *(Segment(text, shown.rich_style) for text, shown in told)]
            out.append(Strip(segments, 2 + body.cell_length).adjust_cell_length(width, rich_style))
        return out

    # --- keys and mouse --------------------------------------------------------------------------------------

    def _step(self, at: int, step: int) -> int:
        while 0 <= at < len(self._rows):
            if not self._rows[at].heading:
                return at
            at += step
        return self.cursor

    def action_move(self, step: int) -> None:
        """Up or down by one row, over headings."""
        self.cursor = self._step(self.cursor + step, 1 if step > 0 else -1)

    def action_page(self, step: int) -> None:
        """Up or down by what is in sight."""
        page = max(1, self.size.height // self.row_height - 1)
        at = max(0, min(len(self._rows) - 1, self.cursor + step * page))
        self.cursor = self._step(at, step)

    def action_edge(self, step: int) -> None:
        """To the first or the last row."""
        self.cursor = self._step(0 if step < 0 else len(self._rows) - 1, -step)

    def action_choose(self) -> None:
        """Choose the marked row."""
        if (row_id := self.marked) is not None:
            self.post_message(self.Chosen(row_id))

    def on_click(self, event: events.Click) -> None:
        at = (event.y + self.scroll_offset.y) // self.row_height
        if 0 <= at < len(self._rows) and not self._rows[at].heading:
            again = at == self.cursor
            self.cursor = at
            if self._tap_chooses or (again and event.chain > 1):
                self.action_choose()
