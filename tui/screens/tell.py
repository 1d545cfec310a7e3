"""A line to type or dictate a case into; what was heard stands below it, to confirm, change or leave out."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.events import Key
from textual.message import Message
from textual.timer import Timer
from textual.widgets import TextArea

from lapwise.engine.case import Case
from lapwise.engine.wording import capital, counted, small
from lapwise.tui.open_case import stated as stated_of
from lapwise.tui.present.case import told_name, told_value
from lapwise.tui.present.words import fit, safe
from lapwise.tui.screens.asking import choose
from lapwise.tui.screens.entry import Entry
from lapwise.tui.screens.sheet import Explained
from lapwise.tui.screens.told import LOGGED, Told, told
from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.widgets.rows import Paint, Row, Rows
from lapwise.tui.work import beside

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge
    from lapwise.engine.words.heard import Hearing

PAUSE_SECONDS = 0.06
"""How long the hand must rest before what was typed is read."""
EXAMPLE = (
    "topaz, tin lap with alumina after a 3k pre-polish. The table stays foggy, I cleaned the lap and it did nothing"
)
TAKE, OTHER, LEAVE_OUT = "take:", "other:", "leave-out:"
Hear = Callable[[str], Awaitable["Hearing"]]
Pick = Callable[[str, Callable[[str | None], None]], None]
"""Lets the person choose any value of a key from the full list."""


class Words(TextArea):
    """Where it is typed or dictated; enter and the last line's down go on to what was heard."""

    class Done(Message):
        """What is typed is to be looked over."""

    async def _on_key(self, event: Key) -> None:
        last = event.key == "down" and self.cursor_at_last_line
        if event.key in ("enter", "tab") or last:
            event.prevent_default().stop()
            self.post_message(self.Done())
        else:
            await super()._on_key(event)


class ToldRows(Rows):
    """What was heard; going up from the first line leads back to the text, a space leaves the marked line out."""

    help_text = (
        "What was heard. [x] is taken, [ ] is left out, [?] is not clear and waits for your answer. Enter on a line "
        "changes it, a space leaves it out or takes it again; enter on the first line takes all that is marked."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "turn", show=False),
        Binding("tab,shift+tab", "back", show=False),
    ]

    class Turned(Message):
        """The marked line is to be left out, or taken again."""

    class Back(Message):
        """The mark went up from the first line."""

    def action_turn(self) -> None:
        self.post_message(self.Turned())

    def action_back(self) -> None:
        self.post_message(self.Back())

    def action_move(self, step: int) -> None:
        before = self.cursor
        super().action_move(step)
        if step < 0 and self.cursor == before:
            self.action_back()


