"""Starting work that goes on beside the screen."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from typing import Any

from textual.dom import DOMNode

Work = Callable[[], Coroutine[Any, Any, None]]


def start(node: DOMNode, work: Work, *, group: str, alone: bool = False) -> None:
    """Begin ``work``; it ends with ``node``. ``alone``: what is still running in the group is given up."""
    node.run_worker(work, group=group, exclusive=alone)  # type: ignore[arg-type]
