"""A text cut into words: where each stands, its stem, and what parts it from the word before."""

from __future__ import annotations

import functools
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

_TOKEN = re.compile(
    r"\d{1,3}(?: 000)+(?!\d)|(?:\d[\d,]*\d|\d)(?:\.\d+)?k?(?![a-z\d])|\.\d+|\d+|[a-z]+(?:['’][a-z]+)*|[.;:!?,()/#]",
    re.ASCII,
)


def listed(words: str) -> frozenset[str]:
    """The words of a line, for looking up."""
    return frozenset(words.split())


ARTICLES = listed("a an the my our your his her this that these those its")
"""Dropped everywhere."""
FILLING = ARTICLES | listed(
    "is are was were be been being am has have had having do does did doing will would can could "
    "should may might it it's i i'm i've i'd we we've you they them he she of to in on at with for "
    "from by as and or so but then very really quite just still also some any there here when while "
    "what which who how than now get gets got getting keep keeps kept seem seems look looks looking "
    "like kind sort bit little lot even though although because if into onto over up down about "
    "after im ive its id theres theyre thats youre weve ill"
)
"""Dropped too where a trouble, a fact or a remedy is looked for, in the text as in the phrases."""
_SHORT = {
    **{"w": "with", "n": "and", "em": "them", "lil": "little", "til": "until", "tho": "though", "cuz": "because"},
    **{
        "bc": "because",
        "outta": "out",
        "kinda": "kind",
        "sorta": "sort",
        "hr": "hour",
        "hrs": "hours",
        "thru": "through",
    },
    **{"ur": "your", "u": "you", "r": "are", "ya": "you", "gonna": "going", "wanna": "want", "abit": "bit"},
}
"""Words as they are typed in haste, and in full."""
NOTS = listed(
    "no not never without cannot none nor neither hardly barely n't aint isnt arent dont doesnt "
    "didnt wont cant wasnt couldnt wouldnt haven hasnt havent werent shouldnt zero"
)
_PARTICLES = frozenset(("up", "down"))
_WITH_PARTICLE = listed("slow speed sped turn bump crank dial ease eas settl calm")
"""Stems of verbs that up or down belongs to: it is kept behind them, as "slow" alone says something else."""
_PARTICLE_REACH = 3
_DRAWN = re.compile(r"([a-z])\1{2,}")
"""A letter drawn out: sooo slow."""
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3})")
_AMERICAN = (("aluminum", "aluminium"), ("gray", "grey"), ("colour", "color"), ("centre", "center"), ("mould", "mold"))
_WHOLE = frozenset(("plated", "rounded", "crowned"))
"""Words whose stem is another word of the trade: plated is no plate, rounded no round."""
STRONG, COMMA, WEAK = 3, 2, 1
_BREAKS = {".": STRONG, ";": STRONG, "!": STRONG, "?": STRONG, ",": COMMA, "(": COMMA, ")": COMMA, ":": COMMA}
_WEAK_WORDS = frozenset(("and", "but", "or", "then", "while", "although", "though", "so", "because"))


@dataclass(frozen=True, slots=True)
class Token:
    """One word. ``key``: its stem, "not" for every word that denies. ``gap``: the break before it, 0 to STRONG."""

    word: str
    start: int
    end: int
    key: str
    gap: int = 0


def plain(text: str) -> str:
    """Small letters of the same length, without accents where a letter without one is as long."""
    if text.isascii():
        return text.lower()
    out = []
    for letter in text:
        bare = unicodedata.normalize("NFKD", letter)[:1].lower()
        out.append(bare if len(bare) == 1 else letter)
    return "".join(out).replace("’", "'").replace("μ", "u").replace("µ", "u")


def spelt(text: str) -> str:
    """A text as lists are searched: small letters, one spelling on both sides of the ocean, no commas in numbers."""
    out = plain(text)
    for american, ours in _AMERICAN:
        out = out.replace(american, ours)
    return _THOUSANDS.sub("", out.replace("-", " "))


@functools.cache
def _stemmer() -> Any:
    import snowballstemmer

    return snowballstemmer.stemmer("english")


@functools.lru_cache(maxsize=20_000)
def stem(word: str) -> str:
    """The stem of a word in small letters, in one spelling on both sides of the ocean; "not" if it denies."""
    if word in NOTS or word.endswith("n't"):
        return "not"
    if word[0].isdigit() or word[0] == ".":
        return (
            ("0" * word.startswith("."))
            + word.replace(",", "").replace(" ", "").removesuffix("k")
            + ("000" if word.endswith("k") and "." not in word else "")
        )
    if word in _WHOLE:
        return word
    for american, ours in _AMERICAN:
        word = word.replace(american, ours)
    word = word.removesuffix("'s").replace("'", "")
    return str(_stemmer().stemWord(word))


def stems(words: str) -> frozenset[str]:
    """The stems of the words of a line, for looking up."""
    return frozenset(map(stem, listed(words)))


def tokens(text: str) -> list[Token]:
    """The words of a text in order; signs between them are told as the break before the word that follows."""
    out: list[Token] = []
    gap = 0
    for match in _TOKEN.finditer(plain(text)):
        word = match[0]
        if word in _BREAKS:
            gap = max(gap, _BREAKS[word])
        elif word in "/#":
            continue
        else:
            word = _SHORT.get(word) or _DRAWN.sub(r"\1", word)
            weak = WEAK if word in _WEAK_WORDS else 0
            if word in ARTICLES and out and out[-1].word == "round" and not gap:
                out[-1] = replace(out[-1], word="around", key="around")  # round the edge: where, and not of what shape
            out.append(Token(word, match.start(), match.end(), stem(word), max(gap, weak)))
            gap = 0
    return out


def without(found: Iterable[Token], dropped: frozenset[str]) -> list[Token]:
    """The words without those of ``dropped``; the break before a dropped one moves on to the next."""
    out: list[Token] = []
    gap = 0
    for token in found:
        gap = max(gap, token.gap)
        if token.word not in dropped or (token.word in _PARTICLES and _belongs(out)):
            out.append(Token(token.word, token.start, token.end, token.key, gap))
            gap = 0
    return out


def _belongs(before: list[Token]) -> bool:
    return any(t.key in _WITH_PARTICLE for t in before[-_PARTICLE_REACH:])


def joined(found: list[Token], same: dict[tuple[str, ...], str], longest: int) -> list[Token]:
    """The words with every run that ``same`` names put together into one of that key."""
    out: list[Token] = []
    at = 0
    while at < len(found):
        for size in range(min(longest, len(found) - at), 0, -1):
            run = found[at : at + size]
            if any(t.gap == STRONG for t in run[1:]):
                continue
            key = same.get(tuple(t.key for t in run))
            if key is not None:
                out.append(Token(run[0].word, run[0].start, run[-1].end, key, run[0].gap))
                at += size
                break
        else:
            out.append(found[at])
            at += 1
    return out


def sentence(found: Iterable[Token], at: int) -> tuple[int, int]:
    """First and last letter of the sentence that a letter stands in."""
    start = end = 0
    for token in found:
        if token.gap == STRONG:
            if token.start > at:
                break
            start = token.start
        end = token.end
    return start, end
