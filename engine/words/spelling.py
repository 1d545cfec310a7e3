"""Words misspelt or cut short put right, where only one known word is near and the word is no ordinary one."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from lapwise.engine.words.text import Lists, Token

SHORTEST, LONG = 5, 8
"""A word of fewer letters is never put right; from the second on two slips are allowed, else one."""
BENT = "~"
"""Stands before a word that was put right."""


def respelt(
    words: Sequence[Token],
    lists: Lists,
    known: Collection[str],
    ordinary: Collection[str],
    begun: Collection[str] = (),
) -> list[Token]:
    """The words with the key of the one known word that is near, or of the one of ``begun`` that it begins.

    Such a word begins with :data:`BENT`.
    """
    choices = [w for w in known if len(w) >= SHORTEST - 1 and w.isalpha()]
    return [_near(token, lists, choices, known, ordinary, begun) for token in words]


def _near(
    token: Token,
    lists: Lists,
    choices: list[str],
    known: Collection[str],
    ordinary: Collection[str],
    begun: Collection[str],
) -> Token:
    key = token.key
    right = key in known or key in ordinary or token.word in lists["filling"]
    if len(token.word) < SHORTEST or not key.isalpha() or right:
        return token
    if token.word.endswith("in") and ((said := lists.stem(token.word + "g")) in known or said in ordinary):
        return replace(token, key=said)  # comin, leanin
    if key in lists["everyday"]:
        return token
    short = [word for word in begun if word.startswith(token.word)] if key == lists.stem(token.word) else []
    if len(short) == 1:
        return replace(token, word=BENT + token.word, key=short[0])
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    slips = 2 if len(key) >= LONG else 1
    near = process.extract(key, choices, scorer=OSA.distance, score_cutoff=slips, limit=4)
    near = [found for found in near if found[0][0] == key[0]]
    best = [found for found in near if found[1] == near[0][1]]
    return replace(token, word=BENT + token.word, key=best[0][0]) if len(best) == 1 else token
