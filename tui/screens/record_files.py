"""The record as files, from its screen: import, hand out, back up, bring back, check. All of it can be stopped."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from lapwise.engine.newfile import new_file
from lapwise.engine.record.backup import backups_in
from lapwise.engine.record.care import Checked, check, make_backup, restore
from lapwise.engine.record.database import set_aside_in
from lapwise.engine.record.exchange import import_lines, reading_from, write_lines
from lapwise.engine.record.file import backup_folder
from lapwise.engine.record.model import Counts
from lapwise.engine.record.table import write_csv
from lapwise.engine.record.work import Progress
from lapwise.engine.wording import counted
from lapwise.tui.present.record import counts_lines
from lapwise.tui.present.words import bench_time
from lapwise.tui.screens.asking import choose
from lapwise.tui.screens.base import AreaScreen
from lapwise.tui.screens.entry import Entry
from lapwise.tui.screens.hand_over import Opener, ask_file, give_made, take_open
from lapwise.tui.screens.long_work import long_work
from lapwise.tui.screens.sheet import Line, para, point
from lapwise.tui.widgets.bar import Item
from lapwise.tui.work import beside

if TYPE_CHECKING:
    from lapwise.engine.folders import Folders

WHOSE = (
    Entry("theirs", "Somebody else's", "their cases and laps stay theirs; the advice learns from them"),
    Entry("mine", "My own, from another machine", "its open cases and its laps are yours here too"),
    Entry("trial", "Only see what it would bring", "nothing is added"),
)
OUT = (
    Entry("jsonl", "All rows, to import elsewhere", "another machine, a club; one row a line"),
    Entry("csv", "A table for a spreadsheet", "it cannot be imported again"),
    Entry("sqlite3", "A checked copy of the record", "to keep on a stick; b keeps one beside the record"),
)
MADE = {"daily": "made by itself", "backup": "made by you", "before-update": "made before an update"}
ANOTHER = "another"


class RecordFiles(AreaScreen):
    """The actions of the record's screen that read or write files."""

    # --- in --------------------------------------------------------------------------------------------------

    def do_import(self) -> None:
        about = "The rows of another record, as its owner exported them (e, or lapwise record export)."
        take_open(self, "Import a record", about, self._whose)

    def _whose(self, opened: Opener, name: str) -> None:
        choose(self.app, "Whose record is it?", WHOSE, partial(self._import, opened, name))

    @beside("files")
    async def _import(self, opened: Opener, name: str, how: str) -> None:
        trial, record = how == "trial", self.workspace.record_to_write()

        def read(tell: Progress) -> Counts:
            with opened() as raw:
                text, share = reading_from(raw)
                return import_lines(record, text, progress=tell, share=share, trial=trial, mine=how == "mine")

        try:
            counts = await long_work(self, "Importing", lambda tell: self.controller.change(lambda: read(tell)))
        except OSError as error:
            self.warn(f"{name}: {error.strerror or error}")
        else:
            self._tell("It would bring" if trial else "Imported", counts, trial=trial)

    def _tell(self, title: str, counts: Counts, *, trial: bool = False) -> None:
        lines: list[Line] = [para(text) for text in counts_lines(counts, trial=trial)]
        self.read(title, [*lines, *(point(text) for text in counts.examples)])

    # --- out -------------------------------------------------------------------------------------------------

    def do_export(self) -> None:
        def chosen(kind: str) -> None:
            name = f"lapwise-{date.today().isoformat()}.{kind}"
            give_made(self, "Export the record", name, partial(self._write, kind))

        choose(self.app, "What to export?", OUT, chosen)

    def _write(self, kind: str, path: Path, tell: Progress) -> str:
        record = self.workspace.record_to_write()
        if kind == "sqlite3":
            make_backup(record, path, tell)
            return "a copy, read through and whole"
        left_out: list[str] = []
        with new_file(path) as file:
            rows = write_csv(record, file, tell) if kind == "csv" else write_lines(record, file, left_out, tell)
        lost = f"; {counted(len(left_out), 'damaged row')} left out, k checks the record" if left_out else ""
        return counted(rows, "row") + lost

    # --- copies ----------------------------------------------------------------------------------------------

    @beside("files")
    async def do_backup(self) -> None:
        record = self.workspace.record_to_write()
        made = await long_work(self, "Backing up", lambda tell: self.workspace.do(make_backup, record, progress=tell))
        self.say(f"Backed up to {made}.")

    @beside("files")
    async def do_restore(self) -> None:
        found = await self.workspace.do(copies, self.workspace.where)
        entries = [entry for entry, _ in found]
        if not self.app.is_web:
            entries.append(Entry(ANOTHER, "Another file", "a copy that you keep elsewhere"))
        if not entries:
            self.warn("There is no copy yet. b makes one.")
            return
        by_name = {entry.id: path for entry, path in found}

        def chosen(name: str) -> None:
            if name == ANOTHER:
                ask_file(self, "Bring back a copy", "", self._bring_back)
            else:
                self._bring_back(by_name[name])

        choose(self.app, "Bring back which copy? What is here stays", entries, chosen)

    @beside("files")
    async def _bring_back(self, path: Path) -> None:
        record = self.workspace.record_to_write()
        counts = await long_work(
            self, "Bringing back", lambda tell: self.controller.change(lambda: restore(record, path, tell))
        )
        self._tell("Brought back", counts)

    # --- check -----------------------------------------------------------------------------------------------

    @beside("files")
    async def do_check(self, *, repair: bool = False) -> None:
        record = self.workspace.record_to_write()
        title = "Repairing" if repair else "Checking"
        found = await long_work(
            self, title, lambda tell: self.controller.change(lambda: check(record, repair=repair, progress=tell))
        )
        if found.sound and not repair:
            counts = (counted(found.cases, "case"), counted(found.steps, "step"), counted(found.lap_rows, "lap row"))
            self.say(f"The record is in order: {', '.join(counts)}.")
            return
        does: dict[Item, Callable[[], object]] = {}
        if found.faults:
            does[Item("repair", "y", "Repair")] = partial(self.do_check, repair=True)
        elif found.elsewhere:
            does[Item("restore", "r", "Bring back")] = partial(self._bring_back, Path(found.elsewhere[0][0]))
        self.read("The record", checked_lines(found), does)


