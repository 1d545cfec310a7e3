"""What is laid over a screen to ask: a list to choose from, blanks to fill in. Where it is left, nothing follows.

The modules of the dialogs are read on first use, so that the first picture does not wait for them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

from textual.app import App

from lapwise.engine.errors import LapwiseError
from lapwise.tui.screens.entry import DO_NOT_KNOW, Entry

if TYPE_CHECKING:
    from lapwise.tui.screens.ask import Blank

T = TypeVar("T")


def choose(app: App[Any], title: str, entries: Sequence[Entry], then: Callable[[str], object], **options: Any) -> None:
    """Ask for one of a list; ``then`` takes its id. ``options``: those of :class:`Chooser`."""
    choose_several(app, title, entries, lambda ids: then(ids[0]) if ids else None, **options)


def choose_or_leave_open(
    app: App[Any], title: str, entries: Sequence[Entry], then: Callable[[str | None], object], **options: Any
) -> None:
    """As :func:`choose`; the last line is for who does not know, and ``then`` takes None for it."""
    options.setdefault("none", DO_NOT_KNOW)
    choose_several(app, title, entries, lambda ids: then(ids[0] if ids else None), **options)


def choose_several(
    app: App[Any], title: str, entries: Sequence[Entry], then: Callable[[tuple[str, ...]], object], **options: Any
) -> None:
    """As :func:`choose`, for all the ids chosen, which may be none."""
    from lapwise.tui.screens.chooser import Chooser  # start-up time

    def chosen(ids: tuple[str, ...] | None) -> None:
        if ids is not None:
            then(ids)

    app.push_screen(Chooser(title, entries, **options), chosen)


def fill_in(
    app: App[Any],
    title: str,
    blanks: Sequence[Blank],
    read: Callable[[Mapping[str, str]], T],
    then: Callable[[T], object],
    *,
    about: str = "",
) -> None:
    """Ask to type something; ``then`` takes what ``read`` makes of it by blank id. What ``read`` raises as a
    :class:`LapwiseError` is shown at the blanks, and the person types on."""
    from lapwise.tui.screens.ask import Ask  # start-up time

    def complaint(typed: Mapping[str, str]) -> str | None:
        try:
            read(typed)
        except LapwiseError as error:
            return str(error.problems[0])
        return None

    def taken(typed: dict[str, str] | None) -> None:
        if typed is not None:
            then(read(typed))

    app.push_screen(Ask(title, blanks, about=about, check=complaint), taken)
