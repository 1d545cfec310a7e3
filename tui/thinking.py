"""The threads of a bench: one for the record and the quick ranking, one beside it for the exact order."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, ParamSpec, TypeVar

from lapwise.engine.case import Case
from lapwise.engine.errors import LapwiseError

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.model import Diagnosis

P = ParamSpec("P")
T = TypeVar("T")


class Thinking:
    """Runs what is too slow for the screen's own thread. ``exact_seconds``: what the exact order may take."""

    def __init__(self, exact_seconds: float) -> None:
        self.exact_seconds = exact_seconds
        self._one = ThreadPoolExecutor(1, thread_name_prefix="bench")
        self._thinking = threading.Lock()
        self._asked = 0
        self._guess: Case | None = None

    def prepare(self, case: Case) -> None:
        """Work out all but the order of a case, and keep it."""
        raise NotImplementedError

    def exact(self, case: Case, cancelled: Callable[[], bool] | None = None) -> Diagnosis | None:
        """The order of least expected minutes, or None if it takes too long or ``cancelled`` says to give it up."""
        raise NotImplementedError

    def work_ahead(self, case: Case) -> None:
        """Rank a case that may be asked for next, if nothing else is to be done; only the newest guess is followed."""
        self._guess = case

        def work() -> None:
            if self._guess is case:
                with contextlib.suppress(LapwiseError, OSError):
                    self.prepare(case)

        with contextlib.suppress(RuntimeError):
            self._one.submit(work)

    async def do(self, function: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Run on the bench's own thread, one call after the other."""
        self._guess = None
        return await asyncio.get_running_loop().run_in_executor(self._one, lambda: function(*args, **kwargs))

    async def exact_in_time(self, case: Case) -> Diagnosis | None:
        """The exact order, worked out beside the bench's own thread; None if it takes too long or was asked anew.

        The thread is a daemon: leaving the program never waits for it.
        """
        if self.exact_seconds <= 0:
            return None
        loop = asyncio.get_running_loop()
        future: asyncio.Future[Diagnosis | None] = loop.create_future()
        self.stop_looking_on()
        mine = self._asked

        def done(answer: Diagnosis | None, error: Exception | None) -> None:
            if future.cancelled():
                return
            if error is not None:
                future.set_exception(error)
            else:
                future.set_result(answer)

        def work() -> None:
            answer, failed = None, None
            with self._thinking:
                if mine == self._asked:
                    try:
                        answer = self.exact(case, lambda: mine != self._asked)
                    except Exception as error:  # handed to the caller, whatever it is
                        failed = error
            with contextlib.suppress(RuntimeError):
                loop.call_soon_threadsafe(done, answer, failed)

        threading.Thread(target=work, name="exact", daemon=True).start()
        return await future

    def stop_looking_on(self) -> None:
        """Give up the search for an exact order that nobody waits for any more."""
        self._asked += 1
