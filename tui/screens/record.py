"""The record: what worked on each material, minutes by cause, progress, and the recipe card."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from lapwise.engine.conclusions import OTHER, OTHER_LABEL
from lapwise.engine.learning.works import pair_label
from lapwise.engine.record.care import check
from lapwise.engine.wording import counted, small
from lapwise.tui.present.case import name_of
from lapwise.tui.present.words import bar, fit, interval, plain_id, safe, taken
from lapwise.tui.screens.base import keys_of
from lapwise.tui.screens.case_questions import ENDS
from lapwise.tui.screens.chooser import Chooser
from lapwise.tui.screens.entry import Entry, material_entries
from lapwise.tui.screens.hand_over import give
from lapwise.tui.screens.held import BenchArea
from lapwise.tui.screens.sheet import heading, para
from lapwise.tui.widgets.bar import Bar, Item
from lapwise.tui.widgets.fields import Field, Fields
from lapwise.tui.work import start

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge
    from lapwise.engine.learning.model import WhatWorks, Works
    from lapwise.engine.record.model import CaseRecord
    from lapwise.engine.record.store import Record
    from lapwise.tui.workspace import Shop

VIEWS = (
    ("works", "What works", "Works"),
    ("minutes", "Minutes by cause", "By cause"),
    ("progress", "Progress", "Progress"),
    ("card", "Recipe card", "Card"),
    ("cases", "Newest cases", "Cases"),
)
ALL = "all"


RESULTS = {"fixed": "fixed", **{end.id: small(end.label) for end in ENDS}}
"""How a case ended, in the words of its question."""


class RecordScreen(BenchArea):
    """One material at a time, in five views."""

    area = "record"
    CSS_PATH = "../record.tcss"
    BINDINGS: ClassVar[list[BindingType]] = keys_of("record")
    help_text = (
        "What your own record says. ├──●──┤ holds the true share with 9 chances in 10; ● is the share seen; figures "
        "behind it are how often it worked of how many trials. Few trials make a long line: trust it little. m chooses "
        "the stone, v the next view."
    )

    def __init__(self) -> None:
        super().__init__()
        self.material: str | None = None
        self.chosen = False
        self.view = "works"
        self.shop: Shop | None = None

    def forget(self) -> None:
        self.material, self.chosen, self.shop = None, False, None
        self.query_one("#record-text", Static).update("")
        self.query_one("#record-fields", Fields).show([])

    def body(self) -> ComposeResult:
        yield Fields(id="record-fields")
        yield Bar(id="record-views", spread=True)
        with VerticalScroll(id="record-body"):
            yield Static("", id="record-text", markup=False)

    def refresh_view(self) -> None:
        self.meet()
        if not self.chosen:
            self.material = self.controller.case.material
        self.query_one("#record-views", Bar).show(
            [Item(name, "", label, short, on=name == self.view) for name, label, short in VIEWS]
        )
        start(self, self._read, group="record", alone=True)

    async def _read(self) -> None:
        self.shop = await self.workspace.do(self.workspace.shop, self.material)
        self._show()

    def _show(self) -> None:
        shop, knowledge = self.shop, self.workspace.knowledge
        if shop is None:
            return
        name = name_of(knowledge, self.material, "all stones")
        cases = counted(shop.works.cases, "case")
        fields = [Field("material", "Stone", name), Field("cases", "Logged", cases)]
        if not self.app.is_web:
            fields.append(Field("file", "Kept in", shop.place))
        self.query_one("#record-fields", Fields).show(fields)
        room = self.query_one("#record-body").size.width
        self.again_if_resized("#record-body", room, self._show)
        width = max(40, room - 4)
        lines: list[Content]
        if not shop.works.cases:
            lines = [
                para("Nothing is logged of this stone yet.", style="bold"),
                para("Each outcome you log in the case counts here. m shows another stone."),
            ]
            if self.view == "card" and shop.card_text:
                lines = card_lines(shop.card_text)
        elif self.view == "works":
            lines = works_lines(shop.works, knowledge, width)
        elif self.view == "minutes":
            lines = minute_lines(shop.works, knowledge, width)
        elif self.view == "progress":
            lines = progress_lines(shop.works, width)
        elif self.view == "card":
            lines = card_lines(shop.card_text) or [para("Choose one stone (m) for its card.")]
        else:
            lines = case_lines(shop.cases, knowledge)
        self.query_one("#record-text", Static).update(Content("\n").join(lines))

    def on_resize(self) -> None:
        if self.workspace.ready:
            self.call_after_refresh(self._show)

    # --- actions ---------------------------------------------------------------------------------------------

    def do_view(self) -> None:
        names = [name for name, _, _ in VIEWS]
        self._see(names[(names.index(self.view) + 1) % len(names)])

    def _see(self, view: str) -> None:
        self.view = view
        self.refresh_view()

    def do_material(self) -> None:
        logged = self.shop.logged if self.shop else {}
        known = self.workspace.knowledge.materials
        first = [
            Entry(m, known[m].label if m in known else m, f"{n} logged", "In your record") for m, n in logged.items()
        ]
        rest = [
            Entry(e.id, e.label, e.about, "All stones", e.words)
            for e in material_entries(self.workspace.knowledge)
            if e.id not in logged
        ]
        entries = [Entry(ALL, "All stones together"), *first, *rest]

        def chosen(ids: tuple[str, ...] | None) -> None:
            if ids:
                self.chosen = True
                self.material = None if ids[0] == ALL else ids[0]
                self.refresh_view()

        self.app.push_screen(Chooser("Whose record?", entries), chosen)

    def do_copy(self) -> None:
        if self.shop is None or not self.shop.card_text:
            self.warn("Choose one stone first (m).")
            return
        self.app.copy_to_clipboard(self.shop.card_text)
        self.say("The card is on the clipboard, if your terminal allows it. f writes it to a file.")

    def do_file(self) -> None:
        if self.shop is None or not self.shop.card_markdown:
            self.warn("Choose one stone first (m).")
            return
        give(self, "Write the recipe card", f"{self.material}-card.md", self.shop.card_markdown, "the card")

    def do_check(self) -> None:
        start(self, self._check, group="care", alone=True)

    async def _check(self) -> None:
        self.say(await self.workspace.do(check_words, self.workspace.record_to_write()))

    def do_backup(self) -> None:
        start(self, self._backup, group="care", alone=True)

    async def _backup(self) -> None:
        self.say(await self.workspace.do(self.workspace.back_up))

    # --- taps ------------------------------------------------------------------------------------------------

    def on_bar_chosen(self, message: Bar.Chosen) -> None:
        if message.bar.id == "record-views":
            message.prevent_default().stop()
            if self.workspace.ready:
                self._see(message.item_id)

    def on_fields_chosen(self, message: Fields.Chosen) -> None:
        message.stop()
        if self.workspace.ready and message.field_id == "material":
            self.do_material()


def check_words(record: Record) -> str:
    """Look the record over; one sentence."""
    found = check(record)
    if found.faults:
        return "! " + "; ".join(found.faults)
    counts = (counted(found.cases, "case"), counted(found.steps, "step"), counted(found.lap_rows, "lap row"))
    return f"The record is in order: {', '.join(counts)}."


TIME = 12
"""Cells for minutes: the longest is ``under 1 min``, and a gap."""


def _works_line(works: Works, label: str, width: int, *, timed: bool) -> Content:
    wide = 21 if width >= 90 else 15 if width >= 70 else 9
    figures = f"{works.worked} of {works.trials}"
    time = taken(works.minutes) if works.minutes else ""
    last = TIME if timed else 0
    room = width - wide - 11 - last - 1
    return Content.assemble(
        (fit(label, room), ""),
        " ",
        (interval(works.estimate.low, works.estimate.mean, works.estimate.high, wide), "$primary"),
        (fit(figures, 11, right=True), "bold"),
        (fit(time, last, right=True), ""),
    )


def works_lines(works: WhatWorks, knowledge: Knowledge, width: int) -> list[Content]:
    """Laps with compounds, and remedies, each with its interval and trials."""
    lines: list[Content] = []
    for title, items in (("Laps and compounds, best first", works.pairs), ("What cured troubles", works.remedies)):
        lines.append(heading(title))
        timed = any(item.minutes for item in items)
        for item in items:
            label = pair_label(item.name, knowledge) if "|" in item.name else name_of(knowledge, item.name)
            lines.append(_works_line(item, label, width, timed=timed))
        lines.append(Content(""))
    lines.append(para("├─●─┤ from 0 to 100 %: holds the true share with 9 chances in 10.", style="italic"))
    lines.append(
        para(
            "A remedy tried only after others failed looks better here than it is; the advice allows for it.",
            style="italic",
        )
    )
    return lines


def minute_lines(works: WhatWorks, knowledge: Knowledge, width: int) -> list[Content]:
    """Minutes spent by likely cause, most first."""
    lines = [heading("Minutes spent, by likely cause")]
    if not works.minutes_by_cause:
        return [*lines, para("None yet: they are counted from outcomes logged beside the advice.", style="italic")]
    most = max(works.minutes_by_cause.values(), default=1.0) or 1.0
    for cause, spent in works.minutes_by_cause.items():
        label = OTHER_LABEL if cause == OTHER else small(name_of(knowledge, cause))
        room = max(12, width - 30)
        lines.append(
            Content.assemble(
                (fit(label, room), ""),
                " ",
                (bar(spent / most, 16), "$primary"),
                (fit(taken(spent), TIME, right=True), "bold"),
            )
        )
    return lines


def progress_lines(works: WhatWorks, width: int) -> list[Content]:
    """Mean minutes to a good facet month by month: a falling bar is progress."""
    lines = [heading("Minutes to a good facet, month by month")]
    most = max((mean for _, _, mean in works.by_month), default=1.0) or 1.0
    for month, facets, mean in works.by_month:
        count = counted(facets, "facet")
        lines.append(
            Content.assemble(
                (f"{month}  ", ""),
                (bar(mean / most, max(10, min(40, width - 40))), "$primary"),
                (fit(taken(mean), TIME, right=True), "bold"),
                (f"   {count}", ""),
            )
        )
    if len(works.by_month) < 2:
        lines.append(para("One month so far: a later one beside it shows how you get on.", style="italic"))
    return lines


def case_lines(cases: Sequence[CaseRecord], knowledge: Knowledge) -> list[Content]:
    """The newest cases, one to a line: day, how it ended, stone, what was seen, minutes."""
    lines = [heading("Newest cases")]
    for kept in cases:
        seen = "; ".join(small(name_of(knowledge, s)) for s in kept.case.symptoms) or "nothing stated"
        state = RESULTS.get(kept.result or "open", plain_id(kept.result or "open"))
        what = safe(f"{name_of(knowledge, kept.case.material)}: {seen}, {taken(kept.minutes)}", 300)
        lines.append(Content(f"{kept.at[:10]}  {fit(state, 13)} {what}"))
    return lines


def card_lines(text: str) -> list[Content]:
    """The card's lines, each with its own indent."""
    return [Content(" " * (len(line) - len(line.lstrip())) + safe(line, 300)) for line in text.splitlines()]
