"""A case: what is on the machine and what is seen, as the person states it. Unknown is always allowed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Literal

from lapwise.engine.flat import flat

Outcome = Literal["fixed", "better", "no-change", "worse"]
OUTCOMES: tuple[Outcome, ...] = ("fixed", "better", "no-change", "worse")
STAGES = ("cut", "prepolish", "polish")
FACET_PARTS = ("table", "crown", "girdle", "pavilion")
STOP_SYMPTOM = "fumes"
"""With this symptom there is no advice on polishing."""

_EMPTY: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Trial:
    """One setting tried on a facet and what it touched.

    ``turn`` and ``angle``: totals from the first setting, degrees of the stone and of the angle scale, clockwise
    (seen from behind the handpiece) and raise positive. ``map``: rows from the tip end to the dop end, each left
    to right as one faces the facet, joined by ``/``; letters B D ? . for a polish map, R N ? . for an ink map.
    ``fresh``: the facet was inked, or its pre-polish renewed, before this map.
    """

    turn: float
    angle: float
    map: str
    ink: bool = False
    fresh: bool = False


@dataclass(frozen=True, slots=True)
class FacetSetting:
    """The facet under work. Every field may be unknown.

    ``angle``: the machine's reading in degrees, 0 with the dop upright over the lap, 90 level. ``index``: the index
    setting. ``gear``: teeth. ``size_mm``: (across, tip to dop) in millimetres. ``adapter``: "45", "none" or None.
    """

    part: str | None = None
    angle: float | None = None
    index: float | None = None
    gear: int | None = None
    size_mm: tuple[float, float] | None = None
    adapter: str | None = None
    trials: tuple[Trial, ...] = ()


@dataclass(frozen=True, slots=True)
class Case:
    """What the person told. Ids are checked by :mod:`lapwise.engine.facts`, not here.

    ``facts``: keys and values of the vocabulary's conditions (``wetness``: ``dry`` …); numbers are kept as text.
    ``tried``: (remedy, outcome) in the order done. ``saw``: (look, result) in the order done.
    """

    material: str | None = None
    lap: str | None = None
    compound: str | None = None
    stage: str = "polish"
    symptoms: tuple[str, ...] = ()
    facts: Mapping[str, str] = field(default_factory=lambda: _EMPTY)
    prior: str | None = None
    facet: FacetSetting = FacetSetting()
    tried: tuple[tuple[str, Outcome], ...] = ()
    saw: tuple[tuple[str, str], ...] = ()
    own_lap: str | None = None
    """The record's id of the person's own lap on the machine, if it was chosen from the own laps."""
    corrections: tuple[tuple[float, float, float | None, float | None], ...] = ()
    """Corrections found on other facets of the stone: index, angle (degrees), change of the index (teeth, towards
    higher numbers positive), change of the angle (degrees, raise positive); None where it was not found."""
    settled: int = 0
    """How many entries of ``tried`` came before the last changed fact: they stay evidence, but may be tried again."""

    def with_tried(self, remedy: str, outcome: Outcome) -> Case:
        """The same case after one more remedy."""
        return replace(self, tried=(*self.tried, (remedy, outcome)))

    def without_cures(self) -> Case:
        """The same case as it was before anything cured it: what there is to advise on."""
        return replace(self, tried=tuple(t for t in self.tried if t[1] != "fixed"))

    def with_saw(self, look: str, result: str) -> Case:
        """The same case after one more look."""
        return replace(self, saw=(*self.saw, (look, result)))

    def as_json(self) -> dict[str, Any]:
        """A flat JSON form; unknowns are left out."""
        facet = {key: value for key, value in flat(self.facet).items() if value not in (None, [])}
        out = {**flat(self), "facet": facet}
        return {key: value for key, value in out.items() if value not in (None, [], {}, 0)}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Case:
        """The inverse of :meth:`as_json`. Raises ``KeyError``/``TypeError``/``ValueError`` on another shape.

        A case written by hand may give what was tried and seen as mappings, the part of the stone among the facts, and
        one map of the facet as ``map``.
        """
        f = dict(data.get("facet", {}))
        facts = {key: str(value) for key, value in dict(data.get("facts") or {}).items()}
        f.setdefault("part", facts.pop("facet_part", None))
        trials = tuple(Trial(**t) for t in f.pop("trials", ()))
        if data.get("map"):
            trials = (Trial(0.0, 0.0, data["map"]),)
        if "size_mm" in f:
            a, b = f["size_mm"]
            f["size_mm"] = (float(a), float(b))
        return cls(
            material=data.get("material"),
            lap=data.get("lap"),
            compound=data.get("compound"),
            stage=data.get("stage", "polish"),
            symptoms=tuple(data.get("symptoms", ())),
            facts=MappingProxyType(facts),
            prior=data.get("prior"),
            facet=FacetSetting(**f, trials=trials),
            tried=tuple((r, o) for r, o in _pairs(data.get("tried"))),
            saw=tuple((k, r) for k, r in _pairs(data.get("saw"))),
            own_lap=data.get("own_lap"),
            corrections=tuple((i, a, di, da) for i, a, di, da in data.get("corrections", ())),
            settled=int(data.get("settled", 0)),
        )


def _pairs(told: Any) -> Iterable[Any]:
    return told.items() if isinstance(told, Mapping) else told or ()