class Tell(Explained[tuple[Told, ...] | None]):
    """Answers with the lines as confirmed, or None if it was left; ``keep`` is given the text whenever it changes."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+s,f10", "take", show=False, priority=True),
    ]
    AUTO_FOCUS = "Words"
    help_title = "In your own words"
    help_text = (
        "Say it as you would at the bench: the stone, the lap and what is on it, the previous step, what you see, what "
        "you tried and how it went. Below is what was heard; nothing is taken before you say so. Enter goes on "
        "to those lines: enter on a line changes it, a space leaves it out, and what is not clear [?] is asked. The "
        "first line takes what is marked [x]; so does ctrl+s. Escape leaves; next time you may go on with what you "
        "typed, or begin anew."
    )

    def __init__(
        self, knowledge: Knowledge, case: Case, hear: Hear, pick: Pick, keep: Callable[[str], None], draft: str = ""
    ) -> None:
        super().__init__("Tell it in your own words")
        self._knowledge, self._case, self._hear, self._pick, self._keep = knowledge, case, hear, pick, keep
        self._draft = draft
        self._lines: tuple[Told, ...] = ()
        self._unheard: tuple[str, ...] = ()
        self._read: str | None = None
        """The text that the lines stand for; None while none was read."""
        self._resting: Timer | None = None
        self._after: Callable[[], None] | None = None
        """What waits until the text as it stands now was read."""

    def compose(self) -> ComposeResult:
        with Vertical(id="tell", classes="sheet"):
            yield self.title_line()
            yield Words(self._draft, id="tell-words", compact=True, highlight_cursor_line=False, placeholder=EXAMPLE)
            yield ToldRows(id="tell-rows")
            items = (
                Item("next", "enter", "Go on"),
                Item("turn", "space", "Leave out"),
                Item("take", "ctrl+s", "Take it"),
                Item("leave", "esc", "Leave"),
            )
            yield Bar(items, id="tell-bar", spread=True)

    def on_mount(self) -> None:
        words = self.query_one(Words)
        words.move_cursor(words.document.end)
        self.query_one(Rows).row_height = self.row_height
        self._read_now()

    # --- what was heard --------------------------------------------------------------------------------------

    @property
    def typed(self) -> str:
        """The text as it stands."""
        return self.query_one(Words).text

    def on_text_area_changed(self) -> None:
        self._keep(self.typed)
        if self._resting is not None:
            self._resting.stop()
        self._resting = self.set_timer(PAUSE_SECONDS, self._read_now)

    def _read_now(self) -> None:
        if self._resting is not None:
            self._resting.stop()
        self._reading()

    @beside("hear", alone=True)
    async def _reading(self) -> None:
        text = self.typed
        hearing = await self._hear(text)
        self._lines, self._unheard, self._read = told(hearing, self._lines), hearing.unheard, text
        self._show()
        then, self._after = self._after, None
        if then is not None:
            then()

    def _once_read(self, then: Callable[[], None]) -> None:
        """Do it for the text as it stands now, not for what it was a moment ago."""
        if self._read == self.typed:
            then()
        else:
            self._after = then
            self._read_now()

    def _show(self, mark: str | None = None) -> None:
        asked = [line for line in self._lines if line.asked]
        count = sum(line.taken for line in self._lines)
        rows: list[Row] = []
        if self._lines:
            first = counted(len(asked), "question") + " first" if asked else f"Take {counted(count, 'thing')}"
            rows.append(Row(TAKE, lambda width: Content.styled(fit(f"» {first}", width), "bold")))
        rows += [Row(line.id, self._painter(line)) for line in self._lines]
        if self._unheard:
            missed = "Not understood: " + ", ".join(safe(word, 60) for word in self._unheard)
            rows.append(Row("unheard:", lambda width: Content(fit(missed, width)), heading=True))
        if not rows:
            hint = "What was heard appears here: nothing is taken before you have seen it."
            rows.append(Row("hint:", lambda width: Content(fit(hint, width)), heading=True))
        self.query_one(ToldRows).show(rows, mark=mark)

    def _painter(self, line: Told) -> Paint:
        box = "[?]" if line.asked else "[x]" if line.taken else "[ ]"
        name = told_name(line.key)
        tries = {choice.partition("=")[0] for choice in line.choices if line.key == "tried"}
        if line.asked and len(tries) == 1:
            meant = small(self._value(line, tries.pop())) + ": how did it go?"
        elif line.asked:
            meant = " or ".join(small(self._value(line, choice)) for choice in line.choices) + "?"
        else:
            meant = small(self._value(line, line.value)) if line.value is not None else "left out"
        now = None if line.key in (*LOGGED, "symptoms") else stated_of(self._case, line.key)
        if line.taken and now is not None and now != line.value and (line.key, now) != ("stage", "polish"):
            meant += f" (now {small(told_value(self._knowledge, line.key, now))})"
        said = f"“{safe(line.words, 200)}”"

        def paint(width: int) -> list[Content]:
            tail = min(len(said), max(12, width // 3))
            room = width - tail - 1
            first = (fit(f"{box} {name}: {meant}", room), "bold" if line.asked else "")
            lines = [Content.assemble(first, " ", (fit(said, tail), "$foreground 75%"))]
            if len(name) + len(meant) + 6 > room:  # only where rows are two lines high
                lines.append(Content("    " + fit(f"{name}: {meant}"[room - 6 :], max(1, width - 4))))
            return lines

        return paint

    def _value(self, line: Told, value: str) -> str:
        return told_value(self._knowledge, line.key, value)

    # --- keys and taps ---------------------------------------------------------------------------------------

    def on_words_done(self) -> None:
        self._once_read(self._to_rows)

    def _to_rows(self) -> None:
        if self._lines:
            rows = self.query_one(ToldRows)
            rows.mark(next((line.id for line in self._lines if line.asked), TAKE))
            rows.focus()

    def on_told_rows_back(self) -> None:
        self.query_one(Words).focus()

    def on_told_rows_turned(self) -> None:
        marked = self.query_one(Rows).marked
        self._put(next((line.turned() for line in self._lines if line.id == marked), None))

    def _put(self, line: Told | None) -> None:
        """Let this line stand in place of the one of its id."""
        if line is not None:
            self._lines = tuple(line if old.id == line.id else old for old in self._lines)
            self._show(line.id)

    def on_rows_chosen(self, message: Rows.Chosen) -> None:
        message.stop()
        if message.row_id == TAKE:
            self.action_take()
            return
        for line in self._lines:
            if line.id == message.row_id:
                self._ask(line)

    def _ask(self, line: Told, then: Callable[[], None] | None = None) -> None:
        """Ask what is meant by a line; ``then`` follows an answer."""
        entries = [Entry(f"={value}", capital(self._value(line, value)), picture=value) for value in line.choices]
        if line.value is not None and line.value not in line.choices:
            entries.insert(0, Entry(f"={line.value}", capital(self._value(line, line.value))))
        if line.key not in LOGGED:
            entries.append(Entry(OTHER, "Something else …", "choose from the whole list"))
        entries.append(Entry(LEAVE_OUT, "Leave it out", "I do not know, or it is not so"))

        def take(value: str | None) -> None:
            now = line.answered(value)
            self._put(now)
            if now.asked:
                self._ask(now, then)
            elif then is not None:
                then()

        def chosen(value: str) -> None:
            if value == OTHER:
                self._pick(line.key, take)
            else:
                take(None if value == LEAVE_OUT else value.removeprefix("="))

        title = f"{told_name(line.key)}: what do you mean by “{safe(line.words, 80)}”?"
        here = None if line.asked else f"={line.value}" if line.value is not None else LEAVE_OUT
        choose(self.app, title, entries, chosen, start=here)

    def action_take(self) -> None:
        """Take what is marked; what is not clear is asked first, one after the other."""
        self._once_read(self._take)

    def _take(self) -> None:
        asked = next((line for line in self._lines if line.asked), None)
        if asked is not None:
            self._ask(asked, self._next_question)
        elif any(line.taken for line in self._lines):
            self.dismiss(self._lines)

    def _next_question(self) -> None:
        asked = next((line for line in self._lines if line.asked), None)
        if asked is not None:
            self._ask(asked, self._next_question)
        else:  # all is clear now: one more look at it, with the mark where it is taken
            rows = self.query_one(ToldRows)
            rows.mark(TAKE)
            rows.focus()

    def action_next(self) -> None:
        """Go on to what was heard; there, choose the marked line."""
        rows = self.query_one(ToldRows)
        rows.action_choose() if rows.has_focus else self.on_words_done()

    def action_turn(self) -> None:
        """Leave the marked line out, or take it again."""
        self.on_told_rows_turned()
