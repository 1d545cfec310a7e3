"""An entry of the reference in words: labels for ids, numbers for sources. Pure: no widget is touched here."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from textual.content import Content

from lapwise.engine.wording import capital, plain_id, small
from lapwise.tui.present.table import Table, chance_table
from lapwise.tui.present.words import learned_from
from lapwise.tui.screens.sheet import Line, heading, para, point

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge
    from lapwise.engine.knowledge.show import Shown
    from lapwise.engine.learning.model import Chance

KINDS: Mapping[str, tuple[str, str]] = {
    "materials": ("stone", "stones"),
    "symptoms": ("trouble", "troubles"),
    "causes": ("cause", "causes"),
    "remedies": ("remedy", "remedies"),
    "looks": ("look", "looks"),
    "laps": ("lap", "laps"),
    "compounds": ("compound", "compounds"),
    "cautions": ("caution", "cautions"),
    "rules": ("rule", "rules"),
    "conditions": ("question", "questions"),
    "sources": ("source", "sources"),
    "findings": ("finding", "findings"),
    "traits": ("trait", "traits"),
    "lap_traits": ("lap trait", "lap traits"),
}
"""Kinds of entries in the order they are listed: what one of them is called, and what many."""
_LABELLED = ("materials", "symptoms", "causes", "remedies", "looks", "laps", "compounds", "cautions", "findings")
_PAIRS = ("polishes with, best first", "avoid")
_RANGES = ("usual speed (rpm)",)
_ID = re.compile(r"(?<![\w@-])[a-z0-9]+(?:[-_][a-z0-9]+)*(?![\w-])")
_CITED = re.compile(r" \(([\w-]+)(, from memory)?\)$")
_STRONG = re.compile(r"([a-z0-9-]+) ([a-z]+)(?=,|$)")
_UNWRITTEN = {"practice": "common practice", "memory": "from memory"}


class Words:
    """The words for the ids of one knowledge."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.sources = knowledge.sources
        self.learned_from = learned_from(knowledge)
        self._traits = {False: knowledge.traits, True: knowledge.lap_traits}
        self._labels: dict[str, str] = {}
        for kind in _LABELLED:
            for name, entry in getattr(knowledge, kind).items():
                self._labels[name] = small(entry if isinstance(entry, str) else entry.label)

    def label(self, name: str) -> str:
        """What an id is called in a sentence; the id as words if it has no name."""
        return self._labels.get(name, plain_id(name))

    def labels_in(self, text: str) -> str:
        """A text that is made of ids, with what they are called; single words are left as they are."""
        return _ID.sub(lambda m: self.label(m[0]) if "-" in m[0] or "_" in m[0] else m[0], text)

    def listed(self, text: str) -> str | None:
        """A list of ids as labels, or None if the text is something else."""
        names = text.split(", ")
        if all(name in self._labels for name in names):
            return ", ".join(map(self.label, names))
        return None

    def strengths_in(self, text: str) -> str:
        """A text of ids, each followed by how strongly, with what they are called."""
        told = _STRONG.sub(lambda m: f"{self.label(m[1])} ({m[2]})" if m[1] in self._labels else m[0], text)
        return self.labels_in(told)

    def meanings(self, text: str, *, lap: bool) -> tuple[str, ...]:
        """What each trait of a list means: traits of a lap, or of a stone."""
        return tuple(self._traits[lap].get(name, plain_id(name)) for name in text.split(", "))


class Citations:
    """Numbers the works as they are first cited."""

    def __init__(self, words: Words) -> None:
        self._words = words
        self.numbers: dict[str, int] = {}

    def mark(self, source: str, more: str = "") -> str:
        """``[3]`` for a work, words in brackets for what has none."""
        if source in self._words.sources:
            return f"[{self.numbers.setdefault(source, len(self.numbers) + 1)}{more}]"
        return f"({_UNWRITTEN.get(source, plain_id(source))})"

    def cited(self, text: str) -> str:
        """The text with its source, if it ends in one, as a number."""
        found = _CITED.search(text)
        if found is None or (found[1] not in self._words.sources and found[1] not in _UNWRITTEN):
            return text
        return f"{text[: found.start()]} {self.mark(found[1], found[2] or '')}"


