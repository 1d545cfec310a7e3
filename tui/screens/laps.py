"""Own laps: what each carries, when it was cleaned, what ran on it, what to beware of."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from lapwise.engine.errors import BadInput
from lapwise.engine.numerals import read_length
from lapwise.engine.record.model import WEAR, OwnLap
from lapwise.engine.wording import listing, plain_id, small
from lapwise.tui.present.case import name_of
from lapwise.tui.present.record import THEIRS, lap_sizes, lap_state_words, logged_on
from lapwise.tui.present.words import fit, safe, size
from lapwise.tui.screens.ask import Blank
from lapwise.tui.screens.asking import choose, choose_several, fill_in
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.entry import Entry, entry_of
from lapwise.tui.screens.sheet import heading, para
from lapwise.tui.widgets.bar import Item
from lapwise.tui.widgets.rows import Row, Rows, text_row
from lapwise.tui.work import beside

if TYPE_CHECKING:
    from lapwise.engine.record.model import LapView
    from lapwise.engine.record.store import Record

EMPTY = (
    "This will show each lap you own, with what it carries, when it was cleaned, what ran on it and what to beware of. "
    "The advice then names your own laps first."
)
"""What will stand in the area once a lap is entered."""
BARE = "none"
"""The compound that stands for a bare lap: nothing that could go on one."""
DIAMETERS = (152.4, 203.2, 150.0, 200.0)
THICKNESSES = (3.175, 6.35, 12.7, 3.0, 6.0, 12.0)
"""Usual sizes in mm, to be picked: common practice, no source. Any other can be typed."""
OTHER_SIZE, NOT_SAID = "other", "not-said"
FIELDS = (
    ("name", "Name"),
    ("carries", "Carries"),
    ("diameter_mm", "Diameter"),
    ("thickness_mm", "Thickness"),
    ("wear", "Wear"),
    ("grade", "What it says on it"),
    ("note", "Note"),
)
WORN = {
    "new": "new, not run in yet",
    "worked-in": "run in, at its best",
    "worn": "worn, still good",
    "worn-out": "worn out",
}
"""How far a lap is gone, in the words of its picker."""


class LapRows(Rows):
    """The person's own laps."""

    help_text = (
        "Your own laps: name, type, what it carries, and its state. ! marks what needs care; “had coarse "
        "grit”: coarser grains than it should have now are still in its face. c: it has just been cleaned, or cut to "
        "a fresh face; g: another compound went on; u: set right what it carries; t: put it on the machine in the "
        "case; a adds one."
    )


