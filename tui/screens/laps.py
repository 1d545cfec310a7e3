"""Own laps: what each carries, when it was cleaned, what ran on it, what to beware of."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from lapwise.engine.numerals import read_length
from lapwise.engine.record.model import WEAR, OwnLap
from lapwise.engine.wording import listing, small
from lapwise.tui.present.case import name_of
from lapwise.tui.present.words import fit, plain_id, safe
from lapwise.tui.screens.ask import Ask, Blank
from lapwise.tui.screens.base import keys_of
from lapwise.tui.screens.chooser import Chooser
from lapwise.tui.screens.entry import Entry, entry_of
from lapwise.tui.screens.held import BenchArea
from lapwise.tui.screens.sheet import Sheet, heading, para
from lapwise.tui.widgets.bar import Item
from lapwise.tui.widgets.rows import Row, Rows
from lapwise.tui.work import start

if TYPE_CHECKING:
    from lapwise.tui.workspace import LapView

BARE = "none"
"""The compound that stands for a bare lap: nothing that could go on one."""
STATES = {
    "clean": "clean",
    "due-for-cleaning": "! clean it",
    "carried-coarser": "! coarser before",
}


class LapRows(Rows):
    """The person's own laps."""

    help_text = (
        "Your own laps: name, type, what it carries, and its state. ! stands before what needs care. c: it has just "
        "been cleaned; g: another compound went on; u: set right what it carries; t: put it on the machine in "
        "the case; a adds one."
    )


