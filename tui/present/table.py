"""Tables of shell and screens: how they are laid out, and that of what a remedy did against a cause."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from lapwise.engine.wording import percent
from lapwise.tui.present.words import safe

if TYPE_CHECKING:
    from lapwise.engine.learning.model import Chance, Estimate

_GAP = 2
_LABEL = 24
"""The width a label gets, if it needs it, before it stands above its cells."""


@dataclass(frozen=True, slots=True)
class Table:
    """A small table. ``head`` names the columns after the first; a row is a label and a cell for each of them.

    Where a line holds label and cells, they stand on one; on narrower ones the label stands above its cells, and where
    not even these fit, each cell stands on a line of its own beside its name.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def plain(self) -> str:
        """The text as it stands, unwrapped."""
        return "\n".join("  ".join(cells) for cells in (self.head, *self.rows))

    def laid_out(self, width: int, wrap: Callable[[str, int], list[str]] = textwrap.wrap) -> tuple[str, list[str]]:
        """The line of names (empty where each name stands beside its cell) and the lines below it, for a width in
        cells. ``wrap``: breaks a label to a width."""
        from rich.cells import cell_len  # the shell does without rich: it would double its start

        (_, *head), *rows = [[safe(cell, 300) for cell in row] for row in (("", *self.head), *self.rows)]
        widths = [max(map(cell_len, column)) for column in zip(head, *(row[1:] for row in rows), strict=True)]

        def cells(row: Sequence[str]) -> str:
            return "".join(" " * _GAP + f"{cell:<{w}}" for cell, w in zip(row, widths, strict=True)).rstrip()

        first = width - sum(widths) - _GAP * len(widths)
        beside = first >= min(max(cell_len(row[0]) for row in rows), _LABEL)
        out: list[str] = []
        for label, *row in rows:
            if beside:
                *above, last = wrap(label, first) or [""]
                out += [*above, last + " " * (first - cell_len(last)) + cells(row)]
            else:
                out += wrap(label, max(8, width))
                out += [cells(row)] if first >= 0 else [f"{' ' * _GAP}{n} {c}" for n, c in zip(head, row, strict=True)]
        names = "" if first < 0 else " " * (first if beside else 0) + cells(head)
        return names, out


def chance_table(rows: Sequence[tuple[str, Chance]]) -> Table:
    """Shipped; guild and yours with the trials behind them; all together."""

    def found(estimate: Estimate | None) -> str:
        if estimate is None:
            return "-"
        return f"{percent(estimate.mean)} of {estimate.trials:.{1 if estimate.trials < 100 else 0}f}"

    return Table(
        ("shipped", "guild", "yours", "together"),
        tuple(
            (label, percent(c.shipped.mean), found(c.guild), found(c.yours), percent(c.together.mean))
            for label, c in rows
        ),
    )
