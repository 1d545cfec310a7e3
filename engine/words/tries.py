"""Tries told in a text, and how each ended."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import cast

from lapwise.engine.case import Outcome
from lapwise.engine.words.match import Match, shares
from lapwise.engine.words.text import COMMA, Lists, Token, sentence

ENDS = "outcome="
_SHORT = 9
"""Words of a sentence of which a cure is all that it says."""
_LED = 5
_NOT_FROM = {"diamond": ("change-oxide", "oxide-to-diamond"), "oxide": ("diamond-to-oxide",)}
"""Tries that do not go from a compound of that kind."""


@dataclass(frozen=True, slots=True)
class Try:
    """``remedies``: what the words may mean. ``outcome``: None if not told, so that it is asked; ``end``: its words."""

    match: Match
    remedies: tuple[str, ...]
    outcome: Outcome | None
    end: Match | None
    sure: bool


class Tries:
    """One text with what it tells of conditions, among them outcomes. ``kind``: of the compound on the machine."""

    def __init__(self, text: str, raw: Sequence[Token], conditions: Sequence[Match], kind: str, lists: Lists) -> None:
        self.text, self.raw, self.conditions, self.kind, self.lists = text, raw, conditions, kind, lists
        self.ends = [m for m in conditions if any(n.startswith(ENDS) for _, n in m.names)]

    def told(self, doings: Sequence[Match]) -> Iterator[Try]:
        """The tries among phrases of remedies, in order."""
        done = [m for m in doings if not (m.denied or self._asks(m.start) or self._onset(m) or self._is_an_end(m))]
        for place, match in enumerate(done):
            end = self._end(match, done[place + 1 :])
            remedies = self._that_fit(tuple(id_ for _, id_ in match.names))
            if len(remedies) == 1 and end is not None:
                yield Try(match, remedies, end[1], end[0], match.sure and end[0].sure)
            elif len(remedies) == 1 and end is None and (self._still(match.end) or self._already(match.start)):
                yield Try(match, remedies, "no-change", None, sure=False)
            elif self._told_as_done(match.start) and len(match.at) > 1 and not self._how(match):
                yield Try(match, remedies, None, None, sure=False)

    def _end(self, match: Match, later: Sequence[Match]) -> tuple[Match, Outcome] | None:
        """How it ended: told before the next try, in this sentence or the next; or by one end for a row of tries."""
        after = sentence(self.raw, sentence(self.raw, match.end)[1] + 2)[1] + 1
        until = min([m.start for m in later if m.start > match.end] + [after])
        ends = [m for m in self.ends if match.end <= m.start < until or (shares(m, match) and m.end > match.end)]
        found = self._decided([m for m in ends if self._tells(m, match)])
        if found is None and self._answered(match.end):
            return match, "no-change"
        if found is None and later:
            # "I cleaned the lap and slowed down. Neither helped": one outcome for both
            here = sentence(self.raw, match.start)
            beyond = sentence(self.raw, here[1] + 2)
            of_all = any(t.start == beyond[0] and t.word in self.lists["of-all"] for t in self.raw)
            within = (here, beyond) if of_all else (here,)
            found = self._decided(
                [m for m in self.ends if m.start >= match.end and sentence(self.raw, m.start) in within]
            )
        return found

    def _decided(self, ends: Sequence[Match]) -> tuple[Match, Outcome] | None:
        """What several words for an end say together: those of the first sentence; better but not gone is better."""
        told = [(m, o) for m in ends for o in self._means(m)]
        if not told:
            return None
        last = sentence(self.raw, told[0][0].start)[1]
        told = [(m, o) for m, o in told if m.start < last]
        if told[0][1] != "no-change" or told[0][0].denied:
            for outcome in ("worse", "better"):
                found = next(((m, o) for m, o in told if o == outcome), None)
                if found is not None:
                    return found
        return told[0]

    def _tells(self, end: Match, match: Match) -> bool:
        """Whether what looks like a cure can be that of a try: in its sentence, or all that a short one says."""
        first, last = sentence(self.raw, end.start)
        short = sum(first <= t.start < last for t in self.raw) <= _SHORT
        return short or first <= match.start < last or "outcome=fixed" not in {n for _, n in end.names}

    def _means(self, end: Match) -> tuple[Outcome, ...]:
        """The ends that a phrase tells where it stands; not gone is no change."""
        out = {cast(Outcome, n.removeprefix(ENDS)) for _, n in end.names if n.startswith(ENDS)}
        if end.denied:
            return ("no-change",) if out == {"fixed"} else ()
        after = next((t for t in self.raw if t.start >= end.end), None)
        if len(end.words) == 1 and after is not None and not after.gap:
            if end.words[0] == "same" and after.key in self.lists["same-thing"]:
                return ()
            if end.words[0] == "better" and after.word not in self.lists["after-better"]:
                return ()
        return tuple(out) if len(out) == 1 else ()

    def _answered(self, end: int) -> bool:
        """Whether a bare "no" follows, as an answer: slower lap, no."""
        after = [t for t in self.raw if t.start >= end][:4]
        for at, token in enumerate(after):
            if token.word in self.lists["answered-no"]:
                return token.gap > 0 and (at + 1 == len(after) or after[at + 1].gap > 0)
        return False

    def _asks(self, start: int) -> bool:
        """Whether the sentence only asks or wonders."""
        first, last = sentence(self.raw, start)
        ended = any(first <= m.start and m.end <= last for m in self.ends if not m.denied)
        asked = not ended and self.text[last : last + 3].lstrip().startswith("?")
        return asked or any(t.word in self.lists["asks"] for t in self.raw if first <= t.start < start)

    def _onset(self, match: Match) -> bool:
        """Whether it only says since when it is so: since I fitted the new lap."""
        before = [t for t in self.raw if t.start < match.start]
        if any(t.gap >= COMMA for t in self.raw if t.start == match.start):
            return False
        for at in range(len(before) - 1, max(-1, len(before) - 1 - _LED), -1):
            if before[at].word in self.lists["onset"]:
                return True
            if before[at].gap >= COMMA:
                return False
        return False

    def _is_an_end(self, match: Match) -> bool:
        """Whether the words tell how another try ended: she ran cool."""
        inside = (m for m in self.ends if m.start <= match.start and match.end <= m.end and len(m.words) > 1)
        return bool(match.words) and any(inside)

    def _that_fit(self, remedies: tuple[str, ...]) -> tuple[str, ...]:
        """Of several tries that the same words may tell, those that go from the compound on the machine."""
        return (
            tuple(r for r in remedies if r not in _NOT_FROM.get(self.kind, ())) or remedies
            if len(remedies) > 1
            else remedies
        )

    def _how(self, match: Match) -> bool:
        """Whether the same words tell how the work is done: I leaned on it hard."""
        return any(m.start < match.end and match.start < m.end and ENDS not in m.names[0][1] for m in self.conditions)

    def _still(self, end: int) -> bool:
        """Whether the sentence goes on with "still": no change. "Still not there" tells of some change."""
        last = sentence(self.raw, end - 1)[1]
        after = [t for t in self.raw if end <= t.start < last]
        beyond = next((t for t in self.raw if t.start >= last), None)
        if beyond is not None and beyond.word == "still":
            return True
        at = next((i for i, t in enumerate(after) if t.word == "still"), None)
        return at is not None and not (
            after[at + 1 : at + 2]
            and after[at + 1].key == "not"
            and self.lists["fully"] & {t.word for t in after[at + 2 : at + 4]}
        )

    def _already(self, start: int) -> bool:
        """Whether it is told as done already, in the sentence: who still asks saw no change."""
        first = sentence(self.raw, start)[0]
        return any(t.word == "already" for t in self.raw if first <= t.start < start)

    def _told_as_done(self, start: int) -> bool:
        """Whether the person says to have done it, and does not merely name it."""
        return bool(self.lists["told-as-done"] & {t.word for t in [t for t in self.raw if t.start < start][-3:]})
