"""What lies over a screen: nothing typed while it opens is lost."""

from __future__ import annotations

from typing import TypeVar

from textual.events import Key
from textual.screen import ModalScreen

T = TypeVar("T")


class Dialog(ModalScreen[T]):
    """A screen over another. Keys that come before it is ready wait, and are typed into it then.

    Several keys can come at once from a far terminal, and the hand that knows its way types on without looking.
    """

    listening = False
    """False until what is in it stands and has the focus."""

    def __init__(self) -> None:
        super().__init__()
        self._early: list[Key] = []

    def on_mount(self) -> None:
        self.call_after_refresh(self.listen)

    def typed_early(self, event: Key) -> None:
        """Keep a key until this is ready for it."""
        self._early.append(Key(event.key, event.character))

    def listen(self) -> None:
        """Ready: type what waited, into whatever is on top now."""
        self.listening = True
        early, self._early = self._early, []
        for key in early:
            self.app.post_message(key)
