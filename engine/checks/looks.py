"""The check that a look tells causes apart."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import isclose

from lapwise.engine.checks.model import Check, Finding
from lapwise.engine.knowledge.model import Knowledge, Look


def chances(row: Mapping[str, str], look: Look, words: Mapping[str, float]) -> dict[str, float]:
    """Result to probability: the row's words made to sum to 1; a result that is not named counts as never."""
    never = words.get("never", 0.0)
    raw = {result: words.get(row.get(result, "never"), never) for result in look.results}
    total = sum(raw.values()) or 1.0
    return {result: value / total for result, value in raw.items()}


class SilentLooks(Check):
    """A look, or one line of it, whose results say nothing about any cause."""

    name = "silent-looks"
    severity = "error"
    about = "the results of a look do not tell causes apart"

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        words = knowledge.scales.chance
        for look in knowledge.looks.values():
            plain = chances(look.otherwise, look, words)
            silent = [
                cause
                for cause, row in look.says.items()
                if all(isclose(p, plain[r], abs_tol=1e-9) for r, p in chances(row, look, words).items())
            ]
            if len(silent) == len(look.says):
                yield self.finding(look.id, look.place, "whatever it shows, no cause becomes likelier than another")
            else:
                for cause in silent:
                    what = "says of this cause just what it says of all others: leave the line out"
                    yield self.finding(look.id, look.place, what, cause)
