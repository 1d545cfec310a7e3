"""Tries told in a text, and how each ended."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import cast

from lapwise.engine.case import Outcome
from lapwise.engine.words.match import Match, shares
from lapwise.engine.words.text import Token, sentence

ENDS = "outcome="
_ASKS = frozenset(("should", "shall", "might", "maybe", "perhaps", "want", "wants", "wonder", "if", "whether", "how"))
_DONE = frozenset(("i", "we", "i've", "we've", "already", "tried"))
_ALL = frozenset(("nothing", "none", "neither", "both", "all"))
_FULLY = frozenset(("there", "gone", "enough", "cured", "right", "perfect", "crisp"))
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

    def __init__(self, text: str, raw: Sequence[Token], conditions: Sequence[Match], kind: str) -> None:
        self.text, self.raw, self.conditions, self.kind = text, raw, conditions, kind
        self.ends = [m for m in conditions if not m.denied and any(n.startswith(ENDS) for _, n in m.names)]

    def told(self, doings: Sequence[Match]) -> Iterator[Try]:
        """The tries among phrases of remedies, in order."""
        done = [m for m in doings if not m.denied and not self._asks(m.start)]
        for place, match in enumerate(done):
            end = self._end(match, done[place + 1 :])
            remedies = self._that_fit(tuple(id_ for _, id_ in match.names))
            outcomes = [n.removeprefix(ENDS) for _, n in end.names if n.startswith(ENDS)] if end else []
            if len(remedies) == len(outcomes) == 1 and outcomes[0] != "fixed" and end is not None:
                yield Try(match, remedies, cast(Outcome, outcomes[0]), end, match.sure and end.sure)
            elif len(remedies) == 1 and end is None and self._still(match.end):
                yield Try(match, remedies, "no-change", None, sure=False)
            elif self._told_as_done(match.start) and len(match.at) > 1 and not self._how(match):
                yield Try(match, remedies, None, None, sure=False)

    def _end(self, match: Match, later: Sequence[Match]) -> Match | None:
        """How it ended: told before the next try, in this sentence or the one after."""
        after = sentence(self.raw, sentence(self.raw, match.end)[1] + 2)[1] + 1
        until = min([m.start for m in later if m.start > match.end] + [after])
        end = next((m for m in self.ends if match.end <= m.start < until or shares(m, match)), None)
        if end is None and later:
            # "I cleaned the lap and slowed down. Neither helped": one outcome for both
            here = sentence(self.raw, match.start)
            beyond = sentence(self.raw, here[1] + 2)
            of_all = any(t.start == beyond[0] and t.word in _ALL for t in self.raw)
            within = (here, beyond) if of_all else (here,)
            end = next((m for m in self.ends if m.start >= match.end and sentence(self.raw, m.start) in within), None)
        return end

    def _asks(self, start: int) -> bool:
        """Whether the sentence only asks or wonders."""
        first, last = sentence(self.raw, start)
        ended = any(first <= m.start and m.end <= last for m in self.ends)
        asked = not ended and self.text[last : last + 3].lstrip().startswith("?")
        return asked or any(t.word in _ASKS for t in self.raw if first <= t.start < start)

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
        at = next((i for i, t in enumerate(after) if t.word == "still"), None)
        return at is not None and not (
            after[at + 1 : at + 2] and after[at + 1].key == "not" and _FULLY & {t.word for t in after[at + 2 : at + 4]}
        )

    def _told_as_done(self, start: int) -> bool:
        """Whether the person says to have done it, and does not merely name it."""
        return bool(_DONE & {t.word for t in [t for t in self.raw if t.start < start][-3:]})
