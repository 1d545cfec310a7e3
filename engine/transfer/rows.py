"""The facets of a transfer: settings, and the corrections found on some of them; read from and written to CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from lapwise.engine.errors import BadInput, Issue, nearest
from lapwise.engine.numerals import read_number

COLUMNS = ("index", "angle", "index_change", "angle_change")
MOST_BYTES = 2_000_000
MOST_ROWS = 5000
MOST_DEGREES = 30.0
_ALIKE = {"facet_angle": "angle", "index_correction": "index_change", "angle_correction": "angle_change"}


@dataclass(frozen=True, slots=True)
class Row:
    """One facet. ``index``: setting in teeth, up to the gear number (0 is kept as that); ``angle``: 0 to 90 degrees.

    ``index_change``: teeth, + towards higher numbers; ``angle_change``: degrees, + raise; None where not measured.
    ``number``: its place in the file, from 1.
    """

    number: int
    index: float
    angle: float
    index_change: float | None = None
    angle_change: float | None = None

    @property
    def measured(self) -> bool:
        """True if either change was found."""
        return self.index_change is not None or self.angle_change is not None


@dataclass(frozen=True, slots=True)
class Table:
    """The good rows, and what was wrong with the others."""

    rows: tuple[Row, ...]
    problems: tuple[Issue, ...] = ()


def make_row(
    number: int, index: float, angle: float, index_change: float | None, angle_change: float | None, gear: int
) -> Row:
    """A checked row. Raises :class:`BadInput` that names the row, the value and what is allowed."""
    problems = []

    def check(name: str, value: float | None, low: float, high: float, allowed: str) -> None:
        if value is not None and not low <= value <= high:
            problems.append(Issue("out of range", f"row {number}: {name}", f"{value:g}", (allowed,)))

    check("index", index, 0, gear, f"0 to {gear} on the {gear} gear")
    check("angle", angle, 0, 90, "0 (dop upright) to 90 (dop level)")
    most = MOST_DEGREES * gear / 360.0
    check("index_change", index_change, -most, most, f"teeth, {-most:.3g} to {most:.3g}")
    check("angle_change", angle_change, -MOST_DEGREES, MOST_DEGREES, f"degrees, -{MOST_DEGREES:g} to {MOST_DEGREES:g}")
    if problems:
        raise BadInput(problems)
    return Row(number, float(gear) if index == 0 else index, angle, index_change, angle_change)


def read_table(path: Path, gear: int) -> Table:
    """The rows of a CSV file. Raises :class:`BadInput` if it cannot be used as a whole, ``OSError`` if not read."""
    with path.open("rb") as file:
        raw = file.read(MOST_BYTES + 1)
    return table_of(raw, gear, str(path))


def table_of(raw: bytes, gear: int, where: str) -> Table:
    """The rows of a CSV file's content, :data:`MOST_BYTES` at most. Raises :class:`BadInput` as :func:`parse_table`."""
    if len(raw) > MOST_BYTES:
        raise BadInput(Issue(f"the file is over {MOST_BYTES // 1_000_000} MB", where))
    return parse_table(decode(raw), gear, where)


def decode(raw: bytes) -> str:
    """Text of a file as spreadsheets write it: UTF-8 or UTF-16 with or without its mark, else Windows Latin."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")


def parse_table(text: str, gear: int, where: str = "table") -> Table:
    """The rows of a CSV text; ``;`` or tabs between the columns and decimal commas are understood.

    Errors quote a text whose first line names our columns, never another: it may be a file that is nobody's business.
    """
    plain = text.removeprefix("\ufeff").replace("\x00", "")
    try:
        lines = list(csv.reader(io.StringIO(plain, newline=""), delimiter=_divider(plain)))
    except csv.Error as error:
        raise BadInput(Issue(f"is not a table: {error}", where, "", (",".join(COLUMNS),))) from None
    while lines and not any(cell.strip() for cell in lines[0]):
        lines.pop(0)
    while lines and not any(cell.strip() for cell in lines[-1]):
        lines.pop()
    if not lines:
        raise BadInput(Issue("the file is empty", where, "", (",".join(COLUMNS),)))
    order, has_header = _columns(lines[0], where)
    data = lines[1:] if has_header else lines
    if len(data) > MOST_ROWS:
        raise BadInput(Issue(f"more than {MOST_ROWS} rows", where, str(len(data))))
    rows: list[Row] = []
    problems: list[Issue] = []
    for number, cells in enumerate(data, 1):
        if not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#"):
            continue
        try:
            rows.append(_row(number, cells, order, gear))
        except BadInput as error:
            problems.extend(error.problems if has_header else (replace(p, found="") for p in error.problems))
    if not rows:
        raise BadInput(problems or [Issue("the file holds no facet", where, "", (",".join(COLUMNS),))])
    return Table(tuple(rows), tuple(problems))


def write_table(rows: Iterable[Row]) -> str:
    """The rows as CSV text that :func:`parse_table` reads back unchanged."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow(
            ["" if v is None else repr(v) for v in (row.index, row.angle, row.index_change, row.angle_change)]
        )
    return out.getvalue()


def _divider(text: str) -> str:
    first = next((line for line in text.splitlines() if line.strip()), "")
    counts = {mark: first.count(mark) for mark in (";", "\t", ",")}
    return next((mark for mark in (";", "\t") if counts[mark]), ",")


def _columns(first: Sequence[str], where: str) -> tuple[dict[str, int], bool]:
    """Where each column stands, and whether the first line is a header."""
    if all(_is_number(cell) or not cell.strip() for cell in first):
        return dict(zip(COLUMNS, range(len(first)), strict=False)), False
    order: dict[str, int] = {}
    names = ["_".join(cell.strip().strip('"').lower().replace("-", " ").replace("_", " ").split()) for cell in first]
    for place, name in enumerate(names):
        column = _ALIKE.get(name, name)
        if column in COLUMNS and column in order:
            raise BadInput(Issue("the same column twice", where, column, COLUMNS))
        if column in COLUMNS:
            order[column] = place
    missing = [c for c in ("index", "angle") if c not in order]
    if missing:
        what = f"the first line must name the columns; missing: {', '.join(missing)}"
        raise BadInput(Issue(what, where, "", (",".join(COLUMNS),), nearest(names[0], missing)))
    return order, True


def _row(number: int, cells: Sequence[str], order: dict[str, int], gear: int) -> Row:
    values: dict[str, float | None] = {}
    problems = []
    for column in COLUMNS:
        place = order.get(column)
        text = cells[place].strip() if place is not None and place < len(cells) else ""
        if not text:
            values[column] = None
            if column in ("index", "angle"):
                problems.append(Issue("is missing", f"row {number}: {column}", "", ("a number",)))
            continue
        value = read_number(text)
        if value is None:
            problems.append(Issue("is not a number", f"row {number}: {column}", text[:40], ("a number such as 0.12",)))
        values[column] = value
    if problems:
        raise BadInput(problems)
    index, angle = values["index"], values["angle"]
    assert index is not None
    assert angle is not None
    return make_row(number, index, angle, values["index_change"], values["angle_change"], gear)


def _is_number(text: str) -> bool:
    return read_number(text.strip()) is not None


def with_changes(row: Row, index_change: float | None, angle_change: float | None) -> Row:
    """The same facet with these changes."""
    return replace(row, index_change=index_change, angle_change=angle_change)
