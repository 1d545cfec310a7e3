"""Keys take effect one after the other: a key, or what is pasted, waits until all that came of the one before is done.

Several keys can come at once from a far terminal, and the hand that knows its way types on without looking: what is
typed while a list opens is meant for the list.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Awaitable, Callable
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
    """The keys and pastes of ``app`` that wait. ``act`` takes the one whose turn it is."""

    def __init__(self, app: App[Any], act: Callable[[Key | Paste], Awaitable[None]]) -> None:
        self._app, self._act = app, act
        self._waiting: deque[Key | Paste] = deque()
        self._busy: asyncio.Task[None] | None = None

    @property
    def waiting(self) -> bool:
        """True while a key has not taken effect yet."""
        return self._busy is not None

    def must_wait(self, key: Key | Paste) -> bool:
        """True if the key is kept for later, since another is still at work or nothing listens yet."""
        if (isinstance(key, Key) and key.key in AT_ONCE) or (self._busy is None and self._ready()):
            return False
        self._waiting.append(key)
        if self._busy is None:
            self._busy = asyncio.create_task(self._work_off())
        return True

    async def _work_off(self) -> None:
        while self._waiting:
            turns = quiet = 0
            while quiet < QUIET:
                await asyncio.sleep(0 if turns < 50 else 0.002)
                turns, quiet = turns + 1, quiet + 1 if self._ready() else 0
            await self._act(self._waiting.popleft())
        self._busy = None

    def _ready(self) -> bool:
        """True if what is on top listens, and no message is on its way between it and the program."""
        screen = self._app.screen
        if not getattr(screen, "listening", screen.is_mounted):
            return False
        way = (screen.focused or screen).ancestors_with_self
        pumps: set[MessagePump] = {self._app, *self._app.screen_stack, *way}
        return all(p.message_queue_size == 0 and not p._next_callbacks and not p._pending_message for p in pumps)
