"""An area that holds what it read at one bench, and lets go of it when another bench is at work."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lapwise.tui.screens.base import AreaScreen

if TYPE_CHECKING:
    from lapwise.tui.workspace import Workspace


class BenchArea(AreaScreen):
    """Own bench and sample share the screens: nothing read or typed at the one may be shown, or kept, at the other.

    Subclasses call :meth:`meet` first in ``refresh_view`` and say in :meth:`forget` what they hold.
    """

    def __init__(self) -> None:
        super().__init__()
        self._met: Workspace | None = None

    def meet(self) -> None:
        """Forget everything if the bench is another than the last time."""
        if self._met is not self.workspace:
            if self._met is not None:
                self.forget()
                self.say("")
            self._met = self.workspace

    def forget(self) -> None:
        """Let go of what was read, typed and worked out."""

    def action_act(self, action_id: str) -> None:
        # between the change of the bench and the first view of it, what is held is still the other's
        if self.workspace.ready and self._met is not None and self._met is not self.workspace:
            self.refresh_view()
        super().action_act(action_id)
