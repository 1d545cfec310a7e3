"""Errors meant for a person: what was wrong, where, what was found, what is allowed, the nearest spelling.

Every error that may reach a person is a :class:`LapwiseError` and carries its exit code, so that the command
line and the screens can show it without knowing where it came from.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

LONGEST_SHOWN = 120
"""Letters of what was found that are shown to a person."""


def nearest(
    word: object, allowed: Iterable[str], count: int = 3, also: Mapping[str, Iterable[str]] | None = None
) -> tuple[str, ...]:
    """The up to ``count`` allowed words closest in spelling to ``word``, best first; empty if none is close.

    ``also``: allowed word to its other names; one that is called ``word`` comes before all that are only spelt alike.
    """
    text = _spelt(word)[:LONGEST_SHOWN]
    choices: dict[str, str] = {}
    for choice in sorted(set(allowed)):
        choices.setdefault(_spelt(choice), choice)
    if also:
        called = [choice for choice in choices.values() if text in map(_spelt, also.get(choice, ()))]
        if called:
            return tuple(called[:count])
        for choice in tuple(choices.values()):
            for name in also.get(choice, ()):
                choices.setdefault(_spelt(name), choice)
    close = difflib.get_close_matches(text, list(choices), n=count, cutoff=0.55)
    if len(close) < count and len(text) >= 3:
        close += [c for c in choices if text in c and c not in close][: count - len(close)]
    return tuple(dict.fromkeys(choices[c] for c in close))


def _spelt(word: object) -> str:
    """The word as it is compared: small letters, hyphens between its parts."""
    return str(word).strip().lower().replace(" ", "-").replace("_", "-")


@dataclass(frozen=True, slots=True)
class Issue:
    """One thing that is wrong. ``where`` names the option, or ``file:line: key``."""

    what: str
    where: str = ""
    found: str = ""
    allowed: tuple[str, ...] = ()
    nearest: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """The five keys of the command line's error object."""
        return {
            "what": self.what,
            "where": self.where or None,
            "found": self.found or None,
            "allowed": list(self.allowed),
            "nearest": list(self.nearest),
        }

    def __str__(self) -> str:
        parts = [f"{self.where}: {self.what}" if self.where else self.what]
        if self.found:
            found = self.found if len(self.found) <= LONGEST_SHOWN else self.found[: LONGEST_SHOWN - 1] + "…"
            parts.append(f"found {found!r}")
        if self.nearest:
            parts.append("did you mean " + ", ".join(self.nearest) + "?")
        elif self.allowed:
            shown = ", ".join(self.allowed[:12]) + (" …" if len(self.allowed) > 12 else "")
            parts.append("allowed: " + shown)
        return "; ".join(parts)


class LapwiseError(Exception):
    """An error for a person. ``problems`` is never empty; ``exit_code`` is the process's exit code."""

    exit_code = 1

    def __init__(self, problems: Issue | str | Sequence[Issue]) -> None:
        if isinstance(problems, str):
            problems = Issue(problems)
        if isinstance(problems, Issue):
            problems = (problems,)
        self.problems: tuple[Issue, ...] = tuple(problems)
        super().__init__("\n".join(str(p) for p in self.problems))


class NothingFound(LapwiseError):
    """Nothing found, or advice is impossible (exit 1)."""


class Overtaken(LapwiseError):
    """What was to be changed has been changed by another process meanwhile (exit 1): look at it first."""


class BadInput(LapwiseError):
    """The person's input is wrong (exit 2)."""

    exit_code = 2

    @classmethod
    def unknown(cls, what: str, found: object, allowed: Iterable[str], where: str = "") -> BadInput:
        """An id that is not among ``allowed``; the nearest spellings are worked out here."""
        choices = tuple(sorted(set(allowed)))
        return cls(Issue(what, where, str(found), choices, nearest(found, choices)))


class Damaged(LapwiseError):
    """A file or the record is damaged (exit 3)."""

    exit_code = 3