def entry_lines(
    shown: Shown, record: Sequence[str], words: Words, drawn: str = "", chances: Sequence[tuple[str, Chance]] = ()
) -> list[Line]:
    """All that is known of an entry, with the person's own record, the rules that speak of it and the works cited.

    ``drawn``: what must be said of its drawing. ``chances``: shipped, found and logged.
    """
    origin = "your own" if shown.place and shown.place.own else "shipped"
    kind = KINDS[shown.kind][0] if shown.kind in KINDS else plain_id(shown.kind)
    cites = Citations(words)
    lines: list[Line] = [
        heading(capital(plain_id(shown.label) if shown.label == shown.id else shown.label)),
        para(f"{kind}, {origin}; in the shell: {shown.id}", style="italic"),
        *([para(f"Its drawing: {small(drawn)}")] if drawn else []),
    ]
    for title, texts in shown.lines:
        if title == "traits":
            meanings = (m for text in texts for m in words.meanings(text, lap=shown.kind == "laps"))
            lines += [heading("Traits"), *(point(m) for m in meanings)]
        else:
            lines += _titled(title, texts, words, cites)
    if record or chances:
        lines += [Content(""), heading(words.learned_from), *(point(text) for text in record)]
    if chances:
        lines.append(_chances(chances))
    if shown.rules:
        lines += [Content(""), heading(f"Rules that speak of it ({len(shown.rules)})")]
        lines += [point(f"{rule.because} {cites.mark(rule.source)}") for rule in shown.rules[:40]]
    for source in shown.sources:
        cites.mark(source.id)
    if cites.numbers:
        lines += [Content(""), heading("Sources")]
        for name, number in cites.numbers.items():
            source = words.sources[name]
            status = "from memory, not opened" if source.status == "memory" else source.status
            lines.append(point(f"{source.cite} ({status}) {source.address}".rstrip(), f"{number}."))
    return lines


def _chances(chances: Sequence[tuple[str, Chance]]) -> Table:
    """Shipped, guild and yours in columns, without a guild that says nothing; all together before the label."""
    table = chance_table(chances)
    rows = [(f"Together {together}: {small(label)}", *each) for label, *each, together in table.rows]
    kept = [i for i in range(1, 4) if i != 2 or any(row[i] != "-" for row in rows)]
    return Table(tuple(table.head[i - 1] for i in kept), tuple((row[0], *(row[i] for i in kept)) for row in rows))


def _titled(title: str, texts: Sequence[str], words: Words, cites: Citations) -> list[Line]:
    if title == "source":
        return [para(f"Source: {cites.mark(text).strip('()')}") for text in texts]
    told = [cites.cited(_told(title, text, words)) for text in texts]
    if title == "steps":
        return [heading("Steps"), *(point(text, f"{at}.") for at, text in enumerate(told, 1))]
    if len(told) == 1:
        return [para(f"{capital(title)}: {told[0]}")]
    return [heading(capital(title)), *(point(text) for text in told)]


def _told(title: str, text: str, words: Words) -> str:
    """One line of an entry, with words for the ids in it; what was written as prose stays as it is."""
    head, colon, tail = text.partition(": ")
    if title in _PAIRS:
        return words.labels_in(head) + colon + tail
    if title == "when":
        return words.labels_in(text)
    if title == "then":
        return words.strengths_in(text)
    if title in _RANGES:
        return text.replace(", ", " to ")
    if (names := words.listed(text)) is not None:
        return names
    if colon and _ID.fullmatch(head):
        tail = words.labels_in(tail) if title in ("shown by", "not to confuse") else tail
        return f"{words.label(head)}: {tail}"
    return text
