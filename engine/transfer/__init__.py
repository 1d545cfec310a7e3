"""Transfer: from corrections found on a few facets to how the stone sits on its dop."""

from lapwise.engine.transfer.fit import Fit, StandardErrors, fit
from lapwise.engine.transfer.pattern import pattern
from lapwise.engine.transfer.rows import Row, Table, make_row, parse_table, read_table, table_of, write_table
from lapwise.engine.transfer.slips import Suspect

__all__ = [
    "Fit",
    "Row",
    "StandardErrors",
    "Suspect",
    "Table",
    "fit",
    "make_row",
    "parse_table",
    "pattern",
    "read_table",
    "table_of",
    "write_table",
]
