"""What lies over a screen: nothing typed while it opens is lost."""

from __future__ import annotations

from typing import TypeVar

from textual.screen import ModalScreen

T = TypeVar("T")


class Dialog(ModalScreen[T]):
    """A screen over another. Keys that come before it ``listening`` wait (:mod:`lapwise.tui.keys_in_turn`)."""

    listening = False
    """False until what is in it stands and has the focus."""

    def on_mount(self) -> None:
        self.call_after_refresh(setattr, self, "listening", True)
