"""Leaving: asked once where nothing can be lost, and where the sample would take with it what was entered there."""

from __future__ import annotations

from lapwise.tui.screens.sheet import Sheet, para
from lapwise.tui.widgets.bar import Item

COPY = Item("copy", "c", "Copy to my own bench")


class Leave(Sheet):
    """Answers ``leave`` or None."""

    help_text = "q again leaves. Escape or enter stays."

    def __init__(self) -> None:
        words = "The case stays open as it is; everything logged is on disk. It is all there at the next start."
        super().__init__("Leave?", [para(words)], [Item("leave", "q", "Leave")], close="Stay")


class NotKept(Sheet):
    """After the first thing entered at the sample. Answers ``copy`` or None."""

    help_text = "c copies what you entered to your own bench and goes there. Escape stays in the sample."

    def __init__(self) -> None:
        lines = [
            para(
                "This is the sample: stone, laps and record are invented. What you enter here is gone when you leave."
            ),
            para("If it is your own work, copy it to your own bench and go on there."),
        ]
        super().__init__("Not kept", lines, [COPY], close="Stay in the sample")


class LeaveSample(Sheet):
    """Before the sample is left with something entered there. Answers ``copy``, ``leave`` or None."""

    help_text = "c copies what you entered to your own bench, l leaves it behind. Escape stays in the sample."

    def __init__(self) -> None:
        lines = [para("What you entered in the sample is gone when you leave it, unless you copy it.")]
        super().__init__("Leave the sample?", lines, [COPY, Item("leave", "l", "Leave it behind")], close="Stay")
