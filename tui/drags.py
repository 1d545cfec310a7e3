"""A drag scrolls what lies under it, as a finger expects; what takes drags itself (the facet map) keeps them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual.errors import NoWidget
from textual.events import MouseDown, MouseEvent, MouseMove, MouseUp
from textual.screen import Screen
from textual.scrollbar import ScrollBar
from textual.widget import Widget

if TYPE_CHECKING:
    from textual.app import App


class Drags:
    """The drags of ``app``. Lines scroll one by one with the finger; a drag is no tap."""

    def __init__(self, app: App[Any]) -> None:
        self._app = app
        self._pane: Widget | None = None
        self._line = 0
        self._scrolls = False

    def takes(self, event: MouseEvent) -> bool:
        """True if the event is a drag that scrolls, so that nothing else is to be done with it."""
        if isinstance(event, MouseDown):
            self._pane, self._line, self._scrolls = self._under(event), event.y, False
        elif isinstance(event, MouseUp):
            if self._scrolls:
                self._app._mouse_down_widget = None  # else Textual takes the end of the drag for a tap
            self._pane, self._scrolls = None, False
        elif isinstance(event, MouseMove) and self._pane is not None and event.button:
            if event.y != self._line:
                self._scrolls = True
                self._pane.scroll_relative(y=self._line - event.y, animate=False, force=True)
                self._line = event.y
            return self._scrolls
        return False

    def _under(self, event: MouseEvent) -> Widget | None:
        """The nearest thing under the pointer that scrolls; None where a drag means something else."""
        try:
            widget, _ = self._app.get_widget_at(event.x, event.y)
        except NoWidget:
            return None
        for node in widget.ancestors_with_self:
            if isinstance(node, Screen | ScrollBar) or getattr(node, "takes_drags", False):
                return None
            if isinstance(node, Widget) and node.max_scroll_y > 0 and node.allow_vertical_scroll:
                return node
        return None
