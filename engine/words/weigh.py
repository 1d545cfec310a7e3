"""Weighs what looks like a trouble: is it told of the stone, or of lap, ink or the hand, or part of something else?"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import replace

from lapwise.engine.case import STOP_SYMPTOM
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words.lexicon import Lexicon
from lapwise.engine.words.match import Match, shares
from lapwise.engine.words.text import STRONG, Token

_SETTINGS = frozenset(("speed", "pressure", "wetness", "carrier", "stage", "included", "in_setting"))
"""Facts whose words say how the work is done: the slow of "slow speed" is no trouble."""
_REACH = 4
"""Words over which an adjective reaches its noun, or a noun what is said of it."""
_ROW = ([","], ["or"], ["nor"], [",", "or"], [",", "nor"])
_LAST = ("or", "nor")
"""What stands before the last of a row."""
_WHERE = frozenset(("facet_part", "extent", "scratch_form", "scratch_place", "loose"))
MANY = 2
"""A phrase of more words than these says what it means."""


class Weighing:
    """One text in which phrases of troubles were found."""

    def __init__(self, text: str, raw: Sequence[Token], knowledge: Knowledge, lex: Lexicon) -> None:
        self.text, self.raw, self.lex, self.lists = text, raw, lex, lex.lists
        self.felt = frozenset(s for group in knowledge.appearances.values() if group.felt for s in group.symptoms)
        self.alike = [frozenset(group.symptoms) for group in knowledge.appearances.values() if group.plainly]
        """Groups of symptoms of which one bare word may stand for any: scratches, dull."""
        self.named: Sequence[tuple[int, int]] = ()
        self.troubles: Sequence[Match] = ()

    def of_the_stone(
        self, troubles: Sequence[Match], named: Sequence[tuple[int, int]], others: Sequence[Match]
    ) -> list[Match]:
        """Those of ``troubles`` that the text tells of the stone.

        ``named``: first and last letter of every stone, lap and compound named; ``others``: what is told of conditions
        and tries. A word of a loose sense counts only where nothing else is told, and then not surely.
        """
        self.named, self.troubles = named, troubles
        found = [
            m
            for m in troubles
            if not (
                self._lesser(m)
                or self._part_of_a_name(m)
                or self._part_of_a_doing(m, others)
                or self._said_of_the_tools(m)
                or self._done_by_hand(m)
                or self._kind_of_stone(m)
                or self._cured(m)
                or self._feared(m)
                or (self._once(m) and not self._stops(m))
            )
        ]
        found = [m for m in self._denied_in_a_row(found) if not self._describes(m, found)]
        firm = [m for m in found if not self._loose(m) and not m.denied]
        return [replace(m, sure=False) if self._loose(m) else m for m in found if self._counts(m, firm)]

    def _loose(self, match: Match) -> bool:
        """Whether it is of loose words, or one word that was put right."""
        return match.words in self.lex.loose or (len(match.words) == 1 and not match.sure)

    def _counts(self, match: Match, firm: Iterable[Match]) -> bool:
        """Whether a match is not one of a loose sense beside another trouble that is told firmly."""
        return not self._loose(match) or not any({*m.names} - {*match.names} for m in firm)

    def alternatives(self, found: Sequence[Match]) -> list[tuple[Match, Match]]:
        """Pairs of troubles between which the text leaves it open: "haze or a film"."""
        seen = [m for m in found if not m.denied and not self._stops(m)]
        return [
            (one, other)
            for one, other in itertools.pairwise(seen)
            if self._between(one, other) == ["or"] and not {*one.names} & {*other.names}
        ]

    def doubtful(self, found: Sequence[Match], others: Sequence[Match]) -> list[Match]:
        """Those of few words, said once beside another trouble, that may tell something else.

        They stand in a later sentence than the first trouble, where people speak of what they did, or over words that
        tell how the work is done or what was tried.
        """
        told = [m for m in found if not m.denied]
        out: list[Match] = []
        for match in told:
            rest = [m for m in told if m is not match and m not in out]
            again = any({*m.names} & {*match.names} for m in rest)
            if not rest or again or len(match.at) > MANY or self._stops(match):
                continue
            later = match.start > rest[0].start and all(self._parted(m, match) for m in rest)
            if later or any(shares(match, other) for other in others if self._of_the_work(other)):
                out.append(match)
        return out

    def _of_the_work(self, other: Match) -> bool:
        """Whether a phrase tells what was tried, or how the work is done, and not where on the stone a trouble is."""
        return any(kind == "remedies" or not {id_, id_.partition("=")[0]} & _WHERE for kind, id_ in other.names)

    def _stops(self, match: Match) -> bool:
        """Whether it is the trouble before which all advice stops: that is never only asked."""
        return any(id_ == STOP_SYMPTOM for _, id_ in match.names)

    def _parted(self, one: Match, other: Match) -> bool:
        """Whether a sentence ends between two phrases."""
        first, last = min(one.end, other.end), max(one.start, other.start)
        return any(t.gap == STRONG for t in self.raw if first <= t.start <= last)

    def _between(self, one: Match, other: Match) -> list[str]:
        """The words between two phrases, without articles; a comma counts as one."""
        passed = self.lists["between-troubles"]
        inner = [t for t in self.raw if one.end <= t.start < other.start and t.word not in passed]
        return [","] * ("," in self.text[one.end : other.start]) + [t.word for t in inner]

    def _denied_in_a_row(self, found: Sequence[Match]) -> list[Match]:
        """With the whole of a row denied that begins so: "no scratches, pits or haze"."""
        out = list(found)
        for start, first in enumerate(out):
            row, seps = [start], [[""]]
            while row[-1] + 1 < len(out) and (sep := self._between(out[row[-1]], out[row[-1] + 1])) in _ROW:
                if seps[-1][-1] in _LAST and sep[-1] not in _LAST:
                    break
                seps.append(sep)
                row.append(row[-1] + 1)
            if first.denied and seps[-1][-1] in _LAST:
                for place in row:
                    out[place] = replace(out[place], denied=True)
        return out

    def _clause(self, match: Match, *, ahead: bool = False) -> list[Token]:
        """The words of the clause before a phrase, or after it."""
        if ahead:
            return list(itertools.takewhile(lambda t: not t.gap, (t for t in self.raw if t.start >= match.end)))
        before = [t for t in self.raw if t.start < match.start]
        first = next((t for t in self.raw if t.end > match.start), None)
        if first is not None and first.gap:
            return []
        start = max((i for i, t in enumerate(before) if t.gap), default=0)
        return before[start:]

    def _cured(self, match: Match) -> bool:
        """Whether the text tells that it has been cured: "got rid of the haze", "the haze has cleared up"."""
        before = [t.word for t in self._clause(match)]
        ahead = [t.word for t in self._clause(match, ahead=True)][:6]
        if self.lists["wished"] & {*before} or any(
            t.key == "not" for t in (*self._clause(match), *self._clause(match, ahead=True))
        ):
            return False
        cured = any(
            word in self.lists["cured"] or (word == "rid" and before[max(0, i - 1)] in ("got", "gotten"))
            for i, word in enumerate(before[-5:], max(0, len(before) - 5))
        )
        return cured or bool(ahead[:1] and {*ahead[:1]} & self.lists["is-over"] and self.lists["over"] & {*ahead[1:5]})

    def _feared(self, match: Match) -> bool:
        """Whether it is only feared: "I worry that it will crack"."""
        return any(t.word in self.lists["fears"] for t in self._clause(match)[-7:])

    def _once(self, match: Match) -> bool:
        """Whether it was so at first and something else is told now: "first it was hazy, now it has scratches"."""
        before = [t.word for t in self._clause(match)]
        first = any(before[i : i + 2] in (["used", "to"], ["at", "first"]) for i in range(len(before))) or (
            bool(before) and before[0] in self.lists["at-first"]
        )
        if not first:
            return False
        now = next((t.start for t in self.raw if t.start > match.end and t.word in ("now", "today", "then")), None)
        return now is not None and any(m.start > now and not m.denied for m in self.troubles)

    def _done_by_hand(self, match: Match) -> bool:
        """Whether the words tell what the person does: "since I come back", "grabbed a stone", "bumped the speed"."""
        raw, lists = self.raw, self.lists
        inside = [i for i, t in enumerate(raw) if match.start <= t.start < match.end]
        felt = bool(self.felt & {id_ for _, id_ in match.names})  # I cough
        for at in () if felt else inside:
            if at and raw[at].key in match.words and raw[at - 1].word in lists["person"] and not raw[at].gap:
                return not {raw[at].word, raw[at].key} & lists["perceive"]
        at = inside[0]
        if not raw[at].word.endswith("ed") or at + 1 >= len(raw):
            return False
        alone = not at or raw[at].gap > 0 or raw[at - 1].word in lists["before-doing"]
        after = raw[at + 1 : at + 5]
        onto = not after[0].gap and after[0].word in lists["done-to"]
        one_of_many = after[0].word in lists["one-of-many"]
        if len(match.at) > 1 and not one_of_many:
            return False
        return alone and onto and (one_of_many or not any(t.key in lists["stone-parts"] for t in after))

    def _kind_of_stone(self, match: Match) -> bool:
        """Whether one word says which stone it is: a white zircon, a heated sapphire."""
        return match.words[0] in self.lists["stone-colours"] and any(
            self.text[match.end : start].isspace() for start, _ in self.named
        )

    def _describes(self, match: Match, found: Iterable[Match]) -> bool:
        """Whether one word only says of what kind the trouble named right after it is: the grey of "a grey film"."""
        return len(match.at) == 1 and any(
            self.text[match.end : other.start].isspace() and not {*match.names} & {*other.names} for other in found
        )

    def _said_of_the_tools(self, match: Match) -> bool:
        """Whether one word is said of the lap or the slurry and not of the facet: a grey lap, the lap has dents."""
        if len(match.at) > 1 or self.felt & {id_ for _, id_ in match.names}:
            return False
        first = next(i for i, t in enumerate(self.raw) if t.end > match.start)
        last = next(i for i, t in enumerate(self.raw) if t.end >= match.end)
        if first and self.raw[first - 1].word in self.lists["articles"] and not self.raw[first].gap:
            for token in self.raw[last + 1 : last + _REACH]:
                if token.gap or token.word in self.lists["filling"]:
                    break
                if token.key in self.lists["tools"]:
                    return True
        at, said = first, False
        while at and not self.raw[at].gap and first - at < _REACH:
            at -= 1
            if self.raw[at].key in self.lists["tools"]:
                start = at
                while start and at - start < _REACH and not self.raw[start].gap:
                    start -= 1
                return said and not self.lists["worked-on"] & {t.word for t in self.raw[start:at]}
            if self.raw[at].word not in self.lists["filling"] or self.raw[at].word in ("it", "they", "i", "we"):
                return False
            said = said or self.raw[at].word in self.lists["being"]
        return False

    def _part_of_a_name(self, match: Match) -> bool:
        """Whether what looks like a trouble is part of a longer name: the smoky of smoky quartz."""
        return any(
            start <= match.start and match.end <= end and end - start > match.end - match.start
            for start, end in self.named
        )

    def _lesser(self, match: Match) -> bool:
        """Whether a fuller phrase over the same words tells which of a group of like symptoms it is."""
        ids = {id_ for _, id_ in match.names}
        return any(
            len(other.at) > len(match.at)
            and shares(match, other)
            and len(other.names) == 1
            and other.names[0][1] in group - ids
            for group in self.alike
            if ids & group
            for other in self.troubles
        )

    def _part_of_a_doing(self, match: Match, others: Iterable[Match]) -> bool:
        """Whether what looks like a trouble is part of a fuller phrase for how the work is done or what was tried."""
        bare = len(match.names) > 1 and any({id_ for _, id_ in match.names} & group for group in self.alike)
        return any(
            (key == "speed" and shares(match, other))
            or (kind == "nothing" and set(match.at) < set(other.at))
            or (not bare and (kind == "remedies" or key in _SETTINGS) and set(match.at) < set(other.at))
            for other in others
            for kind, key in ((kind, id_.partition("=")[0]) for kind, id_ in other.names)
        )