def checked_lines(found: Checked) -> list[Line]:
    """What a check or a repair found, to read."""
    lines: list[Line] = [point(fault, "!") for fault in found.faults]
    if found.salvage and found.aside:
        lines.append(para(f"The damaged file is set aside. What it holds is in the new one: {found.salvage}."))
    elif found.salvage:
        lines.append(para(f"Of the damaged file {found.salvage}. Repair brings that into a new one."))
    elif found.rebuilt:
        lines.append(para("What learning reads was worked out again."))
    lines += [
        point(f"{path} holds {counted(rows, 'row')} that the record lacks.", "!") for path, rows in found.elsewhere
    ]
    return lines if not found.sound else [*lines, para("The record is in order.")]


def copies(where: Folders) -> list[tuple[Entry, Path]]:
    """The copies there are, newest first, then the damaged files that were set aside; no entry names a folder."""
    found: list[tuple[Entry, Path]] = []
    for path in (*backups_in(backup_folder(where)), *set_aside_in(where.data)):
        parts = path.stem.removeprefix("record-").removeprefix("damaged-").split("-")
        day, clock, *rest = (*parts, "", "")
        kind = "-".join(part for part in rest if not part.isdigit()).strip("-")
        about = "damaged and set aside: what can be read of it" if "damaged" in path.stem else MADE.get(kind, kind)
        label = bench_time(f"{day[:4]}-{day[4:6]}-{day[6:8]}T{clock[:2]}:{clock[2:4]}+00:00")
        found.append((Entry(path.name, label, f"{about}, {_size(path)}"), path))
    return found


def _size(path: Path) -> str:
    kilobytes = path.stat().st_size / 1000
    return f"{kilobytes:.0f} kB" if kilobytes < 1000 else f"{kilobytes / 1000:.1f} MB"
