"""What a look showed, told in words that name the look and, in the same breath, what was seen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from lapwise.engine.words.lexicon import Lexicon
from lapwise.engine.words.text import STRONG, Lists, Token

_NEAR, _CLOSE = 9, 3
"""Words between those that tell one result together."""


@dataclass(frozen=True, slots=True)
class Seen:
    """``start`` and ``end``: the words of it in the text."""

    look: str
    result: str
    start: int
    end: int


def seen(raw: Sequence[Token], taken: Iterable[tuple[int, int]], lex: Lexicon) -> Iterator[Seen]:
    """What looks showed. ``taken``: first and last letter of what tells something else."""
    spent = list(taken)
    before: list[Token] = []
    for here in _sentences(raw):
        free = [t for t in here if not any(start <= t.start < end for start, end in spent)]
        for look, (cues, never, results) in lex.looks.items():
            named = [t for n, t in enumerate(free) if t.key in cues and not _spared(free[max(0, n - 2) : n], lex.lists)]
            named += [t for t in before if t.key in cues and look == "ink-facet"] if not named else []
            if not named or any(t.key in never for t in here):
                continue
            for result, groups in results:
                found = _together(free, groups, named, lex.lists, _CLOSE if result == "clean" else _NEAR)
                if found:
                    at = [*named[:1], *found]
                    yield Seen(look, result, min(t.start for t in at), max(t.end for t in at))
                    break
        before = free


def _spared(before: Iterable[Token], lists: Lists) -> bool:
    """Whether the look is told not to have been needed: without a loupe."""
    return any(t.key == "not" or t.word in lists["without"] for t in before)


def _together(
    free: Sequence[Token], groups: Sequence[frozenset[str]], named: Sequence[Token], lists: Lists, reach: int
) -> list[Token]:
    """A word of each group, all within ``reach`` words of that of the first; empty if there are none."""
    for at, first in enumerate(free):
        if first.key not in groups[0] or first in named or first.word in lists["without"]:
            continue
        near = free[max(0, at - reach) : at + reach + 1]
        around = [t for t in near if t not in named and t is not first and t.word not in lists["without"]]
        found = [next((t for t in around if t.key in group), None) for group in groups[1:]]
        if all(found):
            return [first, *(t for t in found if t is not None)]
    return []


def _sentences(raw: Sequence[Token]) -> Iterator[list[Token]]:
    out: list[Token] = []
    for token in raw:
        if token.gap == STRONG and out:
            yield out
            out = []
        out.append(token)
    if out:
        yield out
