"""What a list to choose from holds, and how it is found by what one types."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.wording import small


@dataclass(frozen=True, slots=True)
class Entry:
    """``about``: a few words behind the label. ``group``: a heading above the first of its kind."""

    id: str
    label: str
    about: str = ""
    group: str = ""
    words: str = ""
    """More words it is found by."""


def matching(entries: Iterable[Entry], typed: str) -> list[Entry]:
    """The entries that hold every word typed: those whose label begins with it first, the given order otherwise."""
    words = typed.lower().replace("-", " ").split()
    if not words:
        return list(entries)
    ranked: list[tuple[int, int, Entry]] = []
    for at, entry in enumerate(entries):
        label = entry.label.lower().replace("-", " ")
        text = f"{label} {entry.id.replace('-', ' ')} {entry.words.lower()} {entry.about.lower()}"
        if all(word in text for word in words):
            begins = label.startswith(" ".join(words))
            starts = all(any(part.startswith(word) for part in label.split()) for word in words)
            inside = all(word in label for word in words)
            ranked.append((0 if begins else 1 if starts else 2 if inside else 3, at, entry))
    return [entry for _, _, entry in sorted(ranked, key=lambda r: r[:2])]


def material_entries(knowledge: Knowledge) -> list[Entry]:
    """All materials to choose from: by name, with the group each belongs to."""
    known = knowledge.materials
    out = []
    for material in sorted(known.values(), key=lambda m: m.label.lower()):
        above = material.line[-1] if len(material.line) > 1 else ""
        about = small(known[above].label) if above in known and above != material.id else material.rank
        out.append(Entry(material.id, material.label, about, words=" ".join((*material.also, *material.line))))
    return out
