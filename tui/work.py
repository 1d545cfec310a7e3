"""Starting work that goes on beside the screen."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Any

from textual.dom import DOMNode

from lapwise.engine.errors import LapwiseError

Work = Callable[[], Coroutine[Any, Any, None]]


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

    node.run_worker(watched, group=group, exclusive=alone)  # type: ignore[arg-type]
