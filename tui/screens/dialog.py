"""What lies over a screen: nothing typed while it opens is lost, and a key that cannot do its work says so."""

from __future__ import annotations

from typing import Any, ClassVar, TypeVar

from textual.content import Content
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Static

from lapwise.tui.actions import of_area
from lapwise.tui.present.words import safe
from lapwise.tui.widgets.bar import Bar

T = TypeVar("T")


class Dialog(ModalScreen[T]):
    """A screen over another. Keys that come before it ``listening`` wait (:mod:`lapwise.tui.keys_in_turn`)."""

    CSS_PATH = "../sheets.tcss"
    AUTO_FOCUS: ClassVar[str | None] = None
    listening = False
    """False until what is in it stands and has the focus."""

    def __init__(self, title: str = "", *, classes: str = "") -> None:
        self._title = title
        chosen = [f"-{name}" for name in ("touch", "large") if getattr(self.app, name, False)]
        super().__init__(classes=" ".join((classes, *chosen)))

    def on_mount(self) -> None:
        self.call_after_refresh(setattr, self, "listening", True)

    def action_leave(self) -> None:
        """Close it with nothing chosen."""
        self.dismiss(None)

    async def on_bar_chosen(self, message: Bar.Chosen) -> None:
        """A tap does the action that its item is named after."""
        message.stop()
        await self.run_action(message.item_id)

    def title_line(self, id: str | None = None) -> Static:
        """The title, at the head of the sheet."""
        return Static(Content(safe(self._title, 200)), id=id, classes="title", markup=False)

    @property
    def row_height(self) -> int:
        """Lines of a row in a list."""
        return 2 if self.has_class("-touch") or self.has_class("-large") else 1

    def say(self, text: str) -> None:
        """A few words at the foot of the sheet."""
        for sheet in self.query(".sheet"):
            sheet.border_subtitle = safe(text, 90)

    def on_key(self, event: Key) -> None:
        """What a key of everywhere does here: change the colours; of the others it is said why they do not work."""
        app: Any = self.app
        if event.is_printable or event.key in self._bindings.key_to_bindings:
            return
        action = next((a for a in of_area("app") if event.key in app.keymap.of(a).split(",")), None)
        if action is not None:
            event.stop()
            if action.id == "app.light":
                app.action_act(action.id)
            else:
                self.say(f"{action.label}: close this first (esc)")

    def action_copy_text(self) -> None:
        # ctrl+c copies what is selected; with nothing selected a hand that types it wants to leave
        if self.get_selected_text() is None:
            self.app.action_help_quit()
        else:
            super().action_copy_text()