class LapsScreen(AreaScreen, area="laps", row="change"):
    """The list above, the marked lap below."""

    CSS_PATH = "../laps.tcss"
    AUTO_FOCUS = "#lap-rows"
    help_text = "Your own laps."

    def __init__(self) -> None:
        super().__init__()
        self.laps: dict[str, LapView] = {}
        self._read_once = False
        self._added: str | None = None
        """A lap just added: the mark goes there, so that the next key is about it."""

    def forget(self) -> None:
        self.laps, self._read_once = {}, False
        self.query_one(LapRows).show([])
        self._show_marked()

    def body(self) -> ComposeResult:
        yield LapRows(id="lap-rows", tap_chooses=False, empty="No lap of your own yet. a adds one.")
        with VerticalScroll(id="lap-detail", can_focus=False):
            yield Static("", id="lap-text", markup=False)

    def dress(self) -> None:
        super().dress()
        self.query_one(LapRows).row_height = self.row_height

    def refresh_view(self) -> None:
        self.meet()
        self._read()

    def _views(self) -> tuple[LapView, ...]:
        record, knowledge = self.workspace.record, self.workspace.knowledge
        return tuple(record.lap_view(lap, knowledge) for lap in record.laps()) if record else ()

    @beside("laps", alone=True)
    async def _read(self) -> None:
        views = await self.workspace.do(self._views)
        self._read_once = True
        self.laps = {view.lap.id: view for view in views}
        mark, self._added = self._added, None
        rows = [Row(view.lap.id, partial(self._paint, view)) for view in views if view.lap.yours]
        if others := [Row(view.lap.id, partial(self._paint, view)) for view in views if not view.lap.yours]:
            rows += [text_row("others", Content("From other records: somebody else's laps"), heading=True), *others]
        self.query_one(LapRows).show(rows, mark=mark)
        self._show_marked()

    def _names(self, ids: Iterable[str | None]) -> list[str]:
        """What stones, laps or compounds are called in a sentence."""
        return [small(name_of(self.workspace.knowledge, one)) for one in ids]

    def _paint(self, view: LapView, width: int) -> Content:
        lap = view.lap
        carries = ", ".join(self._names(lap.carries)) or "nothing"
        state = lap_state_words(view)
        name, kind = max(10, width // 5), max(12, width // 5)
        rest = max(4, width - name - kind - 2 - 18)
        return Content.assemble(
            (fit(lap.name, name), "bold"),
            f" {fit(self._names([lap.type])[0], kind)} {fit(carries, rest)}",
            (" " + fit(state, 17), "$warning" if state[0] == "!" else ""),
        )

    def _show_marked(self) -> None:
        text = self.query_one("#lap-text", Static)
        view = self.marked()
        if view is None:
            text.update(para(EMPTY) if self._read_once else Content(""))
            return
        lap = view.lap
        about = ", ".join(x for x in (lap.grade, *lap_sizes(lap), plain_id(lap.wear)) if x)
        lines: list[Content] = [heading(lap.name + (f": {about}" if about else ""))]
        if not lap.yours:
            lines.append(para(f"It came {THEIRS}: it is somebody else's, and nothing is changed of it."))
        lines += [para("! " + warning, style="bold $warning") for warning in view.warnings]
        lines.append(para("Carries: " + (", ".join(self._names(lap.carries)) or "nothing stated")))
        lines.append(para("Last cleaned: " + logged_on(lap.last_cleaned)))
        if view.ran:
            ran = ("{} with {} ({})".format(*self._names((u.material, u.compound)), u.cases) for u in view.ran[:6])
            lines.append(para("Ran on it: " + "; ".join(ran)))
        if lap.note:
            lines.append(para("Note: " + lap.note))
        known = self.workspace.knowledge.laps.get(lap.type)
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

    # --- actions ---------------------------------------------------------------------------------------------

    def do_add(self) -> None:
        """Type, what it carries, size, name: one list after the other; what is not known is passed over by enter."""
        kinds = [entry_of(lap) for lap in self.workspace.knowledge.laps.values()]
        choose(self.app, "What type of lap is it?", kinds, lambda kind: self._pick_carried(OwnLap("", kind)))

    def _pick_carried(self, lap: OwnLap) -> None:
        compounds = [entry_of(c) for c in self.workspace.knowledge.compounds.values() if c.id != BARE]
        entries = [Entry(NOT_SAID, "Nothing yet, or not known"), *compounds]

        def chosen(ids: tuple[str, ...]) -> None:
            new = replace(lap, carries=tuple(c for c in ids if c != NOT_SAID))
            self._pick_size("diameter_mm", None, lambda mm: self._name_it(replace(new, diameter_mm=mm)))

        choose_several(self.app, "What does it carry?", entries, chosen, many=True)

    def _name_it(self, lap: OwnLap) -> None:
        label = self.workspace.knowledge.label(lap.type)
        taken = {view.lap.name.lower() for view in self.laps.values() if view.lap.yours}
        name = next(n for n in (label, *(f"{label} {at}" for at in range(2, 1000))) if n.lower() not in taken)
        self._ask("name", name, lambda typed: self._add(replace(lap, name=typed)))

    def _ask(self, field: str, value: str, then: Callable[[str], None]) -> None:
        """Type one thing of a lap. Only a name must not be empty."""
        label = dict(FIELDS)[field]
        hint = {"name": "what you call it", "note": "anything worth keeping"}.get(field, "in your words")

        def read(values: Mapping[str, str]) -> str:
            if field == "name" and not values[field]:
                raise BadInput("A lap needs a name of yours.")
            return values[field]

        fill_in(self.app, "A lap of your own", [Blank(field, label, value, hint)], read, then)

    def _pick_size(self, field: str, now: float | None, then: Callable[[float | None], None]) -> None:
        """Pick a usual size in mm or inches, or type any other."""
        usual = DIAMETERS if field == "diameter_mm" else THICKNESSES
        entries = [
            Entry(NOT_SAID, "Not known"),
            *(Entry(f"{mm:g}", size(mm)) for mm in usual),
            Entry(OTHER_SIZE, "Another size", "typed in mm or inches"),
        ]
        label = dict(FIELDS)[field]

        def chosen(mm: str) -> None:
            if mm == OTHER_SIZE:
                self._type_size(label, now, then)
            else:
                then(None if mm == NOT_SAID else float(mm))

        start_at = f"{now:g}" if now in usual else OTHER_SIZE if now else None
        title = "How wide is it across?" if field == "diameter_mm" else "How thick is it?"
        choose(self.app, title, entries, chosen, start=start_at)

    def _type_size(self, label: str, now: float | None, then: Callable[[float | None], None]) -> None:
        def read(values: Mapping[str, str]) -> float | None:
            value = read_length(values["size"])
            if values["size"] and not (value and value > 0):
                raise BadInput(f"{label}: mm or inches, such as 200 mm or 8 in")
            return value

        blank = Blank("size", label, "" if now is None else f"{now:g} mm", "200 mm or 8 in; 6 mm or 1/4 in")
        fill_in(self.app, label, [blank], read, then)

    def _add(self, new: OwnLap) -> None:
        def add(record: Record) -> None:
            self._added = record.add_lap(new)

        self._do(add, f"Added: {safe(new.name, 60)}. e: wear, thickness, note; g: what went on it.")

    @beside("lap-change")
    async def _do(self, work: Callable[[Record], object], words: str) -> None:
        await self.controller.change(lambda: work(self.workspace.record_to_write()))
        self.say(words)

    def do_change(self) -> None:
        if not self.laps:
            self.do_add()
            return
        if (view := self._need()) is None:
            return
        lap = view.lap
        values = {
            "name": lap.name,
            "carries": listing(self._names(lap.carries)),
            "diameter_mm": size(lap.diameter_mm) if lap.diameter_mm else "",
            "thickness_mm": size(lap.thickness_mm) if lap.thickness_mm else "",
            "wear": WORN.get(lap.wear, lap.wear),
            "grade": lap.grade,
            "note": lap.note,
        }
        entries = [Entry(field, label, values[field] or "not stated") for field, label in FIELDS]
        choose(self.app, f"Change what of {safe(lap.name, 40)}?", entries, lambda field: self._change_one(lap, field))

    def _change_one(self, lap: OwnLap, field: str) -> None:
        def put(value: object) -> None:
            self._do(lambda record: record.change_lap(lap.id, **{field: value}), "Changed.")

        if field == "carries":
            self.do_correct()
        elif field == "wear":
            entries = [Entry(NOT_SAID, "Not said"), *(Entry(word, WORN[word]) for word in WEAR)]
            start_at = lap.wear or None
            choose(self.app, "How worn is it?", entries, lambda w: put("" if w == NOT_SAID else w), start=start_at)
        elif field in ("diameter_mm", "thickness_mm"):
            self._pick_size(field, getattr(lap, field), put)
        else:
            self._ask(field, getattr(lap, field), put)

    def do_cleaned(self) -> None:
        if (view := self._need()) is not None:
            entries = [Entry("clean", "Washed and scrubbed"), Entry("resurface", "Cut down to a fresh face")]

            def chosen(how: str) -> None:
                fresh = how == "resurface"
                words = f"Logged: {view.lap.name} {'has a fresh face' if fresh else 'was cleaned'}."
                self._do(lambda record: record.clean_lap(view.lap.id, resurfaced=fresh), words)

            choose(self.app, f"How was {view.lap.name} cleaned?", entries, chosen)

    def do_charged(self) -> None:
        """Another compound went on, beside what is in the face already."""
        if (view := self._need()) is None:
            return
        lap, knowledge = view.lap, self.workspace.knowledge
        name = safe(lap.name, 40)
        left = (c for c in knowledge.compounds.values() if c.id not in (*lap.carries, BARE))
        words = f"{name} now carries {{}}. u sets right what it carries."
        has = listing(self._names(lap.carries))
        title = f"What went on {name}, beside {has}?" if has else f"What went on {name}?"
        choose(self.app, title, [entry_of(c) for c in left], lambda c: self._carries(lap, (*lap.carries, c), words))

    def do_correct(self) -> None:
        """Set right what the lap carries: what is marked, no more and no less."""
        if (view := self._need()) is None:
            return
        lap, knowledge = view.lap, self.workspace.knowledge
        name = safe(lap.name, 40)
        carried = [c for c in lap.carries if c in knowledge.compounds]
        order = [*carried, *(c for c in knowledge.compounds if c not in carried)]
        entries = [entry_of(knowledge.compounds[c]) for c in order]
        words = f"{name} carries {{}}. What was on it counts till it is cut fresh (c)."
        title = f"All that {name} carries: space marks or takes off"
        take = partial(self._carries, lap, words=words)
        choose_several(self.app, title, entries, take, many=True, chosen=lap.carries)

    def _carries(self, lap: OwnLap, ids: tuple[str, ...], words: str) -> None:
        names = listing(self._names(ids)) or "nothing"
        self._do(lambda record: record.change_lap(lap.id, carries=ids), words.format(names))

    def do_use(self) -> None:
        view = self.marked() or self._need()  # a borrowed lap may be used
        if view is not None:
            self.controller.state(self.controller.with_own_lap(view.lap.id))
            self.lapwise.action_area("case")

    def do_retire(self) -> None:
        if (view := self._need()) is not None:
            name, lap_id = safe(view.lap.name, 60), view.lap.id
            words = f"{name} is off the list; the record keeps it."
            retire = partial(self._do, lambda record: record.remove_lap(lap_id), words)
            lines = [para("It goes off the list for good. What ran on it stays in the record.")]
            does = {Item("retire", "y", "Take it off"): retire}
            self.read(f"Take {name} off the list?", lines, does, close="Keep it")

    def _need(self) -> LapView | None:
        """The marked lap, if it is there and the person's own to change; what stands against it is said."""
        view = self.marked()
        if view is None:
            self.warn("There is no lap of your own yet. a adds one.")
        elif not view.lap.yours:
            self.warn("Somebody else's. Yours too? Import it as your own (4, i).")
            return None
        return view
