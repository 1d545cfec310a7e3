"""Every name and plain word that the knowledge gives, as sequences of stems, ready to be looked for in a text."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from lapwise.engine.knowledge.model import Knowledge, Telling
from lapwise.engine.knowledge.words import LISTED
from lapwise.engine.words.cues import Cues, load_cues
from lapwise.engine.words.text import Lists, Token, joined, lists_of

Name = tuple[str, str]
"""Kind and id: ("materials", "topaz"), ("conditions", "wetness=dry"), ("looks", "loupe-check=dotted")."""
KINDS = {"onset": "onset", "outcome": "outcome"}
"""What is looked for by itself, as its words tell something else too: since I swapped laps."""
LOOSE: Name = ("nothing", "loose")
TOLD = ("conditions", *KINDS.values())
SETUP = ("materials", "laps", "compounds")
_BRACKETS = re.compile(r"\(([^)]*)\)")


class Told(NamedTuple):
    """How a look is told: stems that name it, stems beside which it is not told, and its results, in order, with the
    groups of stems of which each must have one."""

    named: frozenset[str]
    never: frozenset[str]
    results: tuple[tuple[str, tuple[frozenset[str], ...]], ...]


@dataclass(slots=True)
class Lexicon:
    """Phrases as sequences of stems, to all that they may mean.

    ``setup``: stones, laps and compounds; ``trouble``: all else; ``exact``: phrases in which small words count, in the
    ring; ``same``: synonyms, to one key. ``words``: stems of ordinary words of the trade, which are never taken for a
    misspelt name. ``cues``: how much the words of a text speak for each symptom. ``looks``: how each is told in one
    sentence. ``lists``: words by what they do in a sentence. All others follow from these
    (:meth:`index`): ``loose``, the phrases that tell a trouble only where nothing else does; ``stone_words``, stems
    that begin the name of a stone.
    """

    setup: dict[tuple[str, ...], tuple[Name, ...]] = field(default_factory=dict)
    trouble: dict[tuple[str, ...], tuple[Name, ...]] = field(default_factory=dict)
    exact: dict[tuple[str, ...], tuple[Name, ...]] = field(default_factory=dict)
    by_word: dict[str, tuple[tuple[str, ...], ...]] = field(default_factory=dict)
    same: dict[tuple[str, ...], str] = field(default_factory=dict)
    words: frozenset[str] = frozenset()
    cues: Cues = field(default_factory=dict)
    looks: dict[str, Told] = field(default_factory=dict)
    lists: Lists = field(default_factory=Lists)
    setup_words: frozenset[str] = frozenset()
    trouble_words: frozenset[str] = frozenset()
    stone_words: frozenset[str] = frozenset()
    loose: frozenset[tuple[str, ...]] = frozenset()
    all_words: frozenset[str] = frozenset()
    longest: int = 1
    longest_exact: int = 1
    longest_same: int = 1

    def index(self) -> None:
        """Set what follows from the tables."""
        self.longest = max(map(len, self.setup), default=1)
        self.longest_exact = max(map(len, self.exact), default=1)
        self.longest_same = max(map(len, self.same), default=1)
        self.setup_words = frozenset(itertools.chain.from_iterable(self.setup))
        self.trouble_words = frozenset(itertools.chain.from_iterable(self.trouble))
        self.stone_words = frozenset(
            run[0] for run, names in self.setup.items() if any(n[0] == "materials" for n in names)
        )
        self.all_words = self.words | self.setup_words
        self.loose = frozenset(run for run, names in self.trouble.items() if LOOSE in names)
        index: dict[str, list[tuple[str, ...]]] = {}
        for run in self.trouble:
            index.setdefault(run[0], []).append(run)
        self.by_word = {word: tuple(runs) for word, runs in index.items()}

    def cut(self, text: Iterable[Token], dropped: str) -> list[Token]:
        """The words without those of the list ``dropped``, synonyms put together."""
        return joined(self.lists.without(text, dropped), self.same, self.longest_same)

    def key(self, phrase: str, dropped: str) -> tuple[str, ...]:
        """A phrase as it is looked for."""
        return tuple(t.key for t in self.cut(self.lists.tokens(phrase), dropped))


def lexicon(knowledge: Knowledge) -> Lexicon:
    """The lexicon of a knowledge base."""
    lists = lists_of(knowledge.word_lists)
    out = Lexicon(lists=lists)
    for word, others in knowledge.synonyms.items():
        same = lists.stem(word.replace("-", ""))
        for other in (word.replace("-", " "), *others):
            for dropped in ("articles", "filling"):
                run = tuple(t.key for t in lists.without(lists.tokens(other), dropped))
                if run:
                    out.same[run] = same
    out.index()
    setup: dict[tuple[str, ...], list[Name]] = {}
    for kind in SETUP:
        for id_, entry in getattr(knowledge, kind).items():
            bare = (_BRACKETS.sub("", entry.label),) if id_ not in ("none", "diamond") else ()
            for phrase in (*bare, *_BRACKETS.findall(entry.label if kind == "materials" else ""), *entry.also):
                _add(setup, out.key(phrase, "articles"), (kind, id_))
            if kind == "materials" and id_ != "diamond":
                _add(setup, out.key(id_.replace("-", " "), "articles"), (kind, id_))
    trouble: dict[tuple[str, ...], list[Name]] = {}
    exact: dict[tuple[str, ...], list[Name]] = {}
    for name, phrase in _troubles(knowledge):
        if "/" in phrase:
            for run in _ways(phrase, out, firm=name[0] in TOLD):
                _add(trouble, run, name)
            continue
        key = out.key(phrase, "filling")
        # a phrase that small words alone told apart from one bare word would be found wherever that word stands
        whole = out.key(phrase, "articles")
        if len(key) > 1 or len(lists.without(lists.tokens(phrase), "articles")) == 1 or len(whole) == 1:
            _add(trouble, key, name)
        else:
            _add(exact, whole, name)
    out.setup = {key: tuple(names) for key, names in setup.items() if key}
    out.trouble = {key: tuple(names) for key, names in trouble.items() if key}
    out.exact = {key: tuple(names) for key, names in exact.items() if key}
    out.words = frozenset(_ordinary(knowledge, lists))
    out.looks = {id_: _told(look.told, lists) for id_, look in knowledge.looks.items() if look.told}
    out.cues = load_cues()
    out.index()
    return out


def _add(table: dict[tuple[str, ...], list[Name]], key: tuple[str, ...], name: Name) -> None:
    names = table.setdefault(key, [])
    if key and name not in names:
        names.append(name)


def _troubles(knowledge: Knowledge) -> Iterator[tuple[Name, str]]:
    for kind in ("symptoms", "remedies", "causes", "looks"):
        for id_, entry in getattr(knowledge, kind).items():
            own = (entry.label,) if kind in ("symptoms", "causes") else ()
            for phrase in (*own, *entry.also):
                yield (kind, id_), phrase
    for id_, look in knowledge.looks.items():
        for result, phrases in look.results_also.items():
            for phrase in phrases:
                yield ("results", f"{id_}={result}"), phrase
    for key, values in knowledge.conditions.items():
        for value, phrases in values.items():
            for phrase in phrases:
                yield (
                    ("nothing", value) if key == "nothing" else (KINDS.get(key, "conditions"), f"{key}={value}"),
                    phrase,
                )


def _ways(phrase: str, lex: Lexicon, *, firm: bool) -> Iterator[tuple[str, ...]]:
    """All that a pattern stands for, as it is looked for: ``dull/matt corner/strip`` is four phrases."""
    words = [dict.fromkeys(lex.key(word, "filling") for word in either.split("/")) for either in phrase.split()]
    for chosen in itertools.product(*words):
        run = tuple(itertools.chain.from_iterable(chosen))
        lost = (firm or "not" in run) and not all(
            chosen
        )  # a small word among others: only a longer phrase does without it
        if len(run) > 1 + lost or (len(words) == 1 and run):
            yield run


def _ordinary(knowledge: Knowledge, lists: Lists) -> Iterator[str]:
    """Stems of the words that the knowledge itself uses in its sentences."""
    for kind in ("symptoms", "causes", "remedies", "looks", "laps", "compounds"):
        for entry in getattr(knowledge, kind).values():
            told = (entry.label, entry.about, *getattr(entry, "steps", ()), *getattr(entry, "also", ()))
            for text in told:
                for token in lists.tokens(text):
                    yield token.key


def _told(told: Telling, lists: Lists) -> Told:
    results = (
        (r, tuple(_group(g, lists) for g in p.split())) for r, patterns in told.results.items() for p in patterns
    )
    return Told(lists.stems(told.named), lists.stems(told.never), tuple(results))


def _group(group: str, lists: Lists) -> frozenset[str]:
    """The stems of one group of a pattern, those of the word lists that it names with them."""
    named = LISTED.findall(group)
    words = LISTED.sub("", group).split("/")
    return lists.stems(filter(None, words)).union(*(lists[name] for name in named))
