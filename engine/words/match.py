"""Phrases of troubles, facts and remedies found in a text: in any order within a few words of one clause."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from lapwise.engine.words.lexicon import Lexicon, Name
from lapwise.engine.words.text import COMMA, STRONG, WEAK, Lists, Token

LOOSE = 1
"""Words that may stand between those of a phrase, one more for a phrase of more than three."""
LONG = 3
"""Words of a phrase that may run over a comma."""
_DONE = frozenset(("remedies",))
_REACH = 3
"""Words that a denial reaches ahead."""


@dataclass(frozen=True, slots=True)
class Match:
    """A phrase found. ``at``: the places of its words; ``words``: their stems. ``denied``: it is told not to be so."""

    names: tuple[Name, ...]
    at: tuple[int, ...]
    words: tuple[str, ...]
    start: int
    end: int
    denied: bool
    sure: bool


def matches(words: Sequence[Token], lex: Lexicon, kinds: Iterable[str], yielding: Collection[str] = ()) -> list[Match]:
    """What is found of some kinds, the fullest phrases first; none that adds no word to a fuller one.

    ``yielding``: ids that give way where a phrase just as full tells another.
    """
    wanted, gives_way = frozenset(kinds), frozenset(yielding)
    places: dict[str, list[int]] = {}
    for number, token in enumerate(words):
        places.setdefault(token.key, []).append(number)
    found: list[tuple[tuple[int, int, bool, int], tuple[int, ...], tuple[Name, ...]]] = []
    for word in places:
        for run in lex.by_word.get(word, ()):
            if not all(map(places.__contains__, run)):
                continue
            names = tuple(n for n in lex.trouble[run] if n[0] in wanted)
            if not names:
                continue
            for at in _placed(run, words, places, lex.lists):
                spread = max(at) - min(at) + 1 - len(at)
                found.append(((-len(at), spread, {i for _, i in names} <= gives_way, min(at)), at, names))
    out: list[Match] = []
    used: set[int] = set()
    for _, at, names in sorted(found, key=lambda f: f[0]):
        if set(at) <= used:
            same = next((i for i, m in enumerate(out) if set(m.at) == set(at)), None)
            if same is not None and out[same].names != names and len(out[same].at) == len(at):
                both = tuple(dict.fromkeys((*out[same].names, *names)))
                out[same] = replace(out[same], names=both)
            continue
        if set(at) & used and not any(words[i].gap for i in range(min(at) + 1, max(at) + 1)):
            continue  # the same words told something fuller; an "and" between lets one noun serve twice
        used |= set(at)
        first, last = min(at), max(at)
        sure = not any(words[i].word.startswith("~") for i in at)
        keys = tuple(words[i].key for i in sorted(at))
        denied = _denied(words, at, lex.lists, gone=wanted != _DONE)
        out.append(Match(names, at, keys, words[first].start, words[last].end, denied, sure))
    return sorted(out, key=lambda m: m.start)


def exact_matches(words: Sequence[Token], lex: Lexicon, kinds: Iterable[str], within: Sequence[Token]) -> list[Match]:
    """What is found of the phrases in which small words count, the longest first at each place.

    ``within``: the words that ``at`` of a match counts, those that :func:`matches` looks in.
    """
    wanted = frozenset(kinds)
    out: list[Match] = []
    at = 0
    while at < len(words):
        for size in range(min(lex.longest_exact, len(words) - at), 1, -1):
            run = tuple(t.key for t in words[at : at + size])
            names = tuple(n for n in lex.exact.get(run, ()) if n[0] in wanted)
            if names and not any(t.gap > WEAK for t in words[at + 1 : at + size]):
                denied = _denied(words, tuple(range(at, at + size)), lex.lists, gone=wanted != _DONE)
                start, end = words[at].start, words[at + size - 1].end
                inside = tuple(i for i, t in enumerate(within) if start <= t.start < end)
                out.append(Match(names, inside, run, start, end, denied, sure=True))
                at += size - 1
                break
        at += 1
    return out


def _placed(
    run: tuple[str, ...], words: Sequence[Token], places: dict[str, list[int]], lists: Lists
) -> Iterable[tuple[int, ...]]:
    """The tightest place of a phrase round each place of its first word."""
    room = len(run) + (0 if len(run) == 1 else LOOSE + (len(run) > LONG))
    for first in places[run[0]]:
        at = [first]
        for key in run[1:]:
            free = [p for p in places[key] if p not in at and abs(p - first) < room]
            if not free:
                break
            after = [p for p in free if p > at[-1]]
            at.append(min(after) if after else max(free))
        else:
            low, high = min(at), max(at)
            gaps = [words[i].gap for i in range(low + 1, high + 1)]
            turned = at != sorted(at)
            if high - low >= room or STRONG in gaps or (turned and any(gaps)):
                continue
            if COMMA in gaps and (len(run) < LONG or high - low >= len(run) + (len(run) > LONG)):
                continue
            if turned and (lists["in-order"] & set(run) or (high - low >= len(run))):
                continue
            yield tuple(at)


def _denied(words: Sequence[Token], at: tuple[int, ...], lists: Lists, *, gone: bool) -> bool:
    """Whether a phrase is told not to be so; ``gone``: that it is gone tells so too, which of a try tells its end."""
    first, last = min(at), max(at)
    if any(words[i].key == "not" for i in range(first, last) if i not in at):
        return True
    here = first
    while here > 0 and first - here < _REACH:
        if words[here].gap == STRONG or (words[here].gap and words[here].word not in ("or", "nor")):
            break
        here -= 1
        if words[here].key in lists["cures"]:
            break
        if words[here].key == "not":
            return here not in at
    then = words[last + 1 : last + 3]
    if any(w.key == "not" for w in (*then, *(words[i] for i in at))):
        return False  # better, but not gone
    return gone and (
        any(w.key in lists["gone"] and not w.gap for w in then) or [w.word for w in then] == ["went", "away"]
    )


def shares(one: Match, other: Match) -> bool:
    """Whether two phrases stand over the same words."""
    return bool(set(one.at) & set(other.at))
