"""The reference: everything known, found by name, with its sources."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.events import Key
from textual.widgets import Input

from lapwise.engine.errors import LapwiseError
from lapwise.engine.slots import SLOTS
from lapwise.tui.screens.base import AreaScreen, keys_of
from lapwise.tui.screens.chooser import Chooser
from lapwise.tui.screens.entry import Entry, matching
from lapwise.tui.screens.sheet import Line, heading, para, point
from lapwise.tui.widgets.lines import Lines
from lapwise.tui.widgets.rows import Row, Rows
from lapwise.tui.words import capital, fit
from lapwise.tui.work import start

KINDS = {
    "materials": "stone", "symptoms": "seen", "causes": "cause", "remedies": "remedy", "looks": "look", "laps": "lap",
    "compounds": "compound", "cautions": "caution", "rules": "rule", "conditions": "question", "sources": "source",
    "findings": "finding", "traits": "trait", "lap_traits": "lap trait",
}  # fmt: skip
"""Kinds of entries in the order they are listed, and what one of them is called."""
MOST = 300
"""Rows shown at once; typing on shortens the list."""


class ReferenceRows(Rows):
    """What was found."""

    help_text = (
        "What was found. Up and down move the mark, enter or a tap opens the entry beside it; / goes to the search."
    )


class ReferenceScreen(AreaScreen):
    """Search above, what was found on the left, the entry on the right."""

    area = "reference"
    CSS_PATH = "../reference.tcss"
    BINDINGS: ClassVar[list[BindingType]] = keys_of("reference")
    AUTO_FOCUS: ClassVar[str | None] = "#reference-rows"
    help_text = "Look up anything known: stones, laps, compounds, what is seen, causes, remedies, rules, sources."

    def __init__(self) -> None:
        super().__init__()
        self.entries: dict[str, tuple[str, Entry]] = {}
        self.kind: str | None = None
        self.seen: list[str] = []

    def body(self) -> ComposeResult:
        yield Input(
            placeholder="/  type what to look up: a stone, a lap, a trouble, a word of a rule",
            id="reference-find",
            compact=True,
        )
        with Horizontal(id="reference-body"):
            yield ReferenceRows(id="reference-rows", empty="Nothing by that name. Try a shorter word.")
            with VerticalScroll(id="reference-right", can_focus=False):
                yield Lines(id="reference-text")

    def refresh_view(self) -> None:
        if not self.entries:
            self._collect()
        self._list()
        if not self.seen and self.lapwise.desk.case.material:
            self.open(self.lapwise.desk.case.material)

    def _collect(self) -> None:
        knowledge = self.bench.knowledge
        for kind, word in KINDS.items():
            if kind == "conditions":
                table: dict[str, object] = dict(SLOTS)
            else:
                table = dict(getattr(knowledge, kind))
            for name, entry in table.items():
                label = entry if isinstance(entry, str) else ""
                for part in ("label", "because", "cite", "about"):
                    label = label or str(getattr(entry, part, "") or "")
                aka = " ".join(getattr(entry, "aka", ()))
                about = str(getattr(entry, "about", "") or "")
                self.entries[f"{kind}/{name}"] = (
                    kind,
                    Entry(f"{kind}/{name}", capital(label), word, words=f"{aka} {name} {about}"),
                )

    def _list(self, mark: str | None = None) -> None:
        typed = self.query_one(Input).value
        wanted = [entry for kind, entry in self.entries.values() if self.kind in (None, kind)]
        found = matching(wanted, typed)
        self.query_one(ReferenceRows).show([Row(e.id, _painter(e)) for e in found[:MOST]], mark=mark)
        kind = f"{self.kind.replace('_', ' ')}, " if self.kind else ""
        self.say(f"{kind}{len(found)} found" + (f", the first {MOST} shown" if len(found) > MOST else "") + ".")

    # --- an entry --------------------------------------------------------------------------------------------

    def open(self, name: str) -> None:
        """Show what is known of an id."""
        self.seen.append(name)
        start(self, self._open, group="open", alone=True)

    async def _open(self) -> None:
        try:
            shown, record = await self.bench.do(self.bench.entry, self.seen[-1])
        except LapwiseError as error:
            self.warn(str(error.problems[0]))
            return
        origin = "your own" if shown.place and shown.place.own else "shipped"
        lines: list[Line] = [
            heading(shown.label),
            para(f"{KINDS.get(shown.kind, shown.kind)} {shown.id} ({origin})", style="italic"),
        ]
        for title, texts in shown.lines:
            if title in ("steps",):
                lines += [heading("Steps"), *(point(text, f"{at}.") for at, text in enumerate(texts, 1))]
            elif len(texts) == 1:
                lines.append(para(f"{capital(title)}: {texts[0]}"))
            else:
                lines += [heading(capital(title)), *(point(text) for text in texts)]
        if record:
            lines += [Content(""), heading("Your record"), *(point(text) for text in record)]
        if shown.rules:
            lines += [Content(""), heading(f"Rules that speak of it ({len(shown.rules)})")]
            lines += [point(f"{rule.because} ({rule.source})") for rule in shown.rules[:40]]
        if shown.sources:
            lines += [Content(""), heading("Sources")]
            for source in shown.sources:
                status = "from memory, not opened" if source.status == "memory" else source.status
                lines.append(point(f"{source.id}: {source.cite} ({status}) {source.address}"))
        self.query_one("#reference-text", Lines).show(lines)
        self.query_one("#reference-right", VerticalScroll).scroll_home(animate=False)

    # --- actions ---------------------------------------------------------------------------------------------

    def do_find(self) -> None:
        self.query_one(Input).focus()

    def do_kind(self) -> None:
        entries = [Entry("all", "Everything"), *(Entry(k, capital(k.replace("_", " "))) for k in KINDS)]

        def chosen(ids: tuple[str, ...] | None) -> None:
            if ids:
                self.kind = None if ids[0] == "all" else ids[0]
                self._list()

        self.app.push_screen(Chooser("Which kind?", entries), chosen)

    def do_follow(self) -> None:
        marked = self.query_one(ReferenceRows).marked
        if marked is not None:
            self.open(marked.partition("/")[2])

    def do_back(self) -> None:
        if len(self.seen) > 1:
            self.seen.pop()
            start(self, self._open, group="open", alone=True)

    def do_read(self) -> None:
        self.query_one("#reference-right", VerticalScroll).scroll_relative(y=10, animate=False)

    def on_rows_chosen(self, message: Rows.Chosen) -> None:
        message.stop()
        self.do_follow()

    def on_input_changed(self) -> None:
        if self.bench.ready and self.entries:
            self._list()

    def on_input_submitted(self) -> None:
        self.query_one(ReferenceRows).focus()
        self.do_follow()

    def on_key(self, event: Key) -> None:
        find = self.query_one(Input)
        if find.has_focus and event.key in ("up", "down"):
            event.stop()
            self.query_one(ReferenceRows).action_move(1 if event.key == "down" else -1)
        elif find.has_focus and event.key == "escape":
            event.stop()
            self.query_one(ReferenceRows).focus()


def _painter(entry: Entry) -> Callable[[int], Content]:
    def paint(width: int) -> Content:
        kind = min(10, width // 4)
        return Content.assemble((fit(entry.label, width - kind - 1), ""), " ", (fit(entry.about, kind), "$secondary"))

    return paint
