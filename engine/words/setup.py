"""Stone, lap and compound in a text: where each is named, and whether it is on the machine now or was before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words.lexicon import Lexicon, Name
from lapwise.engine.words.numbers import diamond_grades, number_at
from lapwise.engine.words.spelling import respelt
from lapwise.engine.words.text import ARTICLES, STRONG, WEAK, Token, listed, stem

Role = Literal["now", "prior", "other"]
UNGRADED = "diamond-unknown"
_STEP = stem("prepolish")
_BEFORE = frozenset(
    ("after", "from", "following", "off", "prior", "previous", "previously", "earlier", "last", "before")
)
"""What follows one of these was the step before, as far as only names and small words stand between."""
_BETWEEN = frozenset(
    map(
        stem,
        listed(
            "step lap finish grit with on to was is at in of just come straight cut prepolish stage mesh and "
            "charge polish by went jump diamond use did and had"
        ),
    )
)
_NOW = frozenset(("now", "then", "currently", "to"))
_PAST_STEP = frozenset(("prepolished", "precut"))
_ELSEWHERE = frozenset(
    map(
        stem,
        listed(
            "fine well good great perfectly beautifully works worked same other another usually normally "
            "unlike whereas instead tried try trying previously yesterday"
        ),
    )
)
_WELL = frozenset(map(stem, listed("fine well great perfectly beautifully perfect okay ok")))
_REMOVES = frozenset(map(stem, listed("not instead rather")))


@dataclass(frozen=True, slots=True)
class Mention:
    """``names``: all it may mean. ``at``: its first and last word among the words cut for set-ups."""

    names: tuple[Name, ...]
    at: tuple[int, int]
    start: int
    end: int
    sure: bool = True
    role: Role = "now"
    stepwise: bool = False
    """It was called a pre-polish, in words that fit a pre-polish going on as well."""
    after: bool = False
    """"After" led to it: the step before, or the very polish after which the trouble is seen."""


def mentions(text: Sequence[Token], lex: Lexicon, knowledge: Knowledge) -> tuple[list[Token], list[Mention]]:
    """The words as cut for set-ups, and every stone, lap and compound named in them, in order, with its role."""
    words = respelt(lex.cut(text, ARTICLES), lex.setup_words, lex.words)
    out: list[Mention] = []
    at = 0
    while at < len(words):
        found = _at(words, at, lex, knowledge)
        if found is None:
            at += 1
            continue
        out.append(found)
        at = found.at[1] + 1
    return words, [_with_role(m, words, out) for m in _graded(out)]


def _at(words: Sequence[Token], at: int, lex: Lexicon, knowledge: Knowledge) -> Mention | None:
    for size in range(min(lex.longest, len(words) - at), 0, -1):
        run = words[at : at + size]
        if any(t.gap == STRONG for t in run[1:]):
            continue
        names = lex.setup.get(tuple(t.key for t in run))
        if names:
            sure = all(isinstance(t, Token) and t.word != "" for t in run) and not any(_bent(t) for t in run)
            return Mention(names, (at, at + size - 1), run[0].start, run[-1].end, sure)
    number = number_at(words, at)
    if number is None:
        return None
    around = {w.key for w in words[max(0, at - 2) : at + number.size + 2]}
    if {"carbid", "sic"} & around:
        return None
    ids = diamond_grades(knowledge, number)
    end = at + number.size - 1
    return Mention(tuple(("compounds", i) for i in ids), (at, end), words[at].start, words[end].end) if ids else None


def _bent(token: Token) -> bool:
    return token.word.startswith("~")


def _graded(found: list[Mention]) -> list[Mention]:
    """Without the bare word diamond where a grade stands beside it."""
    graded = [m for m in found if any(i.startswith("diamond-") and i != UNGRADED for _, i in m.names)]
    return [
        m
        for m in found
        if ("compounds", UNGRADED) not in m.names
        or not any(min(abs(m.at[0] - g.at[1]), abs(g.at[0] - m.at[1])) <= 3 for g in graded)
    ]


def _with_role(mention: Mention, words: Sequence[Token], found: Sequence[Mention]) -> Mention:
    first, last = mention.at
    named = {i for m in found for i in range(m.at[0], m.at[1] + 1)}
    kind = mention.names[0][0]
    if kind == "materials":
        came_well = any(w.key in _WELL and not w.gap for w in words[last + 1 : last + 4])
        return replace(mention, role="other" if came_well or _elsewhere(words, first) else "now")
    after = list(words[last + 1 : last + 5])
    if [w.word for w in after[:2]] == ["on", "it"] and kind == "compounds":
        return replace(mention, role="other")
    if after and after[0].key == _STEP and after[0].gap == 0:
        return replace(mention, role="prior", stepwise=_led(words, first, named) in ("", "at"))
    if led := _led(words, first, named):
        return replace(mention, role="prior", after=led == "after")
    if (
        after
        and after[0].gap <= WEAK
        and (
            after[0].word in ("before", "first", "previously", "then")
            or (after[0].word in ("step", "lap") and len(after) > 1 and after[1].word in ("before", "earlier"))
        )
    ):
        return replace(mention, role="prior")
    if _prepolished(words, first):
        return replace(mention, role="prior", stepwise=not any(w.word in _PAST_STEP for w in words))
    if any(w.key in _REMOVES and w.gap < STRONG for w in words[max(0, first - 1) : first]) or _elsewhere(words, first):
        return replace(mention, role="other")
    return mention


def _led(words: Sequence[Token], first: int, named: set[int]) -> str:
    """The word such as "after" that leads up to what begins at ``first``, with nothing else between; "" if none."""
    at = first
    while at > 0 and first - at < 7:
        if words[at].gap == STRONG or (words[at].gap and words[at].word not in ("and",)):
            return ""
        at -= 1
        word = words[at]
        if word.word in _NOW:
            return ""
        if word.word in _BEFORE:
            return word.word
        if at not in named and word.key not in _BETWEEN and number_at(words, at) is None:
            return ""
    return ""


def _prepolished(words: Sequence[Token], first: int) -> bool:
    """Whether "pre-polished" (or "pre-polish was") governs what begins at ``first``."""
    at = first
    while at > 0:
        if words[at].gap == STRONG or words[at].word in ("now", "then", "polishing", "polished", "polish"):
            return False
        at -= 1
        if words[at].key == _STEP:
            return True
        if first - at > 6:
            return False
    return False


def _elsewhere(words: Sequence[Token], first: int) -> bool:
    """Whether the words before speak of another stone or another try."""
    at = first
    while at > 0 and first - at < 5:
        if words[at].gap:
            return False
        at -= 1
        if words[at].key in _ELSEWHERE:
            return True
    return False


def ids_of(found: Iterable[Mention], kind: str, role: Role = "now") -> dict[str, Mention]:
    """The clear ids of one kind in one role, each with where it was first named."""
    out: dict[str, Mention] = {}
    for mention in found:
        if mention.role == role and len(mention.names) == 1 and mention.names[0][0] == kind:
            out.setdefault(mention.names[0][1], mention)
    return out
