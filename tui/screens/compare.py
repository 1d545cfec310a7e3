"""Two drawings side by side, with the sentence that tells the two apart."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.widgets import Static

from lapwise.tui.present.case import Apart
from lapwise.tui.present.words import safe
from lapwise.tui.screens.dialog import Dialog
from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.widgets.picture import Picture


class Compare(Dialog[tuple[str, str] | None]):
    """Holds one thing against each that it is mistaken for; answers with the id of the one it is and of the one it is
    not, or None."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,q,f2", "leave", show=False),
        Binding("1", "take(0)", show=False),
        Binding("2", "take(1)", show=False),
        Binding("right,down,space", "turn(1)", show=False),
        Binding("left,up", "turn(-1)", show=False),
    ]
    help_text = "Two that are easily mistaken for each other. 1 or 2 says which of them it is; space shows the next."

    def __init__(self, name: str, others: Mapping[str, Apart], labels: Mapping[str, str]) -> None:
        """``others``: id to how the two differ, not empty. ``labels``: what ids are called."""
        super().__init__("Which of the two?", classes="-pictured")
        self._mine = name
        self._others = tuple(others.items())
        self._labels = labels
        self._at = 0

    def compose(self) -> ComposeResult:
        with Vertical(id="compare", classes="sheet"):
            yield self.title_line()
            with Horizontal(id="compare-pictures"):
                for side in ("left", "right"):
                    with Vertical(classes="compare-side"):
                        yield Static("", id=f"compare-{side}-name", markup=False)
                        yield Picture(id=f"compare-{side}", most=max(6, self.app.size.height - 9))
            yield Static("", id="compare-words", markup=False)
            items = [Item("take(0)", "1", "It is the left one"), Item("take(1)", "2", "It is the right one")]
            if len(self._others) > 1:
                items.append(Item("turn(1)", "space", f"Next of {len(self._others)}"))
            yield Bar([*items, Item("leave", "esc", "Leave")], id="compare-bar", spread=True)

    def on_mount(self) -> None:
        self._show()

    @property
    def _pair(self) -> tuple[str, str]:
        return self._mine, self._others[self._at][0]

    def _show(self) -> None:
        for number, (side, name) in enumerate(zip(("left", "right"), self._pair, strict=True), 1):
            label = Content.styled(f"{number}. {safe(self._labels.get(name, name), 200)}", "bold")
            self.query_one(f"#compare-{side}-name", Static).update(label)
            self.query_one(f"#compare-{side}", Picture).show(name)
        of, how = self._others[self._at][1]
        said = f"{self._pair.index(of) + 1}. {safe(self._labels.get(of, of), 200)}: "
        self.query_one("#compare-words", Static).update(Content.assemble((said, "bold"), safe(how, 600)))

    def action_take(self, which: int) -> None:
        self.dismiss((self._pair[which], self._pair[1 - which]))

    def action_turn(self, step: int) -> None:
        self._at = (self._at + step) % len(self._others)
        self._show()
