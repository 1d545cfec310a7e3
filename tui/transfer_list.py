"""The facets of the transfer as they stand, the way back to how they stood before, and their file."""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from lapwise.engine.errors import Damaged, Issue, Overtaken
from lapwise.engine.folders import Folders

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


class ListFile:
    """The list on disk. Slow: not on the screen's thread. ``words`` is told of a list that cannot be read."""

    def __init__(self, where: Folders, words: list[str]) -> None:
        self._where, self._words = where, words
        self.known: Kept | None = None
        """The list as it was last read or written here."""

    def read(self) -> Kept:
        """The list as it was left. One that cannot be read is set aside."""
        from lapwise.engine.transfer.kept import list_path, read_list  # start-up time

        try:
            self.known = read_list(self._where)
        except Damaged as error:
            file = list_path(self._where)
            aside = file.with_name(f"{file.stem}-{time.strftime('%Y%m%d-%H%M%S')}.damaged")
            os.replace(file, aside)
            self._words.append(f"{error} It was set aside as {aside.name}.")
            self.known = ((), None)
        return self.known

    def elsewhere(self) -> Kept | None:
        """The list, if another window or command has changed it; None if it is as it was here."""
        known = self.known
        found = self.read()
        return None if found == known else found

    def keep(self, kept: Kept) -> None:
        """Put the list on disk. Raises :class:`Overtaken`, and writes nothing, if it was changed elsewhere."""
        from lapwise.engine.transfer.kept import keep_list  # start-up time

        if self.elsewhere() is not None:
            raise Overtaken(Issue("the list was changed in another window: here it is as it is there; u: yours again"))
        keep_list(self._where, *kept)
        self.known = kept
