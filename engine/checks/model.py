"""What a check is and what it finds."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, ClassVar, Literal

from lapwise.engine.errors import Issue
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.place import Place

Severity = Literal["error", "warning"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing a check found. ``id``: the entry it speaks of; ``own``: it is in the person's own files."""

    check: str
    severity: Severity
    id: str
    problem: Issue
    own: bool = False

    def as_json(self) -> dict[str, Any]:
        """Flat: check, severity, id, own and the keys of the problem."""
        own = {"check": self.check, "severity": self.severity, "id": self.id, "own": self.own}
        return {**own, **self.problem.as_json()}


class Check(ABC):
    """One check: a name (its help page is ``tui/help/checks/NAME.md``), a severity and what it looks for."""

    name: ClassVar[str]
    severity: ClassVar[Severity]
    about: ClassVar[str]
    """One line: what is wrong when it speaks."""

    @abstractmethod
    def find(self, knowledge: Knowledge) -> Iterator[Finding]:
        """Everything it finds, in the order of the knowledge."""

    def finding(self, id_: str, place: Place | None, what: str, found: str = "", near: tuple[str, ...] = ()) -> Finding:
        """A finding about the entry ``id_`` written at ``place``."""
        where = f"{place.file}:{place.line}: {id_}" if place else id_
        own = place is not None and place.own
        return Finding(self.name, self.severity, id_, Issue(what, where, found, (), near), own)
