"""Keys take effect one after the other: a key, or what is pasted, waits until all that came of the one before is done.

Several keys can come at once from a far terminal, and the hand that knows its way types on without looking: what is
typed while a list opens is meant for the list. Each carries what was on the screen when it was pressed, for what is
meant for that alone.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Awaitable, Callable, Hashable
from typing import TYPE_CHECKING, Any

from textual.events import Key, Paste
from textual.message_pump import MessagePump

if TYPE_CHECKING:
    from textual.app import App

AT_ONCE = ("ctrl+q", "ctrl+c")
"""These never wait: the way out is always open."""
QUIET = 3
"""Turns of the loop without a message before what a key led to counts as done."""


class KeysInTurn:
    """Keys and pastes of ``app`` that wait. ``act`` takes the one whose turn it is; ``shown`` tells what is seen."""

    def __init__(
        self, app: App[Any], act: Callable[[Key | Paste], Awaitable[None]], shown: Callable[[], Hashable] = lambda: None
    ) -> None:
        self._app, self._act, self._shown = app, act, shown
        self.pressed_on: Hashable = None
        """What was on the screen when the key now at work, or the newest tap, was pressed."""
        self._waiting: deque[tuple[Key | Paste, Hashable]] = deque()
        self._busy: asyncio.Task[None] | None = None

    @property
    def waiting(self) -> bool:
        """True while a key has not taken effect yet."""
        return self._busy is not None

    def must_wait(self, key: Key | Paste) -> bool:
        """True if the key is kept for later, since another is still at work or nothing listens yet."""
        if (isinstance(key, Key) and key.key in AT_ONCE) or (self._busy is None and self._ready()):
            self.tapped()
            return False
        self._waiting.append((key, self._shown()))
        if self._busy is None:
            self._busy = asyncio.create_task(self._work_off())
        return True

    def tapped(self) -> None:
        """Take note of what is on the screen now: whatever waits for no turn is meant for that."""
        self.pressed_on = self._shown()

    async def _work_off(self) -> None:
        while self._waiting:
            turns = quiet = 0
            while quiet < QUIET:
                await asyncio.sleep(0 if turns < 50 else 0.002)
                turns, quiet = turns + 1, quiet + 1 if self._ready() else 0
            key, self.pressed_on = self._waiting.popleft()
            await self._act(key)
        self._busy = None

    def _ready(self) -> bool:
        """True if what is on top listens, nothing asked for is put off, and no message is on its way to either."""
        screen = self._app.screen
        if not getattr(screen, "listening", screen.is_mounted) or getattr(self._app.screen_stack[0], "puts_off", False):
            return False
        way = (screen.focused or screen).ancestors_with_self
        pumps: set[MessagePump] = {self._app, *self._app.screen_stack, *way}
        return all(p.message_queue_size == 0 and not p._next_callbacks and not p._pending_message for p in pumps)