class LapsScreen(BenchArea):
    """The list above, the marked lap below."""

    area = "laps"
    CSS_PATH = "../laps.tcss"
    BINDINGS: ClassVar[list[BindingType]] = keys_of("laps")
    AUTO_FOCUS: ClassVar[str | None] = "#lap-rows"
    help_text = "Your own laps."

    def __init__(self) -> None:
        super().__init__()
        self.laps: dict[str, LapView] = {}
        self._added: str | None = None
        """A lap just added: the mark goes there, so that the next key is about it."""

    def forget(self) -> None:
        self.laps = {}
        self.query_one(LapRows).show([])
        self._show_marked()

    def body(self) -> ComposeResult:
        yield LapRows(id="lap-rows", tap_chooses=False, empty="No lap of your own yet. a adds one.")
        with VerticalScroll(id="lap-detail", can_focus=False):
            yield Static("", id="lap-text", markup=False)

    def dress(self) -> None:
        super().dress()
        self.query_one(LapRows).row_height = 2 if self.lapwise.large or self.lapwise.touch else 1

    def refresh_view(self) -> None:
        self.meet()
        start(self, self._read, group="laps", alone=True)

    async def _read(self) -> None:
        views = await self.workspace.do(self.workspace.lap_views)
        self.laps = {view.lap.id: view for view in views}
        mark, self._added = self._added, None
        self.query_one(LapRows).show([Row(view.lap.id, self._painter(view)) for view in views], mark=mark)
        self._show_marked()

    def _painter(self, view: LapView) -> Callable[[int], Content]:
        def paint(width: int) -> Content:
            lap, knowledge = view.lap, self.workspace.knowledge
            carries = ", ".join(small(name_of(knowledge, c)) for c in lap.carries) or "nothing"
            state = state_words(view)
            name = max(10, width // 5)
            kind = max(12, width // 5)
            rest = width - name - kind - 2 - 18
            return Content.assemble(
                (fit(lap.name, name), "bold"),
                " ",
                (fit(small(name_of(knowledge, lap.type)), kind), ""),
                " ",
                (fit(carries, max(4, rest)), ""),
                (" " + fit(state, 17), "$warning" if state[0] == "!" else ""),
            )

        return paint

    def _show_marked(self) -> None:
        text = self.query_one("#lap-text", Static)
        view = self.marked()
        if view is None:
            text.update("")
            return
        lap, knowledge = view.lap, self.workspace.knowledge
        size = [
            f"{lap.diameter_mm:g} mm across" if lap.diameter_mm else "",
            f"{lap.thickness_mm:g} mm thick" if lap.thickness_mm else "",
        ]
        about = ", ".join(x for x in (lap.grade, *size, plain_id(lap.wear)) if x)
        lines: list[Content] = [heading(lap.name + (f": {about}" if about else ""))]
        lines += [para("! " + warning, style="bold $warning") for warning in view.warnings]
        lines.append(
            para("Carries: " + (", ".join(small(name_of(knowledge, c)) for c in lap.carries) or "nothing stated"))
        )
        lines.append(para("Last cleaned: " + (lap.last_cleaned[:10] if lap.last_cleaned else "not logged")))
        if view.ran:
            ran = [
                f"{small(name_of(knowledge, u.material))} with {small(name_of(knowledge, u.compound))} ({u.cases})"
                for u in view.ran[:6]
            ]
            lines.append(para("Ran on it: " + "; ".join(ran)))
        if lap.note:
            lines.append(para("Note: " + lap.note))
        known = knowledge.laps.get(lap.type)
        if known is not None:
            lines += [para(f"Care: {text}") for text in known.care[:3]]
        text.update(Content("\n").join(lines))

    def marked(self) -> LapView | None:
        """The lap under the mark."""
        name = self.query_one(LapRows).marked
        return self.laps.get(name) if name is not None else None

    def on_rows_moved(self, message: Rows.Moved) -> None:
        message.stop()
        self._show_marked()

    def on_rows_chosen(self, message: Rows.Chosen) -> None:
        message.stop()
        self.do_change()

    # --- actions ---------------------------------------------------------------------------------------------

    def do_add(self) -> None:
        kinds = [entry_of(lap) for lap in self.workspace.knowledge.laps.values()]

        def chosen(ids: tuple[str, ...] | None) -> None:
            if ids:
                self._ask(OwnLap("", ids[0]), "A lap of your own", self._add)

        self.app.push_screen(Chooser("What type of lap is it?", kinds), chosen)

    def _ask(self, lap: OwnLap, title: str, then: Callable[[dict[str, Any], OwnLap], None]) -> None:
        def number(value: float | None) -> str:
            return "" if value is None else f"{value:g} mm"

        blanks = [
            Blank("name", "Name", lap.name, "what you call it"),
            Blank("grade", "Grade", lap.grade, "what it says on it"),
            Blank("diameter_mm", "Diameter", number(lap.diameter_mm), "200 mm or 8 in"),
            Blank("thickness_mm", "Thickness", number(lap.thickness_mm), "6 mm or 1/4 in"),
            Blank("wear", "Wear", lap.wear, ", ".join(WEAR)),
            Blank("note", "Note", lap.note, "anything worth keeping"),
        ]

        def check(values: Mapping[str, str]) -> str | None:
            if not values["name"]:
                return "A lap needs a name of yours."
            for field in ("diameter_mm", "thickness_mm"):
                if values[field] and _mm(values[field]) is None:
                    name = "Diameter" if field[0] == "d" else "Thickness"
                    return f"{name}: mm or inches, such as 200 mm or 8 in"
            if values["wear"] and values["wear"] not in WEAR:
                return "Wear is one of: " + ", ".join(WEAR)
            return None

        def typed(values: dict[str, str] | None) -> None:
            if values is not None:
                changes: dict[str, Any] = {k: values[k] for k in ("name", "grade", "wear", "note")}
                changes |= {k: _mm(values[k]) for k in ("diameter_mm", "thickness_mm")}
                then(changes, lap)

        self.app.push_screen(Ask(title, blanks, check=check), typed)

    def _add(self, changes: dict[str, Any], lap: OwnLap) -> None:
        from dataclasses import replace

        new = replace(lap, **changes)

        def add() -> None:
            self._added = self.workspace.record_to_write().add_lap(new)

        self._do(add, f"Added: {safe(new.name, 60)}. g: what does it carry?")

    def _do(self, work: Callable[[], object], words: str) -> None:
        async def run() -> None:
            await self.controller.change(work)
            self.say(words)

        start(self, run, group="lap-change")

    def do_change(self) -> None:
        view = self.marked()
        if view is None:
            self.do_add()
            return
        self._ask(
            view.lap,
            f"Change {view.lap.name}",
            lambda changes, lap: self._do(
                lambda: self.workspace.record_to_write().change_lap(lap.id, **changes), "Changed."
            ),
        )

    def do_cleaned(self) -> None:
        view = self._need()
        if view is not None:
            entries = [Entry("clean", "Washed and scrubbed"), Entry("resurface", "Cut down to a fresh face")]

            def chosen(ids: tuple[str, ...] | None) -> None:
                if ids:
                    fresh = ids[0] == "resurface"
                    self._do(
                        lambda: self.workspace.record_to_write().clean_lap(view.lap.id, resurfaced=fresh),
                        f"Logged: {view.lap.name} {'has a fresh face' if fresh else 'was cleaned'}.",
                    )

            self.app.push_screen(Chooser(f"How was {view.lap.name} cleaned?", entries), chosen)

    def do_charged(self) -> None:
        """Another compound went on, beside what is in the face already."""
        view = self._need()
        if view is None:
            return
        lap, knowledge = view.lap, self.workspace.knowledge
        name = safe(lap.name, 40)
        left = (c for c in knowledge.compounds.values() if c.id not in (*lap.carries, BARE))
        entries = [entry_of(c) for c in left]

        def chosen(ids: tuple[str, ...] | None) -> None:
            if ids:
                self._carries(lap, (*lap.carries, ids[0]), f"{name} now carries {{}}. u sets right what it carries.")

        has = listing(small(name_of(knowledge, c)) for c in lap.carries)
        title = f"What went on {name}, beside {has}?" if has else f"What went on {name}?"
        self.app.push_screen(Chooser(title, entries), chosen)

    def do_correct(self) -> None:
        """Set right what the lap carries: what is marked, no more and no less."""
        view = self._need()
        if view is None:
            return
        lap, knowledge = view.lap, self.workspace.knowledge
        name = safe(lap.name, 40)
        carried = [c for c in lap.carries if c in knowledge.compounds]
        order = [*carried, *(c for c in knowledge.compounds if c not in carried)]
        entries = [entry_of(knowledge.compounds[c]) for c in order]

        def chosen(ids: tuple[str, ...] | None) -> None:
            if ids is not None:
                self._carries(lap, ids, f"{name} carries {{}}. What was on it counts till it is cut fresh (c).")

        title = f"All that {name} carries: space marks or takes off"
        self.app.push_screen(Chooser(title, entries, many=True, chosen=lap.carries), chosen)

    def _carries(self, lap: OwnLap, ids: tuple[str, ...], words: str) -> None:
        names = listing(small(name_of(self.workspace.knowledge, c)) for c in ids) or "nothing"
        self._do(lambda: self.workspace.record_to_write().change_lap(lap.id, carries=ids), words.format(names))

    def do_use(self) -> None:
        view = self._need()
        if view is not None:
            self.controller.state(self.controller.with_own_lap(view.lap.id))
            self.lapwise.action_area("case")

    def do_retire(self) -> None:
        view = self._need()
        if view is not None:
            name = safe(view.lap.name, 60)

            def decided(answer: str | None) -> None:
                if answer == "retire":
                    self._do(
                        lambda: self.workspace.record_to_write().remove_lap(view.lap.id),
                        f"{name} is off the list; the record keeps it.",
                    )

            lines = [para("It goes off the list for good. What ran on it stays in the record.")]
            items = [Item("retire", "y", "Take it off")]
            self.app.push_screen(Sheet(f"Take {name} off the list?", lines, items, close="Keep it"), decided)

    def _need(self) -> LapView | None:
        view = self.marked()
        if view is None:
            self.warn("There is no lap of your own yet. a adds one.")
        return view


def state_words(view: LapView) -> str:
    """The state in a word or two, ! before what needs care; a lap is called clean only if a cleaning is logged."""
    if view.state != "clean":
        return STATES[view.state]
    if view.warnings:
        return "! see below"
    return "clean" if view.lap.last_cleaned else "not logged"


def _mm(text: str) -> float | None:
    value = read_length(text)
    return value if value is not None and value > 0 else None
