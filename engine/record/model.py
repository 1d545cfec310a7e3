"""What the record gives back: cases, their steps, own laps. All frozen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType
from typing import Any, Literal

from lapwise.engine.case import Case, Outcome
from lapwise.engine.flat import flat, stated

StepKind = Literal["try", "look", "facts", "close", "undo"]
STEP_KINDS: tuple[StepKind, ...] = ("try", "look", "facts", "close", "undo")
RESULTS = ("fixed", "polished", "accepted", "given-up")
"""How a case may end. ``polished``: it came out well without any trouble."""
LapKind = Literal["add", "change", "clean", "resurface", "remove"]
LAP_KINDS: tuple[LapKind, ...] = ("add", "change", "clean", "resurface", "remove")
LapState = Literal["clean", "due-for-cleaning", "carried-coarser"]
PairResult = Literal["worked", "failed", "mixed"]
WEAR = ("new", "worked-in", "worn", "worn-out")


@dataclass(frozen=True, slots=True)
class Step:
    """One row of a case. ``withdrawn``: a later undo row took it back. ``at``: UTC, ISO 8601."""

    id: str
    case_id: str
    at: str
    kind: StepKind
    remedy: str | None = None
    outcome: Outcome | None = None
    look: str | None = None
    result: str | None = None
    minutes: float | None = None
    note: str = ""
    shown: Mapping[str, Any] | None = None
    facts: Mapping[str, Any] | None = None
    withdraws: str | None = None
    knowledge: str = ""
    version: str = ""
    withdrawn: bool = False

    def as_json(self) -> dict[str, Any]:
        """A flat JSON form without what is empty."""
        return stated(flat(self, "shown", "knowledge", "version"))


COLUMNS = {
    "cases": ("id", "at", "facts", "knowledge", "version"),
    "steps": tuple(column.name for column in fields(Step) if column.name != "withdrawn"),
    "lap_rows": ("id", "lap_id", "at", "kind", "body"),
}
"""The tables of rows with their columns, as they are exported; everything else is worked out from these rows."""


@dataclass(frozen=True, slots=True)
class CaseRecord:
    """A case as it stands now. ``case`` holds the newest facts with every remedy and look that still counts.

    ``result``: how it ended, None while it is open. ``withdrawn``: opened by mistake and taken back.
    """

    id: str
    at: str
    case: Case
    open: bool
    result: str | None
    steps: tuple[Step, ...]
    knowledge: str = ""
    withdrawn: bool = False
    yours: bool = True
    """Whether anything was logged to it at this bench; a case that came by an import is somebody else's."""

    @property
    def last(self) -> str:
        """Id of its newest row."""
        return self.steps[-1].id if self.steps else self.id

    @property
    def minutes(self) -> float | None:
        """Minutes logged on steps that still count; None if none of them was timed."""
        timed = [s.minutes for s in self.steps if s.minutes is not None and not s.withdrawn]
        return sum(timed) if timed else None

    @property
    def cure(self) -> str | None:
        """The remedy that fixed it, None if none did."""
        tries = [s for s in self.steps if s.kind == "try" and not s.withdrawn]
        return tries[-1].remedy if tries and self.result == "fixed" else None

    def as_json(self) -> dict[str, Any]:
        """A flat JSON form."""
        return {
            "id": self.id,
            "at": self.at,
            "open": self.open,
            "yours": self.yours,
            "result": self.result,
            "minutes": self.minutes,
            "case": self.case.as_json(),
            "steps": [s.as_json() for s in self.steps],
        }


@dataclass(frozen=True, slots=True)
class OwnLap:
    """One of the person's own laps.

    ``name``: what the person calls it. ``type``: a lap id of the knowledge. ``carries``: compound ids it has been
    charged with. ``grade``: the person's words. Diameter and thickness in millimetres.
    """

    name: str
    type: str
    id: str = ""
    diameter_mm: float | None = None
    thickness_mm: float | None = None
    grade: str = ""
    carries: tuple[str, ...] = ()
    wear: str = ""
    note: str = ""
    last_cleaned: str | None = None
    removed: bool = False
    yours: bool = True
    """Whether anything was logged to it at this bench; a lap that came by an import is somebody else's."""

    @property
    def compound(self) -> str | None:
        """The compound it carries, if it carries just one."""
        return self.carries[0] if len(self.carries) == 1 else None

    def as_json(self) -> dict[str, Any]:
        """A flat JSON form without what is not known."""
        return {**stated(flat(self)), "yours": self.yours}


@dataclass(frozen=True, slots=True)
class LapUse:
    """What ran on an own lap: a material with a compound, in how many cases."""

    material: str
    compound: str
    cases: int


@dataclass(frozen=True, slots=True)
class LapView:
    """One own lap with what the record says of it. ``last_run``: UTC, or None."""

    lap: OwnLap
    state: LapState
    warnings: tuple[str, ...]
    last_run: str | None
    ran: tuple[LapUse, ...]

    def as_json(self) -> dict[str, Any]:
        """Flat: the lap, then the rest."""
        out = flat(self)
        return {**out.pop("lap"), **out}


@dataclass(frozen=True, slots=True)
class Counts:
    """How often the record changed: what an import, a restore or a forget did."""

    added: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    known: int = 0
    cleaned: int = 0
    refused: int = 0
    reasons: tuple[tuple[str, int], ...] = ()
    """Reason and how many rows, most frequent first."""
    examples: tuple[str, ...] = ()
    """The first refused or cleaned rows, as ``line N: reason``."""

    def as_json(self) -> dict[str, Any]:
        """A flat JSON form."""
        return {
            "added": dict(self.added),
            "already_known": self.known,
            "cleaned": self.cleaned,
            "refused": self.refused,
            "reasons": dict(self.reasons),
            "examples": list(self.examples),
        }
