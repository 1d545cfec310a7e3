"""The check that every id of the trade lists is there."""

from __future__ import annotations

from collections.abc import Iterator

from lapwise.engine.checks.model import Check, Finding
from lapwise.engine.checks.trade import LOOK_RESULTS, TRADE_IDS
from lapwise.engine.knowledge.model import Knowledge


class MissingWords(Check):
    """An id of the trade lists that the knowledge no longer holds."""

    name = "missing-words"
    severity = "error"
    about = "an id that cases and records rely on is not there"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        for list_, ids in TRADE_IDS.items():
            there = getattr(knowledge, list_)
            for name in ids:
                if name not in there:
                    yield self.finding(name, None, f"is missing from the {list_}; cases and records rely on it")
        for name, results in LOOK_RESULTS.items():
            look = knowledge.looks.get(name)
            for result in results if look else ():
                if look is not None and result not in look.results:
                    yield self.finding(name, look.place, "this look lacks a result that cases rely on", result)
