"""The facets of the transfer as they stand, and the way back to how they stood before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lapwise.engine.transfer import Row
    from lapwise.engine.transfer.kept import Kept


class TransferList:
    """``rows``, numbered from 1, and the ``gear`` they are counted in; None where it was not stated."""

    def __init__(self, kept: Kept = ((), None)) -> None:
        self.rows: tuple[Row, ...]
        self.rows, self.gear = kept
        self.own = bool(self.rows)
        """True once it is the person's own: what the case knows of does not take its place any more."""
        self._before: list[Kept] = []

    @property
    def kept(self) -> Kept:
        """The list as it goes to the disk."""
        return self.rows, self.gear

    def put(self, rows: Sequence[Row], gear: int | None) -> None:
        """Another list in the place of this one, which :meth:`undo` brings back."""
        self._before.append(self.kept)
        self.own = True
        self.show(rows, gear)

    def show(self, rows: Sequence[Row], gear: int | None) -> None:
        """Another list, for as long as nobody made it an own one."""
        self.rows, self.gear = tuple(replace(row, number=at) for at, row in enumerate(rows, 1)), gear

    def undo(self) -> bool:
        """The list as it was before the last change; False if there was none."""
        if not self._before:
            return False
        self.rows, self.gear = self._before.pop()
        return True
