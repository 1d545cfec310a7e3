"""The record: what worked on each material, minutes by cause, progress, the recipe card, and the cases to open."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from lapwise.engine.conclusions import OTHER, OTHER_LABEL
from lapwise.engine.learning.works import works_label
from lapwise.engine.wording import counted, listing, small, times
from lapwise.tui.present.case import name_of, told_name
from lapwise.tui.present.words import fit, interval, safe, taken
from lapwise.tui.screens.asking import choose
from lapwise.tui.screens.entry import Entry, material_entries
from lapwise.tui.screens.hand_over import give
from lapwise.tui.screens.record_cases import LINES, CaseRows, case_painter, case_sheet, own_title
from lapwise.tui.screens.record_charts import cured_lines, minutes_chart
from lapwise.tui.screens.record_files import RecordFiles
from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.widgets.fields import Field, Fields
from lapwise.tui.widgets.lines import bar_line, heading, para
from lapwise.tui.widgets.rows import Row
from lapwise.tui.work import beside

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge
    from lapwise.engine.learning.model import WhatWorks, Works
    from lapwise.engine.record.model import OwnLap
    from lapwise.tui.record_views import Shop

NEXT = "#next"
"""The last item of the bar of views: on to the view after this one."""
VIEWS = (
    ("works", "What works", "Works"),
    ("minutes", "Minutes by cause", "By cause"),
    ("progress", "Progress", "Progress"),
    ("card", "Recipe card", "Card"),
    ("cases", "Cases", "Cases"),
)
EMPTY = {
    "works": "This will show every lap with its compound, and every remedy: how often it worked on this stone, of how "
    "many trials, and how sure that is by now.",
    "minutes": "This will show the minutes you spent, by what was likely wrong: where most of your time goes.",
    "progress": "This will show the minutes to a good facet, month by month: how you are getting on.",
    "card": "This will show the recipe card of this stone for your wall: what worked, what did not, your notes.",
    "cases": "This will show your cases, newest first, each to be opened and read from beginning to end.",
}
"""What will stand in a view of which nothing is logged yet."""
HOW = "Log how a remedy went on the case screen (1): f, b, n or w. It counts here at once."
NO_STONE = "Choose one stone first (m)."
ALL = "all"


class RecordScreen(RecordFiles, area="record", row="open"):
    """One material at a time, on all laps or on one, in five views."""

    CSS_PATH = "../record.tcss"
    help_text = (
        "What your own record says. ├──●──┤ holds the true share with 9 chances in 10; ● is the share seen; figures "
        "behind it are how often it worked of how many trials. Few trials make a long line: trust it little. m chooses "
        "the stone, l one of your laps, v the next view."
    )

    def __init__(self) -> None:
        super().__init__()
        self.material: str | None = None
        self.chosen = False
        self.own_lap: str | None = None
        """The lap that is looked at alone, or None for all."""
        self.view = "works"
        self.shop: Shop | None = None

    def forget(self) -> None:
        self.material, self.chosen, self.own_lap, self.shop = None, False, None, None
        self.query_one("#record-text", Static).update("")
        self.query_one("#record-fields", Fields).show([])
        self.query_one(CaseRows).show([])

    def body(self) -> ComposeResult:
        yield Fields(id="record-fields")
        yield Bar(id="record-views", spread=True)
        with VerticalScroll(id="record-body"):
            yield Static("", id="record-text", markup=False)
        yield CaseRows(id="record-cases", tap_chooses=False)

    def dress(self) -> None:
        super().dress()
        self.query_one(CaseRows).row_height = LINES + (self.lapwise.large or self.lapwise.touch)

    def refresh_view(self) -> None:
        self.meet()
        if not self.chosen:
            self.material = self.controller.case.material
        items = [Item(v, "", label, short, on=v == self.view) for v, label, short in VIEWS]
        items.append(Item(NEXT, self.key("record.view"), "Next view", "Next"))
        self.query_one("#record-views", Bar).show(items)
        self._read()

    @beside("record", alone=True)
    async def _read(self) -> None:
        self.shop = await self.workspace.do(self._shop)
        self._show()

    def _shop(self) -> Shop:
        from lapwise.tui.record_views import shop_of  # start-up time

        return shop_of(self.workspace.record_to_write(), self.workspace.knowledge, self.material, self.own_lap)

    @property
    def laps(self) -> dict[str, str]:
        """Own laps by id, as they are called."""
        return {lap.id: lap.name for lap in self.shop.laps} if self.shop else {}

    def _show(self) -> None:
        shop, knowledge = self.shop, self.workspace.knowledge
        if shop is None:
            return
        name = name_of(knowledge, self.material, "all stones")
        fields = [Field("material", told_name("material"), name)]
        if shop.laps:
            fields.append(Field("own-lap", "Lap", self.laps.get(self.own_lap or "", "all")))
        fields.append(Field("cases", "Logged", counted(shop.works.cases, "case")))
        if not self.app.is_web:
            place = "a folder that is deleted at the end" if self.workspace.sample else str(self.workspace.where.record)
            fields.append(Field("file", "Kept in", place))
        self.query_one("#record-fields", Fields).show(fields)
        body, rows = self.query_one("#record-body"), self.query_one(CaseRows)
        listed = self.view == "cases" and bool(shop.cases)
        body.display, rows.display = not listed, listed
        if listed:
            rows.show([Row(kept.id, case_painter(kept, knowledge, self.laps)) for kept in shop.cases])
            if self.app.screen is self:
                rows.focus()
            return
        self.set_focus(None)
        room = body.size.width
        self.again_if_resized("#record-body", room, self._show)
        width = max(40, room - 4)
        self.query_one("#record-text", Static).update(Content("\n").join(self._lines(shop, knowledge, width)))

    def _lines(self, shop: Shop, knowledge: Knowledge, width: int) -> list[Content]:
        if self.view == "card" and shop.card_text:
            copy = "c copies it, f writes it to a file."
            return [*card_lines(shop.card_text), para("", style=""), para(copy, style="italic")]
        if not shop.works.cases:
            where = " on this lap" if self.own_lap else ""
            what = "Nothing is logged of this stone" if self.material else "Nothing is logged"
            return [
                para(f"{what}{where} yet.", style="bold"),
                para(EMPTY[self.view]),
                para(HOW),
                *([para("m shows another stone.")] if shop.logged else []),
                *([para("l shows all laps.")] if self.own_lap else []),
            ]
        if self.view == "works":
            return [*works_lines(shop.works, knowledge, width), *cured_lines(shop.works, knowledge, width)]
        if self.view == "minutes":
            return minute_lines(shop.works, knowledge, width)
        if self.view == "progress":
            return [*progress_lines(shop.works, width), *minutes_chart(shop.cases, width)]
        return [para("Choose one stone (m) for its card.")]

    def on_resize(self) -> None:
        if self.workspace.ready:
            self.call_after_refresh(self._show)

    # --- actions ---------------------------------------------------------------------------------------------

    @property
    def _next_view(self) -> str:
        names = [name for name, _, _ in VIEWS]
        return names[(names.index(self.view) + 1) % len(names)]

    def do_view(self) -> None:
        self._see(self._next_view)

    def _see(self, view: str) -> None:
        self.view = view
        self.refresh_view()

    def do_material(self) -> None:
        logged = self.shop.logged if self.shop else {}
        known = self.workspace.knowledge.materials
        entries = [Entry(ALL, "All stones together")]
        for m, n in logged.items():
            entries.append(Entry(m, known[m].label if m in known else m, f"{n} logged", "In your record"))
        rest = (entry for entry in material_entries(self.workspace.knowledge) if entry.id not in logged)
        entries += [replace(entry, group="All stones") for entry in rest]

        def chosen(material: str) -> None:
            self.chosen = True
            self.material = None if material == ALL else material
            self.refresh_view()

        choose(self.app, "Whose record?", entries, chosen)

    def do_lap(self) -> None:
        laps = self.shop.laps if self.shop else ()
        if not laps:
            self.warn("You have entered no lap of your own yet: Laps (5), then a.")
            return
        knowledge = self.workspace.knowledge

        def group(lap: OwnLap) -> str:
            return "From other records" if not lap.yours else "Taken off the list" if lap.removed else "Yours"

        ordered = sorted(laps, key=lambda lap: (not lap.yours, lap.yours and lap.removed))
        entries = [Entry(lap.id, lap.name, small(name_of(knowledge, lap.type)), group(lap)) for lap in ordered]

        def chosen(lap: str) -> None:
            self.own_lap = None if lap == ALL else lap
            self.refresh_view()

        entries.insert(0, Entry(ALL, "All laps together"))
        choose(self.app, "Cases that ended on which lap?", entries, chosen, start=self.own_lap or ALL)

    def do_open(self) -> None:
        rows = self.query_one(CaseRows)
        if self.view != "cases":
            self._see("cases")
        elif rows.marked is not None:
            self._open(rows.marked)

    def _open(self, case_id: str) -> None:
        kept = next((c for c in (self.shop.cases if self.shop else ()) if c.id == case_id), None)
        if kept is None:
            return
        knowledge = self.workspace.knowledge
        here = self.controller.open_case.case_id == case_id
        does = {}
        if kept.open and kept.yours and not here:
            does[Item("go-on", "g", "Go on with it")] = partial(self._go_on, case_id)
        self.read(own_title(kept, knowledge), case_sheet(kept, knowledge, self.laps), does)

    @beside("go-on", alone=True)
    async def _go_on(self, case_id: str) -> None:
        await self.controller.take_up(case_id)
        self.lapwise.action_area("case")

    def do_copy(self) -> None:
        if self.shop is not None and self.shop.card_text:
            self.app.copy_to_clipboard(self.shop.card_text)
            self.say("Card copied, if your terminal allows it. f: to a file.")
        else:
            self.warn(NO_STONE)

    def do_file(self) -> None:
        if self.shop is not None and self.shop.card_markdown:
            give(self, "Write the recipe card", f"{self.material}-card.md", self.shop.card_markdown, "the card")
        else:
            self.warn(NO_STONE)

    # --- taps ------------------------------------------------------------------------------------------------

    def on_bar_chosen(self, message: Bar.Chosen) -> None:
        if message.bar.id == "record-views":
            message.prevent_default().stop()
            if self.workspace.ready:
                self.do_view() if message.item_id == NEXT else self._see(message.item_id)

    def field_chosen(self, field: str) -> None:
        if field in ("material", "own-lap"):
            (self.do_material if field == "material" else self.do_lap)()


READ_AS = (
    "├─●─┤ The line runs from 0 to 100 %. ● is the share; the true one lies between ├ and ┤ 9 times in 10.",
    "A remedy tried only after others failed looks better here than it is; the advice allows for it.",
)
"""How the intervals are to be read."""
TIME = 12
"""Cells for minutes: the longest is ``under 1 min``, and a gap."""


def _works_line(works: Works, label: str, width: int, *, timed: bool) -> Content:
    wide = 21 if width >= 90 else 15 if width >= 70 else 9
    time, last = taken(works.minutes) if works.minutes else "", TIME if timed else 0
    share = works.estimate
    return Content.assemble(
        fit(label, width - wide - 11 - last - 1) + " ",
        (interval(share.low, share.mean, share.high, wide), "$primary"),
        (fit(f"{works.worked} of {works.trials}", 11, right=True), "bold"),
        fit(time, last, right=True),
    )


def works_lines(works: WhatWorks, knowledge: Knowledge, width: int) -> list[Content]:
    """Laps with compounds, and remedies, each with its interval and trials; what never worked in a sentence."""
    lines: list[Content] = []
    titles = ("Laps and compounds, best first", "What cured troubles")
    for title, items in zip(titles, (works.pairs, works.remedies), strict=True):
        good = [item for item in items if item.worked]
        lines.append(heading(title))
        timed = any(item.minutes for item in good)
        for item in good:
            lines.append(_works_line(item, works_label(item.name, knowledge), width, timed=timed))
        failed = [item for item in items if not item.worked]
        bad = [f"{small(works_label(item.name, knowledge))} ({times(item.trials)})" for item in failed]
        if bad:
            lines.append(para(f"Tried, and has not fixed it yet: {listing(bad)}."))
        if not items:
            lines.append(para("Nothing yet: a case counts here once it is closed and says what was used."))
        lines.append(Content(""))
    drawn = any(item.worked for items in (works.pairs, works.remedies) for item in items)
    return [*lines, *(para(text, style="italic") for text in READ_AS if drawn)]


def minute_lines(works: WhatWorks, knowledge: Knowledge, width: int) -> list[Content]:
    """Minutes spent by likely cause, most first."""
    lines = [heading("Minutes spent, by likely cause")]
    if not works.minutes_by_cause:
        how = "They are counted from tries that were timed: t on the case screen."
        return [*lines, para(EMPTY["minutes"]), para(how)]
    most = max(works.minutes_by_cause.values(), default=1.0) or 1.0
    for cause, spent in works.minutes_by_cause.items():
        label = OTHER_LABEL if cause == OTHER else small(name_of(knowledge, cause))
        lines.append(bar_line(label, max(12, width - 30), spent / most, 16, taken(spent), TIME))
    return lines


def progress_lines(works: WhatWorks, width: int) -> list[Content]:
    """Mean minutes to a good facet month by month: a falling bar is progress."""
    lines = [heading("Minutes to a good facet, month by month")]
    if not works.by_month:
        how = "It counts facets that were fixed and timed: t on the case screen."
        return [*lines, para(EMPTY["progress"]), para(how)]
    most = max((mean for _, _, mean in works.by_month), default=1.0) or 1.0
    for month, facets, mean in works.by_month:
        shown = bar_line(f"{month} ", len(month) + 1, mean / most, max(10, min(40, width - 40)), taken(mean), TIME)
        lines.append(shown + f"   {counted(facets, 'facet')}")
    if len(works.by_month) < 2:
        lines.append(para("One month so far: a later one beside it shows how you are getting on.", style="italic"))
    return lines


def card_lines(text: str) -> list[Content]:
    """The card's lines, each with its own indent."""
    return [Content(" " * (len(line) - len(line.lstrip())) + safe(line, 300)) for line in text.splitlines()]
