"""A drawing in dots of braille, as large as its place allows. It says nothing that words beside it do not."""

from __future__ import annotations

from textual.content import Content
from textual.geometry import Size
from textual.widget import Widget

from lapwise.tui.pictures.catalog import DRAWINGS, fitted, text


class Picture(Widget):
    """Shows the drawing of an id, as high as it needs; nothing while there is none."""

    DEFAULT_CSS = "Picture { height: auto; width: 100%; }"

    def __init__(self, name: str = "", *, id: str | None = None, most: int = 40) -> None:
        super().__init__(id=id)
        self._most = most
        self._drawn = ""
        self.show(name)

    @property
    def shown(self) -> str:
        """The id of what is drawn, "" for nothing."""
        return self._drawn

    def show(self, name: str) -> None:
        """Draw what belongs to ``name``, if anything does."""
        drawn = name if name in DRAWINGS else ""
        if drawn == self._drawn:
            return
        same_place = bool(drawn) == bool(self._drawn) or not self._grows
        self._drawn = drawn
        self.refresh(layout=not same_place)

    @property
    def _grows(self) -> bool:
        """Whether its height follows from what it shows."""
        height = self.styles.height
        return height is not None and height.is_auto

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return fitted(width, self._most)[1] if self._drawn else 0

    def render(self) -> Content:
        wide, high = self.content_size
        columns, lines = fitted(wide, high)
        side = " " * ((wide - columns) // 2)
        return Content("\n").join(Content(side + line) for line in text(self._drawn, columns, lines))
