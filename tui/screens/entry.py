"""What a list to choose from holds, and how it is found by what one types."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.wording import small
from lapwise.engine.words.text import spelt


@dataclass(frozen=True, slots=True)
class Entry:
    """``about``: a few words behind the label. ``group``: a heading above the first of its kind."""

    id: str
    label: str
    about: str = ""
    group: str = ""
    words: str = ""
    """More words it is found by."""
    picture: str = ""
    """The drawing it is shown with, where that is not the one of its id."""


CLOSE = 78
"""Likeness in per cent from which a word counts as a slip of the hand, where nothing holds what was typed."""
SHORTEST = 4
"""Letters from which on such a slip is looked for."""


def matching(entries: Iterable[Entry], typed: str) -> list[Entry]:
    """The entries that hold every word typed: the one of that very id first, then those whose label begins with it,
    those with it anywhere in the label, in the id, in another name; the given order otherwise.

    Where none does, those with words spelt much like it.
    """
    words = spelt(typed).split()
    known = list(entries)
    if not words:
        return known
    ranked: list[tuple[int, int, Entry]] = []
    for at, entry in enumerate(known):
        label, name = spelt(entry.label), spelt(entry.id)
        text = f"{label} {_words(entry)}"
        if all(word in text for word in words):
            tiers = (
                name == " ".join(words),
                label.startswith(" ".join(words)),
                all(any(part.startswith(word) for part in label.split()) for word in words),
                all(word in label for word in words),
                all(word in name for word in words),
                True,
            )
            ranked.append((tiers.index(True), at, entry))
    found = [entry for _, _, entry in sorted(ranked, key=lambda r: r[:2])]
    return found or _alike(known, words)


def _words(entry: Entry) -> str:
    return spelt(f"{entry.id} {entry.words} {entry.about}")


def _alike(entries: Iterable[Entry], words: list[str]) -> list[Entry]:
    if any(len(word) < SHORTEST for word in words):
        return []
    from rapidfuzz import fuzz, process

    ranked: list[tuple[float, int, Entry]] = []
    for at, entry in enumerate(entries):
        parts = set(f"{spelt(entry.label)} {spelt(entry.words)}".split())
        near = [process.extractOne(word, parts, scorer=fuzz.ratio, score_cutoff=CLOSE) for word in words]
        likeness = [one[1] for one in near if one is not None]
        if parts and len(likeness) == len(words):
            ranked.append((-min(likeness), at, entry))
    return [entry for _, _, entry in sorted(ranked, key=lambda r: r[:2])]


def entry_of(item: Any, group: str = "", about: str | None = None, label: str | None = None) -> Entry:
    """A lap, compound, symptom, remedy or look to choose, found by its other names as well."""
    shown = item.about if about is None else about
    return Entry(item.id, label or item.label, shown, group, " ".join(getattr(item, "also", ())))


def material_entries(knowledge: Knowledge) -> list[Entry]:
    """All materials to choose from: by name, with the group each belongs to."""
    known = knowledge.materials
    out = []
    for material in sorted(known.values(), key=lambda m: m.label.lower()):
        above = material.line[-1] if len(material.line) > 1 else ""
        about = small(known[above].label) if above in known and above != material.id else material.rank
        out.append(Entry(material.id, material.label, about, words=" ".join((*material.also, *material.line))))
    return out
