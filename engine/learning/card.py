"""The recipe card of a material: what was tried, what worked, laps and compounds in order."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from lapwise.engine.errors import BadInput
from lapwise.engine.flat import flat, rounded
from lapwise.engine.knowledge.model import Knowledge, Material
from lapwise.engine.learning.model import WhatWorks, Works
from lapwise.engine.learning.works import how_often, percent_range, what_works, works_label
from lapwise.engine.record.store import Record
from lapwise.engine.wording import counted, minutes_words

NOTES = 5


def about_minutes(value: float) -> str:
    """``about 6 min``, ``under 1 min``."""
    words = minutes_words(value)
    return words if words.startswith("under") else f"about {words}"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a card: what, how often it worked of how many trials, the interval; minutes where logged."""

    what: str
    worked: int
    trials: int
    low: float
    high: float
    minutes: float | None = None

    @property
    def words(self) -> str:
        """``worked 3 of 4 times (34 to 95 %), about 6 min``."""
        time = f", {about_minutes(self.minutes)}" if self.minutes else ""
        return how_often(self.worked, self.trials, self.low, self.high) + time


@dataclass(frozen=True, slots=True)
class Card:
    """``pairs`` and ``remedies`` best first; ``untried``: pairs the shipped knowledge names that were never logged."""

    material: str
    label: str
    cases: int
    pairs: tuple[Line, ...]
    remedies: tuple[Line, ...]
    untried: tuple[str, ...]
    notes: tuple[str, ...]
    by_month: tuple[tuple[str, int, float], ...]

    def as_json(self) -> dict[str, Any]:
        """Flat JSON."""
        lines = {
            name: [rounded(flat(line), low=4, high=4) for line in getattr(self, name)] for name in ("pairs", "remedies")
        }
        return {**flat(self, "by_month"), **lines}


def card(record: Record, knowledge: Knowledge, material: str) -> Card:
    """The card of a material and all that belongs to it. Raises :class:`BadInput` for one that is not known."""
    known = knowledge.materials.get(material)
    if known is None:
        raise BadInput.unknown("no such material", material, knowledge.materials, "--material")
    found = what_works(record, knowledge, material)
    return Card(
        material,
        known.label,
        found.cases,
        _lines(found.pairs, knowledge),
        _lines(found.remedies, knowledge),
        _untried(known, found, knowledge),
        _notes(record, found),
        found.by_month,
    )


def _untried(known: Material, found: WhatWorks, knowledge: Knowledge) -> tuple[str, ...]:
    """The pairs that are known to suit it and were never logged, in the order of preference, a line for each kind."""
    tried = {w.name for w in found.pairs}
    lines = []
    for pair in known.polishes_with:
        if pair.stage != "polish":
            continue
        open_laps = [x for x in pair.laps if any(f"{x}|{c}" not in tried for c in pair.compounds)]
        open_compounds = [c for c in pair.compounds if any(f"{x}|{c}" not in tried for x in open_laps)]
        if open_laps and open_compounds:
            laps, compounds = (", ".join(map(knowledge.label, some)) for some in (open_laps, open_compounds))
            lines.append(f"{laps} with {compounds}")
    return tuple(dict.fromkeys(lines))


def _lines(items: Iterable[Works], knowledge: Knowledge) -> tuple[Line, ...]:
    return tuple(
        Line(works_label(w.name, knowledge), w.worked, w.trials, w.estimate.low, w.estimate.high, w.minutes)
        for w in items
    )


def _notes(record: Record, found: WhatWorks) -> tuple[str, ...]:
    if not found.cases or found.material is None:
        return ()
    notes = [
        step.note
        for case in record.cases(found.material, limit=20)
        for step in case.steps
        if step.note and not step.withdrawn
    ]
    return tuple(notes[:NOTES])


_MARKUP = re.compile(r"([\\`*_\[\]<>#|~&]|^[-+=])")


def plain(text: str) -> str:
    """Text that Markdown and HTML leave as it is, on one line."""
    return _MARKUP.sub(r"\\\1", " ".join(text.split())).replace("\\<", "&lt;").replace("\\>", "&gt;")


def markdown(found: Card) -> str:
    """The card as Markdown. What a person wrote is escaped: it cannot become markup."""
    lines = [f"# {plain(found.label)}", "", f"From {counted(found.cases, 'logged case')}.", ""]
    for title, items in (("Laps and compounds, best first", found.pairs), ("What cured troubles", found.remedies)):
        lines += [f"## {title}", ""]
        if items:
            lines += ["| What | Worked | Of | Likely | Time |", "|---|---|---|---|---|"]
            lines += [
                f"| {plain(i.what)} | {i.worked} | {i.trials} | {percent_range(i.low, i.high)} | "
                f"{minutes_words(i.minutes) if i.minutes else ''} |"
                for i in items
            ]
        else:
            lines.append("Nothing logged yet.")
        lines.append("")
    if found.untried:
        lines += ["## Known to suit it, not tried here yet", "", *(f"- {plain(u)}" for u in found.untried), ""]
    if found.notes:
        lines += ["## Notes", "", *(f"- {plain(n)}" for n in found.notes), ""]
    lines.append("“Likely” is the range the true share lies in with 90 % probability, from these trials alone.")
    return "\n".join(lines) + "\n"


def text(found: Card) -> str:
    """The card as plain text for a terminal or a printer, one line for each fact."""
    lines = [found.label.upper(), f"From {counted(found.cases, 'logged case')}.", ""]
    for title, items in (("Laps and compounds, best first", found.pairs), ("What cured troubles", found.remedies)):
        lines.append(title)
        lines += [f"  {i.what}: {i.words}" for i in items] or ["  Nothing logged yet."]
        lines.append("")
    if found.untried:
        lines += ["Known to suit it, not tried here yet", *(f"  {u}" for u in found.untried), ""]
    if found.notes:
        lines += ["Notes", *(f"  {' '.join(n.split())}" for n in found.notes), ""]
    lines.append("The range holds the true share with 90 % probability, from these trials alone.")
    return "\n".join(lines) + "\n"
