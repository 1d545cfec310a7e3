"""The reference: everything known, found by name, with its sources; and knowledge files added and set aside.

It asks before a file is taken or set aside, and nothing is lost by either.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path

from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.events import Key
from textual.widgets import Input

from lapwise.engine.errors import LapwiseError
from lapwise.engine.knowledge.files import own_files
from lapwise.engine.knowledge.taking import Offered, look_at, look_at_sent, put_away, take
from lapwise.engine.record.work import Progress
from lapwise.engine.slots import SLOTS
from lapwise.engine.wording import capital
from lapwise.tui.pictures.catalog import words as drawing_words
from lapwise.tui.present.words import fit
from lapwise.tui.screens.asking import choose
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.entry import Entry, matching
from lapwise.tui.screens.hand_over import Opener, take_open
from lapwise.tui.screens.long_work import long_work
from lapwise.tui.screens.reference_text import KINDS, Words, entry_lines
from lapwise.tui.widgets.bar import Item
from lapwise.tui.widgets.lines import Lines, para, point
from lapwise.tui.widgets.picture import Picture
from lapwise.tui.widgets.rows import Row, Rows
from lapwise.tui.work import beside

MOST = 300
"""Rows shown at once; typing on shortens the list."""
FAULTS_SHOWN = 40


THINGS = ("materials", "laps", "compounds")
"""What is on the bench: found first where several of it are typed."""


def _named(entry: Entry, typed: str) -> bool:
    """Whether what was typed is one thing: its name holds every word of it, or another name of it is that."""
    label, words = entry.label.casefold(), typed.casefold().split()
    return all(word in label for word in words) or " ".join(words) in entry.words.casefold()


def _each(entries: Sequence[Entry], typed: str) -> list[Entry]:
    """The stones, laps and compounds whose name holds any of the words typed, in this order."""
    words = typed.casefold().split()
    places = {kind: [e for e in entries if e.id.startswith(f"{kind}/")] for kind in THINGS}
    found = (e for kind in THINGS for word in words for e in places[kind] if word in e.label.casefold().split())
    return list(dict.fromkeys(found))


class ReferenceRows(Rows):
    """What was found."""

    help_text = (
        "What was found. Up and down move the mark, enter or a tap opens the entry beside it; / goes to the search."
    )


class ReferenceScreen(AreaScreen, area="reference", row="follow"):
    """Search above, what was found on the left, the entry on the right."""

    CSS_PATH = "../reference.tcss"
    AUTO_FOCUS = "#reference-rows"
    help_text = "Look up anything known: stones, troubles, laps, compounds, causes, remedies, rules, sources."

    def __init__(self) -> None:
        super().__init__()
        self.entries: dict[str, tuple[str, Entry]] = {}
        self.kind: str | None = None
        self.seen: list[str] = []
        self._words: Words | None = None
        self._wanted: str | None = None

    def forget(self) -> None:
        self.entries, self.kind, self.seen, self._words = {}, None, [], None
        self.query_one(Input).value = ""
        self._draw("")
        self.query_one("#reference-text", Lines).show([])

    def body(self) -> ComposeResult:
        yield Input(
            placeholder="press /, then type: a stone, a lap, a trouble, a word of a rule",
            id="reference-find",
            compact=True,
        )
        with Horizontal(id="reference-body"):
            yield ReferenceRows(id="reference-rows", empty="Nothing by that name. Try a shorter word.")
            with VerticalScroll(id="reference-right", can_focus=False):
                yield Picture(id="reference-above", most=16)
                yield Lines(id="reference-text")
                yield Picture(id="reference-below", most=16)

    def refresh_view(self) -> None:
        self.meet()
        if not self.entries:
            self._collect()
        stone = self.controller.case.material
        first = not self.seen and stone is not None
        self._list(f"materials/{stone}" if first else None)
        if first and stone is not None:
            self.open(stone)

    def case_changed(self) -> None:
        if self._wanted is not None:  # what the record says of it may be another; the list stays as it is
            self._show_entry(self._wanted)

    def known_anew(self) -> None:
        """What was shown may be gone with a file: the mark shows what is left."""
        self.entries, self._wanted = {}, None
        self.refresh_view()
        if self._wanted is None:
            self._list(peek=True)

    def _collect(self) -> None:
        knowledge = self.workspace.knowledge
        self._words = Words(knowledge)
        for kind, (word, _) in KINDS.items():
            table: Mapping[str, object] = SLOTS if kind == "conditions" else getattr(knowledge, kind)
            for name, entry in table.items():
                label = entry if isinstance(entry, str) else ""
                for part in ("label", "because", "cite", "about"):
                    label = label or str(getattr(entry, part, "") or "")
                also = " ".join(getattr(entry, "also", ()))
                about = str(getattr(entry, "about", "") or "")
                known = Entry(f"{kind}/{name}", capital(label), word, words=f"{also} {name} {about}")
                self.entries[known.id] = (kind, known)

    def _list(self, mark: str | None = None, *, peek: bool = False) -> None:
        """List what fits; ``peek``: and show what the mark then stands on."""
        typed = self.query_one(Input).value
        wanted = [entry for kind, entry in self.entries.values() if self.kind in (None, kind)]
        found = matching(wanted, typed)
        if len(typed.split()) > 1 and not any(_named(e, typed) for e in found):
            named = _each(wanted, typed)  # several things at once: stones and laps before what speaks of them
            found = [*named, *(e for e in found if e not in named)]
        rows = self.query_one(ReferenceRows)
        rows.row_height = 2 if self.lapwise.touch else 1
        with self.prevent(Rows.Moved):
            rows.show([Row(e.id, partial(_paint, e)) for e in found[:MOST]], mark=mark)
        if peek and rows.marked is not None:
            self._show_entry(rows.marked.partition("/")[2])
        kind = f"{capital(KINDS[self.kind][1])}: " if self.kind else ""
        if not found:
            self._wanted = None
            self._draw("")
            self.query_one("#reference-text", Lines).show(())
        if not typed.strip():
            self.say(f"{kind}{len(found)} entries. {self.key('reference.find')}: type what to look up.")
            return
        self.say(f"{kind}{len(found)} found" + (f", the first {MOST} shown" if len(found) > MOST else "") + ".")

    # --- an entry --------------------------------------------------------------------------------------------

    def open(self, name: str) -> None:
        """Show what is known of an id."""
        self.seen.append(name)
        self._show_entry(name)

    def _show_entry(self, name: str) -> None:
        self._wanted = name
        self._open(name)

    @beside("open", alone=True)
    async def _open(self, name: str) -> None:
        try:
            shown, record, chances = await self.workspace.do(self.workspace.entry, name)
        except LapwiseError:
            if self._wanted == name:
                raise
            return  # it went with its file while it was looked up
        if self._words is None or self._wanted != name:
            return
        lines = entry_lines(shown, record, self._words, drawing_words(name), chances)
        self._draw(name)
        self.query_one("#reference-text", Lines).show(lines)
        self.query_one("#reference-right", VerticalScroll).scroll_home(animate=False)

    def _draw(self, name: str) -> None:
        """Draw an id: above its text on a tall screen, below it on others."""
        for picture in self.query(Picture):
            picture.show(name)

    def _mark(self, name: str) -> None:
        """Put the mark on the row of this id, where it is in the list."""
        rows = self.query_one(ReferenceRows)
        for row in rows.rows:
            if row.id.partition("/")[2] == name:
                with self.prevent(Rows.Moved):
                    rows.mark(row.id)
                return

    def on_rows_moved(self, message: Rows.Moved) -> None:
        """Show what the mark stands on; going back leads to what was opened, not to all that was passed."""
        message.stop()
        self._show_entry(message.row_id.partition("/")[2])

    # --- actions ---------------------------------------------------------------------------------------------

    def do_find(self) -> None:
        self.query_one(Input).focus()

    def do_kind(self) -> None:
        entries = [Entry("all", "Everything"), *(Entry(k, capital(many)) for k, (_, many) in KINDS.items())]

        def chosen(kind: str) -> None:
            self.kind = None if kind == "all" else kind
            self._list(peek=True)

        choose(self.app, "Which kind?", entries, chosen)

    def do_follow(self) -> None:
        marked = self.query_one(ReferenceRows).marked
        if marked is not None:
            self.open(marked.partition("/")[2])

    def do_back(self) -> None:
        if len(self.seen) > 1:
            self.seen.pop()
            if all(row.id.partition("/")[2] != self.seen[-1] for row in self.query_one(ReferenceRows).rows):
                with self.prevent(Input.Changed):
                    self.query_one(Input).value = ""
                self.kind = None
                self._list()
            self._mark(self.seen[-1])
            self._show_entry(self.seen[-1])

    def do_read(self) -> None:
        self.query_one("#reference-right", VerticalScroll).scroll_relative(y=10, animate=False)

    def on_input_changed(self) -> None:
        if self.workspace.ready and self.entries:
            self._list(peek=True)

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

    # --- files of one's own ------------------------------------------------------------------------------------

    def do_add(self) -> None:
        if self._of_sample():
            return
        about = "A guild's experience, or stones, laps and rules of your own: a file that ends in .yaml."
        take_open(self, "Add a knowledge file", about, self._offer)

    def _of_sample(self) -> bool:
        if self.workspace.sample:
            self.warn("The sample keeps no files. Go to your own bench first.")
        return self.workspace.sample

    @beside("files")
    async def _offer(self, opened: Opener, name: str) -> None:
        from lapwise.tui.present.offered import MORE, what_it_is  # start-up time

        def read(tell: Progress) -> tuple[Offered, list[str]]:
            where = self.workspace.where
            if self.app.is_web:
                with opened() as file:
                    offered = look_at_sent(file.read(), name, where)
            else:
                offered = look_at(Path(name), where)
            tell(0, None)
            return offered, list(what_it_is(offered, tell))

        try:
            offered, said = await long_work(self, "Looking the file over", lambda tell: self.workspace.do(read, tell))
        except (LapwiseError, OSError) as error:
            faults = error.problems[:FAULTS_SHOWN] if isinstance(error, LapwiseError) else [f"{name}: {error.strerror}"]
            self.read("No file was taken", [point(fault, "!") for fault in faults])
            return

        more = [] if offered.only_numbers else [para(MORE, style="bold $warning")]
        does = {Item("take", "y", "Take it"): partial(self._take, offered)}
        self.read(f"Take {offered.name}?", [*map(para, said), *more], does)

    @beside("files")
    async def _take(self, offered: Offered) -> None:
        _, aside = await self.controller.know(partial(take, offered, self.workspace.where))
        self.known_anew()
        before = f" The one you had is set aside: {aside}." if aside else ""
        self.say(f"Taken: {offered.name}. The advice uses it from now on.{before}")

    @beside("files")
    async def do_put_away(self) -> None:
        if self._of_sample():
            return
        found = await self.workspace.do(own_files, self.workspace.where)
        names = sorted({Path(str(file.path)).name for file in found})
        if not names:
            self.warn("There are no files of your own.")
            return
        choose(self.app, "Which file of your own?", [Entry(name, name) for name in names], self._sure)

    def _sure(self, name: str) -> None:
        text = "From then on the advice is as if it had never been there. The file is moved, not deleted."
        self.read(f"Stop using {name}?", [para(text)], {Item("away", "y", "Set aside"): partial(self._put_away, name)})

    @beside("files")
    async def _put_away(self, name: str) -> None:
        aside = await self.controller.know(partial(put_away, name, self.workspace.where))
        self.known_anew()
        self.say(f"Set aside: {aside}")


def _paint(entry: Entry, width: int) -> Content:
    kind = min(10, width // 4)
    return Content.assemble(fit(entry.label, width - kind - 1), " ", (fit(entry.about, kind), "$secondary"))
