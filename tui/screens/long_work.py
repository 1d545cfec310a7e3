"""Long work under a sheet that shows how far it is and what is left; escape stops it, and all is as it was."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import ClassVar, TypeVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.widgets import Static

from lapwise.engine.record.work import Progress
from lapwise.engine.wording import capital, percent
from lapwise.tui.present.words import bar, left
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.dialog import Dialog
from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.work import Underway

T = TypeVar("T")
SHOWN_AFTER_SECONDS = 0.25
"""Work that is done by then flashes no sheet."""
BEAT_SECONDS = 0.1


class LongWork(Dialog[None]):
    """The sheet over an area while long work goes on. It takes the keys at once and is seen a little later."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,s", "stop", show=False)]
    help_text = "Long work is under way. Escape stops it; then everything is as it was before it began."

    def __init__(self, title: str, underway: Underway) -> None:
        super().__init__(title, classes="-waiting")
        self._underway = underway
        self._ended = False

    def compose(self) -> ComposeResult:
        with Vertical(id="long-work", classes="sheet"):
            yield self.title_line()
            yield Static("", id="long-work-far", markup=False)
            yield Bar([Item("stop", "esc", "Stop")], id="long-work-bar", spread=True)

    def on_mount(self) -> None:
        self.set_interval(BEAT_SECONDS, self._beat)
        self.set_timer(SHOWN_AFTER_SECONDS, self._appear)

    def _appear(self) -> None:
        self._beat()
        self.remove_class("-waiting")

    def _beat(self) -> None:
        work = self._underway
        far = self.query_one("#long-work-far", Static)
        if work.stopping:
            far.update("Stopping …")
        elif work.share is None:
            far.update(f"{work.done} rows" if work.done else "One moment …")
        else:
            cells = max(8, min(40, far.content_size.width - 30))
            share = min(work.share, 1.0)
            rest = left(work.passed, share)
            far.update(f"{bar(share, cells)} {percent(share)}" + (f"  {rest}" if rest else ""))

    def action_stop(self) -> None:
        self._underway.stop()
        self._beat()

    def end(self) -> None:
        """The work has ended: go, or as soon as what lies over the sheet has gone."""
        self._ended = True
        if self.is_mounted and self.app.screen is self:
            self.dismiss()

    def on_screen_resume(self) -> None:
        if self._ended:
            self.dismiss()

    def on_unmount(self) -> None:
        self._underway.stop()  # whoever leaves the sheet by another way leaves the work


async def long_work(screen: AreaScreen, title: str, work: Callable[[Progress], Awaitable[T]]) -> T:
    """Do long work; ``work`` is handed what it must call now and then.

    Raises what the work raises; ``Stopped`` if the person stopped it.
    """
    underway = Underway()
    sheet = LongWork(capital(title), underway)
    await screen.app.push_screen(sheet)
    try:
        return await work(underway.tell)
    finally:
        underway.stop()
        sheet.end()
