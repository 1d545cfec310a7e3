"""The transfer: how the stone sits on its dop, from the corrections found on a few facets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from lapwise.engine.errors import LapwiseError
from lapwise.tui.screens.ask import Ask, Blank
from lapwise.tui.screens.base import AreaScreen, keys_of
from lapwise.tui.screens.sheet import heading, para
from lapwise.tui.widgets.fields import Field, Fields
from lapwise.tui.widgets.rows import Paint, Row, Rows
from lapwise.tui.work import start

if TYPE_CHECKING:
    from lapwise.engine.transfer import Fit
    from lapwise.engine.transfer import Row as FacetRow

USUAL_GEAR = 96


class TransferRows(Rows):
    """The facets of the transfer."""

    help_text = (
        "One facet to a line: its index and angle, and the two changes that made it lie flat. Index change in teeth, + "
        "towards higher numbers; angle change in degrees, + raise. A facet without changes is one to predict. ! marks "
        "a row whose sign looks mistyped. a adds a row, e changes it, d takes it out, o reads a file."
    )


class TransferScreen(AreaScreen):
    """Rows on the left, how the stone sits on the right."""

    area = "transfer"
    CSS_PATH = "../transfer.tcss"
    BINDINGS: ClassVar[list[BindingType]] = keys_of("transfer")
    AUTO_FOCUS: ClassVar[str | None] = "#transfer-rows"
    help_text = "How the stone sits after the transfer: give the corrections of two facets or more."

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[FacetRow] = []
        self.gear: int | None = None
        self.answer: Fit | None = None
        self._complaint = ""

    def body(self) -> ComposeResult:
        yield Fields(id="transfer-fields")
        with Horizontal(id="transfer-body"):
            with Vertical(id="transfer-left"):
                yield Static(Content("  index   angle   index ch. angle ch."), id="transfer-head", markup=False)
                yield TransferRows(id="transfer-rows", empty="a: type a facet.  o: read a file.")
            with VerticalScroll(id="transfer-right", can_focus=False):
                yield Static("", id="transfer-answer", markup=False)

    def refresh_view(self) -> None:
        if self.gear is None:
            profile = self.bench.profile
            self.gear = (profile.gear if profile else None) or USUAL_GEAR
        if self.bench.sample and not self.rows:
            self._read(self.bench.where.data / "transfer-sample.csv")
        if not self.rows:
            self._take_from_case()
        self.show_rows()
        self.work_out()

    def _take_from_case(self) -> None:
        """The rows that the case still knows of, after the program was closed."""
        from lapwise.engine.transfer import make_row

        case = self.lapwise.desk.case
        if case.corrections:
            gear = self.gear = case.facet.gear or self.gear or USUAL_GEAR
            self.rows = [make_row(at, *row, gear) for at, row in enumerate(case.corrections, 1)]

    # --- what is shown ---------------------------------------------------------------------------------------

    def show_rows(self, mark: str | None = None) -> None:
        """Show the rows as they stand."""
        doubtful = {s.row for s in self.answer.suspects} if self.answer else set()
        self.query_one(TransferRows).show(
            [Row(str(at), _painter(row, row.number in doubtful)) for at, row in enumerate(self.rows)], mark=mark
        )
        measured = sum(row.measured for row in self.rows)
        self.query_one("#transfer-fields", Fields).show(
            [
                Field("gear", "Gear", f"{self.gear} teeth"),
                Field("rows", "Facets", f"{measured} measured, {len(self.rows) - measured} to predict"),
            ]
        )

    def work_out(self) -> None:
        """Ask how the stone sits."""
        start(self, self._work_out, group="fit", alone=True)

    async def _work_out(self) -> None:
        self.answer, complaint = None, ""
        rows = [replace(row, number=at) for at, row in enumerate(self.rows, 1)]
        self.rows = rows
        if any(row.measured for row in rows):
            try:
                self.answer = await self.bench.do(self.bench.fit, rows, self.gear or USUAL_GEAR)
            except LapwiseError as error:
                complaint = str(error.problems[0])
        self._complaint = complaint
        self._show_answer()
        self.show_rows()

    def _show_answer(self) -> None:
        from lapwise.tui.cli.transfer import REDOP, curve, sentences

        room = self.query_one("#transfer-right").size.width
        self.again_if_resized("#transfer-right", room, self._show_answer)
        width = max(30, room - 4)
        lines: list[Content] = []
        answer = self.answer
        if answer is None:
            words = self._complaint or "Correct two facets or more until they lie flat, and give their changes here."
            lines = [para(words, style="bold" if not self._complaint else "bold $warning")]
        else:
            for suspect in answer.suspects:
                column = suspect.column.replace("_", " ")
                text = (
                    f"! Row {suspect.row}: the sign of its {column} looks mistyped: {suspect.found:+.3g}, the others "
                    f"ask for {suspect.expected:+.3g}. It was left out."
                )
                lines.append(para(text, style="bold $warning"))
            if answer.redop:
                lines.append(para("! " + REDOP, style="bold $warning"))
            lines += [para(text) for text in sentences(answer)]
            for kind, title in (("angle", "Angle change round the stone, °"), ("index", "Index change, teeth")):
                drawn = curve(answer, kind, columns=max(20, min(70, width - 10)), lines=6)
                if drawn:
                    lines += [Content(""), heading(title), *(Content(line) for line in drawn)]
            for title, rows in (("Facets to predict", answer.predictions), ("Mirror settings", answer.mirrored)):
                if rows:
                    lines += [Content(""), heading(title), Content(HEAD), *(Content(_figures(r)) for r in rows)]
        self.query_one("#transfer-answer", Static).update(Content("\n").join(lines))

    def on_resize(self) -> None:
        if self.bench.ready:
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

        def text(value: float | None) -> str:
            return "" if value is None else f"{value:g}"

        blanks = [
            Blank("index", "Index", text(row.index if row else None), f"0 to {self.gear}"),
            Blank("angle", "Angle", text(row.angle if row else None), "degrees, 0 to 90"),
            Blank(
                "index_change", "Index change", text(row.index_change if row else None), "teeth, + to higher numbers"
            ),
            Blank("angle_change", "Angle change", text(row.angle_change if row else None), "degrees, + raise"),
        ]

        def check(values: Mapping[str, str]) -> str | None:
            try:
                self._parse(values)
            except LapwiseError as error:
                return str(error.problems[0])
            return None

        def typed(values: dict[str, str] | None) -> None:
            if values is None:
                return
            new = self._parse(values)
            if at is None:
                self.rows.append(new)
            else:
                self.rows[at] = new
            self.show_rows(str(len(self.rows) - 1 if at is None else at))
            self.work_out()
            self.say("a adds the next one." if at is None else "Changed.")

        about = "Leave both changes empty for a facet whose corrections you want to know."
        self.app.push_screen(Ask("A facet of the transfer", blanks, about=about, check=check), typed)

    def _parse(self, values: Mapping[str, str]) -> FacetRow:
        from lapwise.engine.transfer import parse_table

        cells = ";".join(values[k].replace(";", " ") for k in ("index", "angle", "index_change", "angle_change"))
        table = parse_table("index;angle;index_change;angle_change\n" + cells, self.gear or USUAL_GEAR, "this facet")
        return table.rows[0]

    def do_drop(self) -> None:
        marked = self.query_one(TransferRows).marked
        if marked is not None:
            del self.rows[int(marked)]
            self.show_rows()
            self.work_out()

    def do_clear(self) -> None:
        self.rows = []
        self.show_rows()
        self.work_out()
        if self.lapwise.desk.case.corrections:
            self.say("The list is empty. c takes them out of the case too.")

    def do_use(self) -> None:
        """Put the measured rows into the case; without any, take them out of it."""
        rows = tuple((r.index, r.angle, r.index_change, r.angle_change) for r in self.rows if r.measured)
        case = self.lapwise.desk.case
        gear = self.gear if rows else case.facet.gear
        if rows == case.corrections:
            self.say("The case knows these corrections already." if rows else "Give the corrections of a facet first.")
            return
        self.lapwise.restate(replace(case, corrections=rows, facet=replace(case.facet, gear=gear)))
        words = f"The case now counts with {len(rows)} corrected facets." if rows else "Taken out of the case."
        self.say(words + "  1: the case")

    def do_gear(self) -> None:
        from lapwise.tui.cli.facet_options import read_facet

        def check(values: Mapping[str, str]) -> str | None:
            try:
                read_facet(gear=values["gear"])
            except LapwiseError as error:
                return str(error.problems[0])
            return None

        def typed(values: dict[str, str] | None) -> None:
            if values is not None:
                self.gear = read_facet(gear=values["gear"] or None).gear or USUAL_GEAR
                self.refresh_view()

        self.app.push_screen(
            Ask("The index gear", [Blank("gear", "Teeth", str(self.gear or ""), "for example 96")], check=check), typed
        )

    def do_open(self) -> None:
        def typed(values: dict[str, str] | None) -> None:
            if values and values["file"]:
                self._read(Path(values["file"]).expanduser())
                self.show_rows()
                self.work_out()

        about = "Columns index, angle, index_change, angle_change; from a spreadsheet, as CSV."
        self.app.push_screen(Ask("Read a file", [Blank("file", "File", "", "its name or path")], about=about), typed)

    def _read(self, path: Path) -> None:
        from lapwise.engine.transfer import read_table

        try:
            table = read_table(path, self.gear or USUAL_GEAR)
        except LapwiseError as error:
            self.warn(str(error.problems[0]))
        except OSError as error:
            self.warn(f"{path}: {error.strerror or error}")
        else:
            self.rows = list(table.rows)
            words = f"{len(table.rows)} rows read."
            if table.problems:
                self.warn(f"{words} Left out: {table.problems[0]}" + (" …" if len(table.problems) > 1 else ""))
            else:
                self.say(words)

    def do_save(self) -> None:
        def typed(values: dict[str, str] | None) -> None:
            if values and values["file"]:
                self._write(Path(values["file"]).expanduser())

        blank = Blank("file", "New file", "transfer.csv", "its name or path")
        self.app.push_screen(Ask("Write rows and predictions", [blank]), typed)

    def _write(self, path: Path) -> None:
        from lapwise.engine.transfer import write_table

        asked = {(r.index, r.angle): r for r in (self.answer.predictions if self.answer else ())}
        rows = [row if row.measured else asked.get((row.index, row.angle), row) for row in self.rows]
        try:
            with path.open("x", encoding="utf-8", newline="") as file:
                file.write(write_table(rows))
        except FileExistsError:
            self.warn(f"{path} is there already; nothing was written.")
        except OSError as error:
            self.warn(f"{path}: {error.strerror or error}")
        else:
            self.say(f"{len(rows)} rows written to {path.resolve()}.")

    def on_rows_chosen(self, message: Rows.Chosen) -> None:
        message.stop()
        self.do_change()

    def on_fields_chosen(self, message: Fields.Chosen) -> None:
        message.stop()
        if self.bench.ready:
            (self.do_gear if message.field_id == "gear" else self.do_row)()


HEAD = " index  angle  index ch.  angle ch."


def _figures(row: FacetRow) -> str:
    index = "       –" if row.index_change is None else f"{row.index_change:+8.3f}"
    angle = "       –" if row.angle_change is None else f"{row.angle_change:+7.3f}°"
    return f"{row.index:6g} {row.angle:6g}  {index}   {angle}"


def _painter(row: FacetRow, doubtful: bool) -> Paint:
    text = _figures(row) + ("  !" if doubtful else "" if row.measured else "  ?")
    content = Content.styled(text, "bold $warning" if doubtful else "")
    return content.truncate
