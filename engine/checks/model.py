"""What a check is and what it finds."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

from lapwise.engine.errors import Issue
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.place import Place

Severity = Literal["error", "warning"]


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with the entry ``id``; ``own``: it is in the person's own files."""

    id: str
    problem: Issue
    own: bool


@dataclass(frozen=True, slots=True)
class Finding:
    """One fault, with the check that found it."""

    check: str
    severity: Severity
    id: str
    problem: Issue
    own: bool = False

    def as_json(self) -> dict[str, Any]:
        """Flat: check, severity, id, own and the keys of the problem."""
        own = {"check": self.check, "severity": self.severity, "id": self.id, "own": self.own}
        return {**own, **self.problem.as_json()}


@dataclass(frozen=True, slots=True)
class Check:
    """A name (its help page is ``tui/help/checks/NAME.md``), a severity, one line on what is wrong when it speaks, and
    what finds it, in the order of the knowledge."""

    name: str
    severity: Severity
    about: str
    faults: Callable[[Knowledge], Iterator[Fault]]

    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        """Everything it finds."""
        return (Finding(self.name, self.severity, f.id, f.problem, f.own) for f in self.faults(knowledge))


def check(name: str, severity: Severity, about: str) -> Callable[[Callable[[Knowledge], Iterator[Fault]]], Check]:
    """Makes a function that yields faults a :class:`Check`."""
    return lambda faults: Check(name, severity, about, faults)


def fault(id_: str, place: Place | None, what: str, found: str = "", near: tuple[str, ...] = ()) -> Fault:
    """A fault of the entry ``id_`` written at ``place``."""
    where = place.of(id_) if place else id_
    return Fault(id_, Issue(what, where, found, (), near), place is not None and place.own)
