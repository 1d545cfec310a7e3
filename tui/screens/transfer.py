"""The transfer: how the stone sits on its dop, from the corrections found on a few facets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from lapwise.engine.errors import LapwiseError, NothingFound
from lapwise.engine.machine import USUAL_GEAR, gear_of
from lapwise.engine.transfer import Fit, fit, make_row, parse_table, table_of, write_table
from lapwise.engine.transfer import Row as FacetRow
from lapwise.engine.transfer.rows import MOST_BYTES
from lapwise.engine.wording import capital, counted
from lapwise.tui.present.transfer import REDOP, curve, sentences, suspect_words
from lapwise.tui.screens.ask import Blank
from lapwise.tui.screens.asking import fill_in
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.hand_over import Opener, give, take_open
from lapwise.tui.screens.sheet import heading, para
from lapwise.tui.typed import read_facet
from lapwise.tui.widgets.fields import Field, Fields
from lapwise.tui.widgets.rows import Paint, Row, Rows
from lapwise.tui.work import beside


class TransferRows(Rows):
    """The facets of the transfer."""

    help_text = (
        "One facet to a line: its index and angle, and the two changes that made it lie flat. Index change in teeth, + "
        "towards higher numbers; angle change in degrees, + raise. A facet without changes is one to predict. ! marks "
        "a row that looks mistyped, ? a facet to predict: its figures are worked out, not measured. a adds a "
        "row, e changes it, d takes it out, o reads a file; u brings back the list as it was before."
    )


class TransferScreen(AreaScreen, area="transfer", row="change"):
    """Rows on the left, how the stone sits on the right."""

    CSS_PATH = "../transfer.tcss"
    AUTO_FOCUS = "#transfer-rows"
    help_text = "How the stone sits after the transfer: give the corrections of two facets or more."

    def __init__(self) -> None:
        super().__init__()
        self.forget()

    def forget(self) -> None:
        self.answer: Fit | None = None
        self._complaint = ""
        self._open = ""
        """What the facets given do not tell yet."""

    @property
    def rows(self) -> list[FacetRow]:
        """The rows as they stand; they are the controller's."""
        return list(self.controller.transfer.rows)

    @property
    def gear(self) -> int:
        """The gear the rows are counted in."""
        return gear_of(self.controller.transfer.gear, self.workspace.profile)

    def body(self) -> ComposeResult:
        yield Fields(id="transfer-fields")
        with Horizontal(id="transfer-body"):
            with Vertical(id="transfer-left"):
                yield Static(Content("  index   angle   index ch. angle ch."), id="transfer-head", markup=False)
                yield TransferRows(id="transfer-rows", empty="a: type a facet.  o: read a file.")
            with VerticalScroll(id="transfer-right", can_focus=False):
                yield Static("", id="transfer-answer", markup=False)

    def refresh_view(self) -> None:
        self.meet()
        if not self.controller.transfer.own:
            self._take_from_case()
        self.show_rows()
        self.work_out()

    def _take_from_case(self) -> None:
        """The rows that the case knows of, where no list was made."""
        case = self.controller.case
        gear = case.facet.gear or self.gear
        rows = [make_row(at, *row, gear) for at, row in enumerate(case.corrections, 1)]
        self.controller.transfer.show(rows, gear if rows else None)

    # --- what is shown ---------------------------------------------------------------------------------------

    def show_rows(self) -> None:
        """Show the rows as they stand."""
        self.query_one(TransferRows).row_height = 2 if self.lapwise.touch else 1
        doubtful = {s.row for s in self.answer.suspects} if self.answer else set()
        rows = [
            Row(str(at), _painter(row, row.number in doubtful, self._predicted(row)))
            for at, row in enumerate(self.rows)
        ]
        self.query_one(TransferRows).show(rows)
        measured = sum(row.measured for row in self.rows)
        counts = f"{measured} measured, {len(self.rows) - measured} to predict"
        fields = (Field("gear", "Gear", f"{self.gear} teeth"), Field("rows", "Facets", counts))
        self.query_one("#transfer-fields", Fields).show(fields)

    def _predicted(self, row: FacetRow) -> FacetRow | None:
        """The facet with the changes worked out for it, if it is one to predict and they are known."""
        return None if row.measured or self.answer is None else self.answer.predict(row)

    @beside("fit", alone=True)
    async def work_out(self) -> None:
        """Ask how the stone sits."""
        self.answer, self._complaint, self._open = None, "", ""
        rows = self.rows
        if sum(row.measured for row in rows) > 1:
            try:
                self.answer = await self.workspace.do(fit, rows, self.gear)
            except NothingFound as error:
                # not a fault: what was measured does not tell it yet, and this is what to measure next
                missing = error.problems[0]
                self._open = f"{capital(missing.what)}: {'; '.join(missing.allowed)}."
            except LapwiseError as error:
                self._complaint = str(error.problems[0])
        self._show_answer()
        self.show_rows()

    def _show_answer(self) -> None:
        room = self.query_one("#transfer-right").size.width
        self.again_if_resized("#transfer-right", room, self._show_answer)
        width = max(30, room - 4)
        lines: list[Content] = []
        answer = self.answer
        if answer is None:
            lines = [para(self._complaint, style="bold $warning") if self._complaint else para(self._next_step())]
        else:
            doubts = [*map(suspect_words, answer.suspects), *([REDOP] if answer.redop else [])]
            lines += [para("! " + text, style="bold $warning") for text in doubts]
            lines += [para(text) for text in sentences(answer)]
            for kind, title in (("angle", "Angle change round the stone, °"), ("index", "Index change, teeth")):
                drawn = curve(answer, kind, columns=max(20, min(70, width - 10)), lines=6)
                if drawn:
                    lines += [Content(""), heading(title), *(Content(line) for line in drawn)]
            for title, rows in (("Facets to predict", answer.predictions), ("Mirror settings", answer.mirrored)):
                if rows:
                    lines += [Content(""), heading(title), Content(HEAD), *(Content(_figures(r)) for r in rows)]
        self.show_answer("#transfer-answer", "#transfer-right", Content("\n").join(lines))

    def _next_step(self) -> str:
        if sum(row.measured for row in self.rows) == 1:
            return "Add one more facet, well round the stone."
        if self._open:
            return self._open
        return "Correct two facets or more until they lie flat, and give their changes here."

    def on_resize(self) -> None:
        if self.workspace.ready:
            self.call_after_refresh(self._show_answer)

    # --- actions ---------------------------------------------------------------------------------------------

    def do_row(self) -> None:
        self._type(None)

    def do_change(self) -> None:
        marked = self.query_one(TransferRows).marked
        if marked is None:
            self.do_row()
        else:
            self._type(int(marked))

    def _type(self, at: int | None) -> None:
        row = self.rows[at] if at is not None else None
        asked = (
            ("index", "Index", f"0 to {self.gear}"),
            ("angle", "Angle", "degrees, 0 to 90"),
            ("index_change", "Index change", "teeth, + to higher numbers"),
            ("angle_change", "Angle change", "degrees, + raise"),
        )
        blanks = [Blank.number(name, label, getattr(row, name, None), hint) for name, label, hint in asked]

        def typed(new: FacetRow) -> None:
            rows = self.rows
            place = len(rows) if at is None else at
            self._list([*rows[:place], new, *rows[place + 1 :]], mark=place)
            self.say("a adds the next one." if at is None else "Changed. u: as it was")

        about = "Leave both changes empty for a facet whose corrections you want to know."
        fill_in(self.app, "A facet of the transfer", blanks, self._parse, typed, about=about)

    def _parse(self, values: Mapping[str, str]) -> FacetRow:
        cells = ";".join(values[k].replace(";", " ") for k in ("index", "angle", "index_change", "angle_change"))
        table = parse_table("index;angle;index_change;angle_change\n" + cells, self.gear, "this facet")
        return table.rows[0]

    def _list(self, rows: Sequence[FacetRow], *, gear: int | None = None, mark: int | None = None) -> None:
        """Another list in the place of this one; ``mark``: the place of the row to put the mark on."""
        self.controller.list_facets(rows, gear or self.gear)
        if mark is not None:
            self.query_one(TransferRows).mark(str(mark))

    def do_undo(self) -> None:
        """The list as it was before the last change of it."""
        if self.controller.unlist_facets():
            self.say(f"The list is back as it was: {counted(len(self.rows), 'row')}.")
        else:
            self.say("There is nothing to bring back.")

    def do_drop(self) -> None:
        marked = self.query_one(TransferRows).marked
        if marked is not None:
            rows = self.rows
            row = rows.pop(int(marked))
            self._list(rows)
            self.say(f"The facet at index {row.index:g} is out. u brings it back.")

    def do_clear(self) -> None:
        if not self.rows and not self.controller.case.corrections:
            self.say("The list is empty already.")
            return
        if self.rows:
            self._list([])
        words = "The list is empty. u brings it back."
        if self.controller.case.corrections:
            words += " c takes them out of the case too."
        self.say(words)

    def do_use(self) -> None:
        """Put the measured rows into the case; without any, take them out of it."""
        rows = tuple((r.index, r.angle, r.index_change, r.angle_change) for r in self.rows if r.measured)
        case = self.controller.case
        gear = self.gear if rows else case.facet.gear
        if rows == case.corrections:
            self.say("The case knows these corrections already." if rows else "Give the corrections of a facet first.")
            return
        self.controller.state(replace(case, corrections=rows, facet=replace(case.facet, gear=gear)))
        words = f"The case now takes in {counted(len(rows), 'corrected facet')}." if rows else "Taken out of the case."
        self.say(words + "  1: the case")

    def do_gear(self) -> None:
        def read(typed: Mapping[str, str]) -> int:
            return read_facet(gear=typed["gear"] or None).gear or USUAL_GEAR

        blank = Blank("gear", "Teeth", str(self.gear), "for example 96")
        fill_in(self.app, "The index gear", [blank], read, lambda gear: self._list(self.rows, gear=gear))

    def do_open(self) -> None:
        about = "Columns index, angle, index_change, angle_change; from a spreadsheet, as CSV."
        take_open(self, "Read a file", about, self._read)

    def _read(self, opened: Opener, name: str) -> None:
        try:
            with opened() as file:
                table = table_of(file.read(MOST_BYTES + 1), self.gear, name)
        except OSError as error:
            self.warn(f"{name}: {error.strerror or error}")
            return
        except LapwiseError as error:
            self.warn(str(error.problems[0]))
            return
        replaced = bool(self.rows)
        self._list(table.rows)
        words = f"{counted(len(table.rows), 'row')} read." + (" u brings the list before it back." if replaced else "")
        if table.problems:
            self.warn(f"{words} Left out: {table.problems[0]}" + (" …" if len(table.problems) > 1 else ""))
        else:
            self.say(words)

    def do_save(self) -> None:
        rows = [self._predicted(row) or row for row in self.rows]
        give(self, "Write rows and predictions", "transfer.csv", write_table(rows), counted(len(rows), "row"))

    def do_read(self) -> None:
        self.read_on("#transfer-right")

    def do_read_back(self) -> None:
        self.query_one("#transfer-right", VerticalScroll).scroll_relative(y=-8, animate=False)

    def field_chosen(self, field: str) -> None:
        (self.do_gear if field == "gear" else self.do_row)()


HEAD = " index  angle  index ch.  angle ch."


def _figures(row: FacetRow) -> str:
    index = "       –" if row.index_change is None else f"{row.index_change:+8.3f}"
    angle = "       –" if row.angle_change is None else f"{row.angle_change:+7.3f}°"
    return f"{row.index:6g} {row.angle:6g}  {index}   {angle}"


def _painter(row: FacetRow, doubtful: bool, predicted: FacetRow | None) -> Paint:
    text = _figures(predicted or row) + ("  !" if doubtful else "" if row.measured else "  ?")
    content = Content.styled(text, "bold $warning" if doubtful else "" if row.measured else "italic")
    return content.truncate
