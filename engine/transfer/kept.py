"""The list of a transfer as it was left: transfer.json in the user data folder, written whole or not at all."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from lapwise.engine.errors import Damaged, Issue, LapwiseError
from lapwise.engine.folders import Folders
from lapwise.engine.newfile import read_json, write_anew
from lapwise.engine.transfer.rows import MOST_BYTES, MOST_ROWS, Row, make_row

FILE_NAME = "transfer.json"
_MOST_TEETH = 1000
Kept = tuple[tuple[Row, ...], int | None]
"""The rows and the gear they are counted in; None where it was never stated."""


def list_path(where: Folders) -> Path:
    """The file of the list."""
    return where.data / FILE_NAME


def read_list(where: Folders) -> Kept:
    """The list as it was left; an empty one if there is none. Raises :class:`Damaged` for what cannot be understood."""
    path = list_path(where)
    try:
        data = read_json(path, MOST_BYTES)
        gear, rows = data["gear"], data["rows"]
        if (gear is not None and not (isinstance(gear, int) and 0 < gear <= _MOST_TEETH)) or len(rows) > MOST_ROWS:
            raise ValueError("gear")
        return tuple(_row(at, row) for at, row in enumerate(rows, 1)), gear
    except FileNotFoundError:
        return (), None
    except (OSError, ValueError, TypeError, LookupError, LapwiseError):
        what = "the list of the transfer cannot be read; move the file away to begin a new one"
        raise Damaged(Issue(what, str(path))) from None


def keep_list(where: Folders, rows: Sequence[Row], gear: int | None) -> None:
    """Put the list on disk. Raises ``OSError``."""
    cells = [[row.index, row.angle, row.index_change, row.angle_change] for row in rows]
    write_anew(list_path(where), json.dumps({"gear": gear, "rows": cells}) + "\n")


def _row(at: int, cells: object) -> Row:
    # a row that does not fit its gear is the fit's to complain of: another gear may be stated later
    index, angle, index_change, angle_change = map(_number, cells)  # type: ignore[call-overload]
    return make_row(at, index, angle, index_change, angle_change, _MOST_TEETH)


def _number(cell: object) -> float | None:
    if cell is None or (isinstance(cell, int | float) and not isinstance(cell, bool)):
        return cell
    raise ValueError("a number")
