"""The facet painted large: cells marked by keys, click, tap or drag, and an arrow on the side that must go down."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style as RichStyle
from textual import events
from textual.binding import Binding, BindingType
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget

from lapwise.tui.present.drawing import outline

Grid = tuple[str, ...]
"""Rows from the tip end to the dop end, each left to right as one faces the facet; letters as in a map."""

MARGIN = 8
NEXT = {"B": "D", "D": "?", "R": "N", "N": "?"}
"""Marked again and again a cell is bright, dull, not known. That there is no stone is said by its own key."""
FILLS = {"B": "█", "R": "█", "D": "░", "N": "░", "?": " ", ".": " "}


def next_mark(mark: str, *, ink: bool) -> str:
    """The mark after this one when a cell is marked again and again."""
    return NEXT.get(mark, "R" if ink else "B")


class FacetPicture(Widget, can_focus=True):
    """Paints a grid of marks as the facet one faces, tip end up. Which side must go down is told from outside.

    ``painted`` is given the whole grid at once whenever cells were marked; without it nothing can be marked.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "go(-1, 0)", show=False),
        Binding("down", "go(1, 0)", show=False),
        Binding("left", "go(0, -1)", show=False),
        Binding("right", "go(0, 1)", show=False),
    ]
    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "facet--bright",
        "facet--dull",
        "facet--unsure",
        "facet--arrow",
        "facet--word",
    }
    DEFAULT_CSS = """
    FacetPicture {
        height: 1fr; width: 1fr; background: $facet-ground; color: $foreground;
        & > .facet--bright { color: $facet-bright; }
        & > .facet--dull { color: $facet-dull; }
        & > .facet--unsure { color: $foreground 60%; }
        & > .facet--arrow { color: $error; text-style: bold; }
        & > .facet--word { color: $foreground; }
    }
    """
    help_text = (
        "The facet as you face it, tip end up and the dop down. Mark what this setting touched: arrows move from cell "
        "to cell, space changes the mark, or tap or drag. Full cells are bright, dotted ones dull, "
        "? is not known, empty is no stone. ▼ marks the side that must go down to the lap."
    )
    takes_drags = True
    row = reactive(0)
    column = reactive(0)

    def __init__(self, *, id: str | None = None, painted: Callable[[Grid], None] | None = None) -> None:
        super().__init__(id=id)
        self.grid: Grid = ("???", "???", "???")
        self.ink = False
        self._across = 0.0
        self._along = 0.0
        self._ends = ("tip end", "dop end")
        self._outlined: tuple[object, Mapping[tuple[int, int], str]] = (None, {})
        self._drag: str | None = None
        self._painted = painted
        self.can_focus = self._editable = painted is not None

    # --- what is shown ---------------------------------------------------------------------------------------

    def show(
        self,
        grid: Grid,
        *,
        ink: bool = False,
        across: float = 0.0,
        along: float = 0.0,
        ends: tuple[str, str] = ("tip end", "dop end"),
    ) -> None:
        """``across`` positive: the left side must go down, negative the right; ``along`` positive: the dop end."""
        self.grid, self.ink = grid, ink
        self._across, self._along, self._ends = across, along, ends
        self.row = min(self.row, len(grid) - 1)
        self.column = min(self.column, len(grid[0]) - 1)
        self.refresh()

    def _cell(self) -> tuple[int, int]:
        """Columns and lines of one cell."""
        wide = max(1, (self.size.width - 2 * MARGIN - 2) // len(self.grid[0]))
        high = max(1, (self.size.height - 4) // len(self.grid))
        return min(wide, max(3, high * 3)), min(high, max(1, wide // 2 + 1))

    def _left(self, wide: int) -> int:
        return max(0, (self.size.width - wide * len(self.grid[0]) - 2) // 2)

    def render_line(self, y: int) -> Strip:
        wide, high = self._cell()
        span = wide * len(self.grid[0])
        left = self._left(wide)
        base = self.rich_style
        bottom = 2 + high * len(self.grid)
        if y in (0, bottom + 1):
            top = y == 0
            must = self._along < 0 if top else self._along > 0
            text = self._ends[0 if top else 1]
            text = f"▼ {text} must go DOWN ▼" if must else text
            style = self.get_component_rich_style("facet--arrow" if must else "facet--word")
            return self._line([(text.center(span + 2), style)], max(0, left), base)
        line = y - 2
        around = self._around(wide, high)
        if y in (1, bottom):
            edge = "".join(around.get((line, column), " ") for column in range(-1, span + 1))
            return self._line([(edge, base)], left, base)
        if not 0 <= line < high * len(self.grid):
            return Strip.blank(self.size.width, base)
        ends = (around.get((line, -1), " "), around.get((line, span), " "))
        parts = [(ends[0], base), *self._cells(line, wide, high, base, around), (ends[1], base)]
        return self._sides(parts, line - high * len(self.grid) // 2, left, base)

    def _around(self, wide: int, high: int) -> Mapping[tuple[int, int], str]:
        """The outline of the stone at this size, worked out once."""
        key = (self.grid, wide, high)
        if key != self._outlined[0]:
            self._outlined = (key, outline(self.grid, wide, high))
        return self._outlined[1]

    def _cells(
        self, line: int, wide: int, high: int, base: RichStyle, around: Mapping[tuple[int, int], str]
    ) -> list[tuple[str, RichStyle]]:
        row, within = divmod(line, high)
        out: list[tuple[str, RichStyle]] = []
        for column, mark in enumerate(self.grid[row]):
            name = {"B": "bright", "R": "bright", "D": "dull", "N": "dull"}.get(mark, "unsure")
            style = self.get_component_rich_style(f"facet--{name}")
            text = FILLS[mark] * wide
            if mark == ".":
                style = base
                text = "".join(around.get((line, at), " ") for at in range(column * wide, (column + 1) * wide))
            here = self.has_focus and self._editable and (row, column) == (self.row, self.column)
            if within != high // 2 or (mark == "." and not here):
                out.append((text, style))
                continue
            sign = mark if mark != "." else " "
            label = f"[{sign}]" if here and wide >= 3 else sign if wide < 5 else f" {sign} "
            start = (wide - len(label)) // 2
            letter = base + RichStyle(bold=True, reverse=here)
            out += [(text[:start], style), (label, letter), (text[start + len(label) :], style)]
        return out

    def _sides(self, parts: list[tuple[str, RichStyle]], at: int, left: int, base: RichStyle) -> Strip:
        """A line of the facet with the words beside it; ``at``: lines from the middle one."""
        word, arrow = (self.get_component_rich_style(f"facet--{name}") for name in ("word", "arrow"))
        beside = {"left": ("left ", word), "right": (" right", word)} if at == 0 else {}
        down = {-1: "▼ this", 0: "side", 1: "DOWN"}.get(at)
        if down and self._across > 0:
            beside["left"] = (f"{down} ", arrow)
        elif down and self._across < 0:
            beside["right"] = (f" {down}", arrow)
        before, after = beside.get("left", ("", word)), beside.get("right", ("", word))
        gap = max(0, left - len(before[0]))
        return self._line([(" " * gap, base), before, *parts, after], 0, base)

    def _line(self, parts: list[tuple[str, RichStyle]], indent: int, base: RichStyle) -> Strip:
        segments = [Segment(" " * indent, base)] if indent else []
        segments += [Segment(text, base + style) for text, style in parts if text]
        return Strip(segments).adjust_cell_length(self.size.width, base)

    # --- marking ---------------------------------------------------------------------------------------------

    def action_go(self, down: int, right: int) -> None:
        """To the next cell in this direction."""
        self.row = max(0, min(len(self.grid) - 1, self.row + down))
        self.column = max(0, min(len(self.grid[0]) - 1, self.column + right))

    def mark(self, mark: str | None = None, *, step: bool = False) -> None:
        """Mark the cell under the cursor (None: the next mark in turn); ``step``: then go to the cell after it."""
        old = self.grid[self.row][self.column]
        self._put(self.row, self.column, mark or next_mark(old, ink=self.ink))
        if step:
            self.column = (self.column + 1) % len(self.grid[0])
            if self.column == 0:
                self.row = (self.row + 1) % len(self.grid)

    def _put(self, row: int, column: int, mark: str) -> None:
        line = self.grid[row]
        if line[column] == mark:
            return
        changed = line[:column] + mark + line[column + 1 :]
        self.grid = (*self.grid[:row], changed, *self.grid[row + 1 :])
        self.refresh()
        if self._painted is not None:
            self._painted(self.grid)

    def cell_at(self, x: int, y: int) -> tuple[int, int] | None:
        """Row and column of the cell at a place of the widget, or None beside the facet."""
        wide, high = self._cell()
        column, row = (x - self._left(wide) - 1) // wide, (y - 2) // high
        inside = 0 <= row < len(self.grid) and 0 <= column < len(self.grid[0]) and x > self._left(wide) and y >= 2
        return (row, column) if inside else None

    def on_mouse_down(self, event: events.MouseDown) -> None:
        cell = self.cell_at(event.x, event.y)
        if cell is None or not self._editable:
            return
        event.stop()
        self.focus()
        self.capture_mouse()
        self.row, self.column = cell
        self._drag = next_mark(self.grid[cell[0]][cell[1]], ink=self.ink)
        self._put(*cell, self._drag)

    def on_mouse_move(self, event: events.MouseMove) -> None:
        if self._drag is None:
            return
        cell = self.cell_at(event.x, event.y)
        if cell is not None and cell != (self.row, self.column):
            self.row, self.column = cell
            self._put(*cell, self._drag)

    def on_mouse_up(self, event: events.MouseUp) -> None:
        if self._drag is not None:
            event.stop()
            self._drag = None
            self.release_mouse()
