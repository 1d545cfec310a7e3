"""A text cut into words: where each stands, its stem, and what parts it from the word before."""

from __future__ import annotations

import functools
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from lapwise.engine.knowledge.model import WordList

_TOKEN = re.compile(
    r"\d{1,3}(?: 000)+(?!\d)|(?:\d[\d,]*\d|\d)(?:\.\d+)?k?(?![a-z\d])|\.\d+|\d+|[a-z]+(?:['’][a-z]+)*|[.;:!?,()/#]",
    re.ASCII,
)
_PARTICLES = frozenset(("up", "down"))
_PARTICLE_REACH = 3
_DRAWN = re.compile(r"([a-z])\1{2,}")
"""A letter drawn out: sooo slow."""
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3})")
_AMERICAN = (("aluminum", "aluminium"), ("gray", "grey"), ("colour", "color"), ("centre", "center"), ("mould", "mold"))
STRONG, COMMA, WEAK = 3, 2, 1
_BREAKS = {".": STRONG, ";": STRONG, "!": STRONG, "?": STRONG, ",": COMMA, "(": COMMA, ")": COMMA, ":": COMMA}


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


@dataclass(slots=True)
class Lists:
    """The word lists of the knowledge by name, and the cutting of a text by them. ``means``: lists whose words stand
    for something, to what each stands for."""

    sets: dict[str, frozenset[str]] = field(default_factory=dict)
    means: dict[str, dict[str, str]] = field(default_factory=dict)
    stem: Callable[[str], str] = field(init=False, repr=False, compare=False)
    """The stem of a word in small letters, in one spelling on both sides of the ocean; "not" if it denies."""

    def __post_init__(self) -> None:
        self.stem = functools.lru_cache(maxsize=20_000)(self._stem)

    def __getitem__(self, name: str) -> frozenset[str]:
        return self.sets[name]

    def _stem(self, word: str) -> str:
        if word in self["negations"] or word.endswith("n't"):
            return "not"
        if word[0].isdigit() or word[0] == ".":
            return (
                ("0" * word.startswith("."))
                + word.replace(",", "").replace(" ", "").removesuffix("k")
                + ("000" if word.endswith("k") and "." not in word else "")
            )
        if word in self["own-stem"]:
            return word
        for american, ours in _AMERICAN:
            word = word.replace(american, ours)
        return str(_stemmer().stemWord(word.removesuffix("'s").replace("'", "")))

    def stems(self, words: Iterable[str]) -> frozenset[str]:
        """The stems of words, for looking up."""
        return frozenset(self.stem(word.lower()) for word in words)

    def tokens(self, text: str) -> list[Token]:
        """The words of a text in order; signs between them are told as the break before the word that follows."""
        short, weak_breaks, articles = self.means["short"], self["weak-breaks"], self["articles"]
        out: list[Token] = []
        gap = 0
        for match in _TOKEN.finditer(plain(text)):
            word = match[0]
            if word in _BREAKS:
                gap = max(gap, _BREAKS[word])
            elif word in "/#":
                continue
            else:
                word = short.get(word) or _DRAWN.sub(r"\1", word)
                weak = WEAK if word in weak_breaks else 0
                if word in articles and out and out[-1].word == "round" and not gap:
                    # round the edge: where, and not of what shape
                    out[-1] = replace(out[-1], word="around", key="around")
                out.append(Token(word, match.start(), match.end(), self.stem(word), max(gap, weak)))
                gap = 0
        return out

    def without(self, found: Iterable[Token], dropped: str) -> list[Token]:
        """The words without those of the list ``dropped``; the break before such a one moves on to the next."""
        out: list[Token] = []
        gap, drop = 0, self[dropped]
        for token in found:
            gap = max(gap, token.gap)
            if token.word not in drop or (token.word in _PARTICLES and self._belongs(out)):
                out.append(Token(token.word, token.start, token.end, token.key, gap))
                gap = 0
        return out

    def _belongs(self, before: list[Token]) -> bool:
        return any(t.key in self["particle-verbs"] for t in before[-_PARTICLE_REACH:])


def lists_of(found: Mapping[str, WordList]) -> Lists:
    """The word lists, ready to be looked in. Those as they stand come first: stems are cut by them."""
    out = Lists()
    for name, entry in sorted(found.items(), key=lambda item: item[1].inflected):
        words = {*entry.words, *(word for other in entry.more for word in found[other].words)}
        out.sets[name] = out.stems(words) if entry.inflected else frozenset(words)
        if entry.means:
            out.means[name] = dict(entry.means)
    return out


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
