"""Where something known is written, and where it is from."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Place:
    """Where in the files something is written (for messages and for "show")."""

    file: str
    line: int
    own: bool = False
    """True if it comes from the person's own files and not from the shipped ones."""

    def of(self, what: str) -> str:
        """``file:line: what``."""
        return f"{self.file}:{self.line}: {what}"


@dataclass(frozen=True, slots=True)
class Source:
    """A published source. ``status``: "read", "abstract", "package" or "memory" (named, not opened)."""

    id: str
    cite: str
    status: str
    address: str = ""
    place: Place | None = None
