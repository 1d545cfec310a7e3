"""A list to choose from that is filtered as one types."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import ClassVar

from rich.cells import cell_len
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.events import Key
from textual.message import Message
from textual.timer import Timer
from textual.widgets import Input, Static

from lapwise.tui.pictures.catalog import DRAWINGS
from lapwise.tui.present.case import Apart
from lapwise.tui.present.words import fit, safe
from lapwise.tui.screens.compare import Compare
from lapwise.tui.screens.entry import Entry, alike, holding
from lapwise.tui.screens.sheet import Explained
from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.widgets.lines import cut
from lapwise.tui.widgets.picture import Picture
from lapwise.tui.widgets.rows import Paint, Row, Rows

NOT_KNOWN = "none:"
"""The line for who does not know: it leaves open what the list asks."""
RESTING_SECONDS = 0.05
"""How long the mark must rest on a row before what would follow from it is worked out ahead."""


class Filter(Input):
    """The line to type in. A space marks the row where nothing is typed, where ``marks`` says so, or behind a space."""

    marks = False
    """True once the mark was moved since the last letter: who does so has found the row."""

    class Mark(Message):
        """A space was pressed that is no text."""

    class Take(Message):
        """Enter was pressed."""

    def on_key(self, event: Key) -> None:
        if event.key == "enter":
            event.prevent_default().stop()
            self.post_message(self.Take())
        elif event.key == "space" and (not self.value or self.marks or self.value.endswith(" ")):
            event.prevent_default().stop()
            self.post_message(self.Mark())


class Chooser(Explained[tuple[str, ...] | None]):
    """Answers with the ids chosen, or None if it was left. ``many``: several may be marked.

    ``none``: what the last line says; it answers with nothing chosen, or with those marked before where several may be.
    ``guess``: told what would be chosen now, so that the answer to it can be worked out ahead. The drawing of the
    marked entry stands beside the list where there is room. ``apart``: what an entry is mistaken for.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "list('move', 1)", show=False, priority=True),
        Binding("up", "list('move', -1)", show=False, priority=True),
        Binding("pagedown", "list('page', 1)", show=False, priority=True),
        Binding("pageup", "list('page', -1)", show=False, priority=True),
        Binding("f2", "compare", show=False, priority=True),
    ]
    AUTO_FOCUS = "Input"
    help_title = "Choosing"
    help_text = (
        "Type any part of a name to shorten the list; up and down move the mark, enter chooses, escape leaves. "
        "Where several may be chosen, a space (or a tap) marks one and stays; behind typed letters a space is a letter "
        "until the mark was moved, or press it twice. Once something is marked [x], enter takes what is marked and "
        "nothing else. F2 holds the row against what it is mistaken for, and marks the one it is."
    )

    def __init__(
        self,
        title: str,
        entries: Sequence[Entry],
        *,
        many: bool = False,
        chosen: Sequence[str] = (),
        none: str = "",
        none_about: str = "leaves it open",
        start: str | None = None,
        guess: Callable[[tuple[str, ...]], None] | None = None,
        apart: Mapping[str, Mapping[str, Apart]] | None = None,
        whole: bool = False,
    ) -> None:
        """``whole``: labels stand in full, without drawings; what is said about them only where there is room."""
        super().__init__(title)
        self._whole = whole
        self._apart = apart or {}
        self._guess = guess
        self._resting: Timer | None = None
        open_ = Entry(NOT_KNOWN, none, none_about, words="unknown unsure not sure no idea cannot tell")
        self._entries = (*entries, open_) if none else tuple(entries)
        self._many = many
        self._chosen = list(chosen)
        self._none = none
        self._start = start
        self._toggled = False
        self._began: str | None = None
        self._told_of: str | None = None
        """The row of which it was said that enter does not take it."""

    def compose(self) -> ComposeResult:
        with Vertical(id="chooser", classes="sheet"):
            yield self.title_line("chooser-title")
            yield Filter(placeholder="type to filter", id="chooser-filter", select_on_focus=False, validate_on=())
            with Horizontal(id="chooser-body"):
                yield Rows(id="chooser-rows", empty="Nothing by that name. Delete a letter, or escape to leave.")
                yield Picture(id="chooser-picture")
            yield Static("", id="chooser-about", markup=False)
            yield Bar(id="chooser-bar", spread=True)

    def on_mount(self) -> None:
        pictured = not self._whole and any(_drawing(entry) for entry in self._entries)
        self.set_class(pictured, "-pictured")
        rows = self.query_one(Rows)
        rows.row_height = self.row_height
        self._show(self._start)
        self._began = rows.marked
        items = [Item("tapped", "enter", "Choose")]
        if self._many:
            items = [Item("tapped", "enter", "Choose and close", "Choose"), Item("mark", "space", "Mark more", "Mark")]
        elif self._none:
            items.append(Item("none", "del", self._none))
        if self._apart:
            items.append(Item("compare", "f2", "Tell apart", "Apart"))
        if self.has_class("-touch"):
            items += [Item("list('page', -1)", "▲", "Up"), Item("list('page', 1)", "▼", "Down")]
        self.query_one(Bar).show([*items, Item("leave", "esc", "Leave")])

    def _show(self, mark: str | None = None) -> None:
        typed = self.query_one(Input).value
        found = holding(self._entries, typed)
        rows: list[Row] = []
        if not found and (found := alike(self._entries, typed)):
            rows.append(Row("group:", _heading("Nothing by that name. The nearest:"), heading=True))
        group = ""
        plain = not typed.strip()
        for entry in found:
            if plain and entry.group and entry.group != group:
                group = entry.group
                rows.append(Row(f"group:{group}", _heading(group), heading=True))
            rows.append(Row(entry.id, partial(self._paint, entry)))
        first = next((r.id for r in rows if not r.heading), None)
        with self.prevent(Rows.Moved):
            self.query_one(Rows).show(rows, mark=mark or first)
        self._show_about()

    def _show_about(self) -> None:
        """The marked entry in full: the list cuts what is too long for it."""
        marked = self.query_one(Rows).marked
        entry = next((e for e in self._entries if e.id == marked), None)
        words = Content("")
        if entry is not None:
            about = f"  {safe(entry.about, 300)}" if entry.about else ""
            words = Content.assemble((safe(entry.label, 200), "bold"), (about, "$foreground 80%"))
        self.query_one(Picture).show(_drawing(entry) if entry is not None else "")
        place = self.query_one("#chooser-about", Static)
        place.update(cut(words, place.content_size.width, place.content_size.height), layout=False)
        self._guess_soon()

    def on_rows_moved(self, message: Rows.Moved) -> None:
        message.stop()
        self._show_about()

    def _paint(self, entry: Entry, width: int) -> Content:
        box = ("[x] " if entry.id in self._chosen else "[ ] ") if self._many and entry.id != NOT_KNOWN else ""
        label = safe(entry.label, 400)
        share = 3 if self.has_class("-pictured") else 2
        wide = min(max(26, width * share // 5), 44) if entry.about and width >= 50 else width - len(box)
        wide = min(max(wide, cell_len(label)), width - len(box))  # the name goes before what is said about it
        head = fit(label, max(4, wide))
        rest = width - len(box) - wide - 1
        if not entry.about or rest < 12:
            return Content(box + head)
        return Content.assemble(box + head + " ", (fit(entry.about, rest), "$foreground 75%"))

    def on_input_changed(self, event: Input.Changed) -> None:
        self.query_one(Filter).marks = False
        self.say("Space again marks this row." if self._many and event.value.endswith(" ") else "")
        self._show()

    def on_key(self, event: Key) -> None:
        if event.key == "delete" and self._none and not self.query_one(Input).value:
            event.stop()
            self.action_none()

    def action_none(self) -> None:
        self.dismiss(())

    def on_filter_mark(self) -> None:
        if self._many:
            self.action_mark()

    def on_filter_take(self) -> None:
        self._take()

    def action_list(self, what: str, step: int) -> None:
        rows = self.query_one(Rows)
        (rows.action_move if what == "move" else rows.action_page)(step)
        self.query_one(Filter).marks = self._many

    def action_compare(self) -> None:
        """Hold the marked entry against what it is mistaken for. The mark goes to the one it is; where several may be
        chosen it is ticked, and the one it is not is ticked no more."""
        marked = self.query_one(Rows).marked
        if marked is None or not (others := self._apart.get(marked)):
            return
        labels = {entry.id: entry.label for entry in self._entries}

        def decided(found: tuple[str, str] | None) -> None:
            if found is None:
                return
            which = found[0]
            with self.prevent(Input.Changed):
                self.query_one(Input).value = ""
            if self._many:
                self._chosen = [name for name in self._chosen if name not in found] + [which]
                self._toggled = True
                self.say(f"Marked: {labels[which]}")
            self._show(which)

        self.app.push_screen(Compare(marked, others, labels), decided)

    def action_mark(self) -> None:
        marked = self.query_one(Rows).marked
        if marked is None or marked == NOT_KNOWN:
            return
        if marked in self._chosen:
            self._chosen.remove(marked)
        else:
            self._chosen.append(marked)
        self._toggled = True
        self._show(marked)

    def _meant(self) -> tuple[str, ...] | None:
        """What enter would choose now; None if nothing can be chosen."""
        marked = self.query_one(Rows).marked
        if not self._many:
            return None if marked is None else () if marked == NOT_KNOWN else (marked,)
        chosen = tuple(self._chosen)
        # once something is ticked the row the mark stands on is only looked at, unless it was typed and nothing ticked
        row = not self._toggled and (not chosen or bool(self.query_one(Input).value))
        return (*chosen, marked) if row and marked and marked not in (NOT_KNOWN, *chosen) else chosen

    def _take(self) -> None:
        meant, marked = self._meant(), self.query_one(Rows).marked
        if meant is None:
            return
        left_out = self._many and marked is not None and marked not in (NOT_KNOWN, *meant)
        sought = bool(self.query_one(Input).value) or (not self._toggled and marked != self._began)
        if left_out and sought and self._told_of != marked:
            self._told_of = marked
            self.say("This row is not marked: space marks it. Enter again leaves it out.")
            return
        self.dismiss(meant)

    def _guess_soon(self) -> None:
        """Let what would follow from this choice be worked out ahead, once the mark rests on it."""
        if self._guess is None:
            return
        if self._resting is not None:
            self._resting.stop()
        self._resting = self.set_timer(RESTING_SECONDS, self._guess_now)

    def _guess_now(self) -> None:
        meant = self._meant()
        if self._guess is not None and meant is not None:
            self._guess(meant)

    def on_rows_chosen(self, message: Rows.Chosen) -> None:
        message.stop()
        if message.row_id == NOT_KNOWN:
            self._take()
        elif self._many:
            self.action_mark()
            self.query_one(Input).focus()
        else:
            self.dismiss((message.row_id,))

    def action_tapped(self) -> None:
        """Choose by a tap, which has already marked what is required: the row under the mark is not added unasked."""
        if self._many and self._chosen:
            self.dismiss(tuple(self._chosen))
        else:
            self._take()


def _drawing(entry: Entry) -> str:
    """The id of the drawing of an entry, "" if there is none."""
    return next((name for name in (entry.picture, entry.id) if name in DRAWINGS), "")


def _heading(text: str) -> Paint:
    return lambda width: Content(fit(text, width))
