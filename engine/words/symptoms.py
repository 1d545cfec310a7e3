"""The symptoms of a text: what phrases tell of the stone, weighed with all else that the text says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from lapwise.engine.case import STOP_SYMPTOM
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words.cues import DENIED, FIRM, OPEN, PERHAPS, Span, cues_of, likely
from lapwise.engine.words.heard import MOST_CHOICES, Notes
from lapwise.engine.words.lexicon import Lexicon
from lapwise.engine.words.match import Match, matches
from lapwise.engine.words.text import Token, sentence
from lapwise.engine.words.weigh import Weighing

MOST_TOLD = 2
"""Troubles that are taken from the words of a text together."""
SURE, BESIDE, LIKELIEST, ASKED = 0.7, 0.35, 0.08, 0.05
"""Chances of a symptom by all that a text says. From the first it is taken; from the second taken and to be confirmed,
the likeliest from the third; from the last asked about."""
_OTHER = (("conditions", "remedies"), ("nothing",), ("onset",), ("outcome",))


class Symptoms:
    """One text. ``raw``: all its words; ``words``: those that count; ``troubles``, ``doings``: the phrases of symptoms
    and remedies found; ``named``: first and last letter of every stone, lap and compound. ``said``: the cues, once
    :meth:`told` was asked."""

    def __init__(
        self,
        notes: Notes,
        raw: Sequence[Token],
        words: Sequence[Token],
        troubles: Sequence[Match],
        doings: Sequence[Match],
        named: Sequence[tuple[int, int]],
        plainly: Mapping[str, frozenset[str]],
        knowledge: Knowledge,
        lex: Lexicon,
    ) -> None:
        self.notes, self.raw, self.words, self.knowledge, self.lex = notes, raw, words, knowledge, lex
        self.troubles, self.doings, self.named, self.plainly = troubles, list(doings), named, plainly
        self.said: dict[str, Span] = {}

    def told(self) -> list[str]:
        """The symptoms that the text tells; what is not clear is noted as doubtful."""
        other = [m for kinds in _OTHER for m in matches(self.words, self.lex, kinds)] + self.doings
        weighing = Weighing(self.notes.text, self.raw, self.knowledge, self.lex)
        found = weighing.of_the_stone(self.troubles, self.named, other)
        open_: list[Match] = []
        for one, two in weighing.alternatives(found):
            self.notes.doubt(one.start, two.end, "symptoms", (id_ for _, id_ in (*one.names, *two.names)))
            open_ += (one, two)
        found = [m for m in found if m not in open_]
        for match in weighing.doubtful(found, other):
            self.notes.doubt(match.start, match.end, "symptoms", (id_ for _, id_ in match.names))
            open_.append(match)
        found = [m for m in found if m not in open_]
        out: list[str] = []
        for match in found:
            if match.denied:
                self.notes.seen.append((match.start, match.end))
            elif len(match.names) == 1:
                id_ = match.names[0][1]
                if id_ not in out:
                    out.append(id_)
                self.notes.note(match.start, match.end, self.knowledge.label(id_), "symptoms", id_, sure=match.sure)
        for match in found:
            ids = [id_ for _, id_ in match.names]
            if len(ids) > 1 and not match.denied:
                plain = next((id_ for id_ in self.plainly if id_ in ids), None)
                told = {*ids, *(self.plainly[plain] if plain else ())} & set(out)
                if told or (match.start, match.end) in self.named:
                    self.notes.seen.append((match.start, match.end))
                elif meant := plain or self._meant(match, ids):
                    out.append(meant)
                    label, near = self.knowledge.label(meant), dict.fromkeys((meant, *ids))
                    self.notes.note(match.start, match.end, label, "symptoms", meant, sure=False, could_be=near)
                else:
                    self.notes.doubt(match.start, match.end, "symptoms", ids)
        self.said = self._said(match for match in found if match.denied)
        return self._together(out) if self.lex.cues else out

    def _said(self, denied: Iterable[Match]) -> dict[str, Span]:
        """The cues of the text: its words, and what phrases told."""
        said = cues_of(self.raw, self.words, self.lex.lists["articles"])
        said |= {DENIED + id_: (match.start, match.end) for match in denied for _, id_ in match.names}
        for note in self.notes.heard:
            if note.key == "symptoms":
                said[(FIRM if note.sure else PERHAPS) + note.value] = (note.start, note.end)
        for doubt in self.notes.unsure:
            if doubt.key == "symptoms":
                said |= {OPEN + id_: (doubt.start, doubt.end) for id_ in doubt.could_be}
        return said

    def _together(self, heard: list[str]) -> list[str]:
        """The symptoms by all that the text says, where phrases told those ``heard``.

        What is likely is taken, and of what phrases told only that; the rest is asked about. Where nothing is likely
        what phrases told stays as it is; where they told nothing either, the likeliest are asked about.
        """
        found = likely(self.said, self.lex.cues)
        known = {f.symptom for f in found}
        taken = [f for n, f in enumerate(found[:MOST_TOLD]) if f.chance >= (BESIDE if n else LIKELIEST)]
        stay = {STOP_SYMPTOM, *(f.symptom for f in taken or found)}
        kept = [id_ for id_ in heard if id_ not in known or id_ in stay]
        near = [f.symptom for f in found[:MOST_CHOICES] if f.chance >= ASKED and f.symptom not in kept]
        for note in [h for h in self.notes.heard if h.key == "symptoms"]:
            if note.value not in kept:
                self.notes.heard.remove(note)
                self.notes.doubt(note.start, note.end, "symptoms", dict.fromkeys((note.value, *near)))
        for f in taken:
            if f.symptom not in kept and f.end:
                kept.append(f.symptom)
                sure, label = f.chance >= SURE, self.knowledge.label(f.symptom)
                others = () if sure else dict.fromkeys((f.symptom, *near))
                self.notes.note(f.start, f.end, label, "symptoms", f.symptom, sure=sure, could_be=others)
        if not kept and near and not any(doubt.key == "symptoms" for doubt in self.notes.unsure) and found[0].end:
            self.notes.doubt(found[0].start, found[0].end, "symptoms", near)
        return kept

    def _meant(self, match: Match, ids: Iterable[str]) -> str:
        """Which of several troubles a word of many senses means, if the sentence has another word of one of them alone.

        The soft of "the meets have all gone soft" is that of "soft meets", however far apart they stand.
        """
        first, last = sentence(self.raw, match.start)
        said = {t.key for t in self.words if first <= t.start < last} - {*match.words}
        near = {
            id_
            for run in self.lex.trouble
            if len(run) == len(match.words) + 1 and {*match.words} < {*run} and {*run} <= said | {*match.words}
            for _, id_ in self.lex.trouble[run]
            if id_ in ids
        }
        return near.pop() if len(near) == 1 else ""
