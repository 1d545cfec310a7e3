"""One test for many things of the knowledge: what is wrong with any of them is told of all, by name."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from typing import TypeVar

T = TypeVar("T")


def each(things: Iterable[T], called: Callable[[T], str] = str) -> Callable[[Callable[[T], None]], Callable[[], None]]:
    """Makes a check of one thing a test of all ``things``. ``called``: the name of one, for what fails."""

    def test_of(check: Callable[[T], None]) -> Callable[[], None]:
        def test() -> None:
            wrong, count = [], 0
            for thing in things:
                count += 1
                try:
                    check(thing)
                except Exception as error:
                    wrong.append(f"{called(thing)}: {type(error).__name__}: {error}")
            assert count, "there is something to check"
            assert not wrong, f"{len(wrong)} of {count}:\n" + "\n".join(wrong)

        for name in ("__module__", "__name__", "__qualname__", "__doc__"):
            setattr(test, name, getattr(check, name))
        return test

    return test_of


by_id = partial(each, called=lambda thing: str(thing.id))
"""As :func:`each`, for things that have an id."""
