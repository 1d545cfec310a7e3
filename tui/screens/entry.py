"""What a list to choose from holds, and how it is found by what one types."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from lapwise.engine.slots import SLOTS
from lapwise.engine.wording import capital, small
from lapwise.engine.words.text import spelt
from lapwise.tui.present.case import value_name

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge, Look


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


DO_NOT_KNOW = "I do not know"
"""The line of a list for who does not know; it leaves open what is asked."""
CLOSE, NEAR = 78, 60
"""Likeness in per cent from which a word counts as a slip of the hand; and as the nearest, where there is no slip."""
_THOUSANDS = re.compile(r"^(\d{1,4}(?:\.\d+)?)k$")
_APART = str.maketrans("/,;.()", "      ")
SHORTEST = 3
"""Letters from which on such a slip is looked for."""
MOST_NEAR = 5
"""Nearest names that are offered."""


def matching(entries: Iterable[Entry], typed: str) -> list[Entry]:
    """The entries that hold what was typed (:func:`holding`); where none does, the nearest (:func:`alike`)."""
    known = list(entries)
    return holding(known, typed) or alike(known, typed)


def holding(entries: Iterable[Entry], typed: str) -> list[Entry]:
    """The entries that hold every word typed: the one of that very id first, then those whose label begins with it,
    those with it anywhere in the label, in the id, as whole words in another name, as part of one; the given order
    otherwise. Thousands may be typed as k: who types 60k means 60000.
    """
    words = [_THOUSANDS.sub(_in_full, word) for word in spelt(typed).split()]
    given = spelt(typed).split()
    known = list(entries)
    if not words:
        return known
    ranked: list[tuple[int, int, Entry]] = []
    for at, entry in enumerate(known):
        label, name = spelt(entry.label), spelt(entry.id)
        text = f"{label} {_words(entry)}"
        whole = f" {text.translate(_APART)} "
        if all(one in text or f" {word} " in whole for word, one in zip(words, given, strict=True)):
            tiers = (
                name == " ".join(words),
                label.startswith(" ".join(words)),
                all(any(part.startswith(word) for part in label.split()) for word in words),
                all(word in label for word in words),
                all(word in name for word in words),
                f" {' '.join(words)} " in whole,
                all(f" {word} " in whole for word in words),
                True,
            )
            ranked.append((tiers.index(True), at, entry))
    return [entry for _, _, entry in sorted(ranked, key=lambda r: r[:2])]


def _in_full(thousands: re.Match[str]) -> str:
    return f"{float(thousands[1]) * 1000:.0f}"


def _words(entry: Entry) -> str:
    return spelt(f"{entry.id} {entry.words} {entry.about}")


def alike(entries: Iterable[Entry], typed: str) -> list[Entry]:
    """The entries with words spelt much like those typed, the likest first; if there are none, a few that come near."""
    words = spelt(typed).split()
    if not words or any(len(word) < SHORTEST for word in words):
        return []
    from rapidfuzz import fuzz, process

    ranked: list[tuple[float, int, Entry]] = []
    for at, entry in enumerate(entries):
        parts = set(f"{spelt(entry.label)} {spelt(entry.words)}".split())
        near = [process.extractOne(word, parts, scorer=fuzz.ratio, score_cutoff=NEAR) for word in words]
        likeness = [one[1] for one in near if one is not None]
        if parts and len(likeness) == len(words):
            ranked.append((-min(likeness), at, entry))
    ranked.sort(key=lambda r: r[:2])
    slips = [entry for likeness, _, entry in ranked if -likeness >= CLOSE]
    return slips or [entry for _, _, entry in ranked[:MOST_NEAR]]


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


def symptom_entries(knowledge: Knowledge, lately: Sequence[str] = ()) -> list[Entry]:
    """All that can be seen or felt, by what it looks or feels like; what was seen ``lately`` stands first."""
    symptoms = knowledge.symptoms
    out = {name: entry_of(symptoms[name], "Seen lately") for name in lately if name in symptoms}
    for group in knowledge.appearances.values():
        for name in group.symptoms:
            entry = out.get(name) or entry_of(symptoms[name], group.label)
            out[name] = replace(entry, words=" ".join((entry.words, *group.also)))
    return [*out.values(), *(entry_of(s, "Anything else") for s in symptoms.values() if s.id not in out)]


def value_entries(knowledge: Knowledge, key: str) -> list[Entry]:
    """All values of a fact, of the stage or of what is on the machine, found by the plain words for them as well."""
    if key == "material":
        return material_entries(knowledge)
    slot, also = SLOTS[key], knowledge.conditions.get(key, {})
    if slot.ids_of:
        return [entry_of(item) for item in getattr(knowledge, slot.ids_of).values()]
    return [
        Entry(v, capital(value_name(knowledge, key, v)), words=" ".join(also.get(v, ())), picture=f"{key}={v}")
        for v in slot.values
    ]


def result_entries(look: Look) -> list[Entry]:
    """What a look may show, found by the plain words for it as well."""
    also = look.results_also
    return [
        Entry(r, capital(look.result_labels.get(r, r)), words=" ".join(also.get(r, ())), picture=f"{look.id}={r}")
        for r in look.results
    ]
