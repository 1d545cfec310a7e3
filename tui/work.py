"""Starting work that goes on beside the screen, and long work that can be watched and stopped."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Coroutine
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar

from textual.css.query import NoMatches
from textual.dom import DOMNode

from lapwise.engine.errors import LapwiseError

Work = Callable[[], Coroutine[Any, Any, None]]
N = TypeVar("N", bound=DOMNode)
P = ParamSpec("P")


def start(node: DOMNode, work: Work, *, group: str, alone: bool = False, failed: str = "") -> None:
    """Begin ``work``; it ends with ``node``. ``alone``: what is still running in the group is given up.

    The one place where what the workspace raises is caught: it is said, after ``failed``, and the screen goes on.
    """

    async def watched() -> None:
        try:
            await work()
        except (LapwiseError, OSError) as error:
            words = str(error.problems[0]) if isinstance(error, LapwiseError) else str(error)
            front: Any = node.app
            front.warn(f"{failed}: {words}" if failed else words)
        except NoMatches:
            if node.is_running:  # else what it was to be shown on has gone, as the program ends
                raise

    node.run_worker(watched, group=group, exclusive=alone)  # type: ignore[arg-type]


def beside(
    group: str, *, alone: bool = False, failed: str = ""
) -> Callable[[Callable[Concatenate[N, P], Coroutine[Any, Any, None]]], Callable[Concatenate[N, P], None]]:
    """Makes of a coroutine of a screen what begins it, as :func:`start` does, and goes on at once."""

    def of(work: Callable[Concatenate[N, P], Coroutine[Any, Any, None]]) -> Callable[Concatenate[N, P], None]:
        @wraps(work)
        def begin(node: N, /, *args: P.args, **kwargs: P.kwargs) -> None:
            start(node, lambda: work(node, *args, **kwargs), group=group, alone=alone, failed=failed)

        return begin

    return of


class Underway:
    """Long work as a screen sees it: how far it is by now, and a way to stop it.

    ``tell`` is handed to the work and called in its thread; once :meth:`stop` was called it raises ``Stopped``, and
    the work leaves all as it was.
    """

    def __init__(self) -> None:
        self.done = 0
        """Rows done by now."""
        self.share: float | None = None
        """How much of all is done, 0 to 1; None where all is not known."""
        self._began = time.monotonic()
        self._stop = threading.Event()

    @property
    def passed(self) -> float:
        """Seconds since it began."""
        return time.monotonic() - self._began

    @property
    def stopping(self) -> bool:
        """Whether it was told to stop."""
        return self._stop.is_set()

    def tell(self, done: int, share: float | None) -> None:
        """Take note of how far it is."""
        if self._stop.is_set():
            from lapwise.engine.record.work import Stopped  # start-up time

            raise Stopped
        self.done, self.share = done, share

    def stop(self) -> None:
        """Let it end at its next step."""
        self._stop.set()
