"""What one case adds to the counts that learning reads: soft counts, whole numbers so that sums never depend on order.

A case that was tried on shares its credit among the causes by the posterior at its end: the posterior that was shown
before the last remedy, times the chance of that remedy's outcome under each cause. Credit is counted in millionths.
A success counts as 1 less what the rules of that case had lifted the chance by (``fix`` less ``base`` of what was
shown), a failure as 0 less the same: to first order the mean is then that of the chance without those rules.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lapwise.engine.case import Case
from lapwise.engine.record.model import CaseRecord, Step

UNIT = 1_000_000
"""One trial in the soft counts."""
ALL = "*"
Key = tuple[str, str, str, str, str]
"""Kind and up to four names. The kinds, with what the two numbers count:

``fix`` (level, name, remedy, cause): trials and fixes, in millionths. ``cause`` (level, name, cause): seen and
expected, in millionths. ``use`` and ``pair`` (material, lap, compound): worked and failed. ``tally`` (material,
lap|compound, remedy, outcome): times and seconds. ``spent`` (material, cause): seconds. ``month`` (material, month):
facets finished and seconds. ``lap`` (own lap, material, compound): cases.
"""
LEARNED = frozenset({"fix", "cause", "use"})
"""The kinds that change advice: what `lapwise record forget` takes out. The others only describe the record."""
LEAST = 0.002
"""A cause under this share gets no credit: it keeps the tables small and moves nothing."""


def _chances(shown: Mapping[str, Any] | None, key: str) -> dict[str, float]:
    found = shown.get(key) if shown else None
    return {str(c): float(p) for c, p in found.items()} if isinstance(found, Mapping) else {}


def _normal(weights: Mapping[str, float]) -> dict[str, float]:
    total = sum(weights.values())
    return {c: w / total for c, w in weights.items()} if total > 0 else {}


def after(step: Step) -> dict[str, float]:
    """The posterior after a step, as it was worked out when the step was logged.

    A row that holds no such posterior (another program's) is read for what needs no scale: a cure and a failure.
    """
    before = _chances(step.shown, "posterior")
    fix = _chances(step.shown, "fix") if step.kind == "try" else {}
    if kept := _chances(step.shown, "after"):
        return _normal(kept)
    if fix and step.outcome == "fixed":
        return _normal({c: p * fix.get(c, 0.0) for c, p in before.items()}) or _normal(before)
    if fix and step.outcome == "no-change":
        return _normal({c: p * (1.0 - fix.get(c, 0.0)) for c, p in before.items()}) or _normal(before)
    return _normal(before)


def shares(record: CaseRecord) -> tuple[dict[str, float], dict[str, float], dict[str, float]]:
    """(posterior before anything was tried, posterior at the end, cause factors in use at the start)."""
    start: dict[str, float] = {}
    end: dict[str, float] = {}
    factors: dict[str, float] = {}
    for step in record.steps:
        if step.withdrawn or step.kind not in ("try", "look"):
            continue
        before = _normal(_chances(step.shown, "posterior"))
        if not start and before:
            start, factors = before, _chances(step.shown, "factors")
        end = after(step) or end
    return start, end, factors


def levels(case: Case) -> list[tuple[str, str]]:
    """The groups a case belongs to for the chance that a remedy works."""
    found = [("all", ALL), ("material", case.material or "")]
    if case.lap:
        found.append(("lap", case.lap))
    if case.own_lap:
        found.append(("own", case.own_lap))
    return found


def leaf(material: str | None, lap: str | None, compound: str | None) -> str:
    """The key of a material with its lap and compound."""
    return f"{material or ''}|{lap or ''}|{compound or ''}"


class Sums:
    """Two whole numbers for each key, added up."""

    def __init__(self) -> None:
        self.of: dict[Key, list[int]] = {}

    def add(self, key: Key, a: int, b: int = 0) -> None:
        """Add to the numbers of a key."""
        kept = self.of.get(key)
        if kept is None:
            self.of[key] = [a, b]
        else:
            kept[0] += a
            kept[1] += b


def _count_pair(out: Sums, material: str, case: Case, record: CaseRecord) -> None:
    def add(lap: str | None, compound: str | None, worked: bool) -> None:
        if lap and compound and case.stage == "polish":
            for kind in ("pair", "use"):
                out.add((kind, material, lap, compound, ""), int(worked), int(not worked))

    if record.result in ("fixed", "polished"):
        last = next((s for s in reversed(record.steps) if s.kind == "try" and not s.withdrawn), None)
        to = last.shown.get("to") if last and last.shown else None
        if isinstance(to, Mapping) and (to.get("lap") or to.get("compound")):
            lap, compound = to.get("lap") or case.lap, to.get("compound") or case.compound
            if (lap, compound) != (case.lap, case.compound):
                add(case.lap, case.compound, False)
            add(lap, compound, True)
        else:
            add(case.lap, case.compound, True)
    elif record.result == "given-up":
        add(case.lap, case.compound, False)


def counts_of(record: CaseRecord) -> dict[Key, tuple[int, int]]:
    """All that this case adds to the counts, key to two whole numbers. Empty for a case that was taken back."""
    if record.withdrawn:
        return {}
    out = Sums()
    case = record.case
    material = case.material or ""
    own_used = {(case.own_lap, material, case.compound or "")}
    tries = [s for s in record.steps if s.kind == "try" and not s.withdrawn]
    for step in record.steps:
        if step.kind == "facts" and step.facts is not None and not step.withdrawn:
            earlier = Case.from_json(step.facts)
            own_used.add((earlier.own_lap, earlier.material or "", earlier.compound or ""))
    for own, used_on, compound in own_used:
        if own:
            out.add(("lap", own, used_on, compound, ""), 1)
    _count_pair(out, material, case, record)
    pair = f"{case.lap or ''}|{case.compound or ''}"
    for step in tries:
        seconds = round((step.minutes or 0.0) * 60)
        out.add(("tally", material, pair, step.remedy or "", step.outcome or ""), 1, seconds)
    seconds = round((record.minutes or 0.0) * 60)
    if record.result == "fixed" and seconds:
        out.add(("month", material, record.at[:7], "", ""), 1, seconds)
    _count_soft(out, record, tries, seconds)
    return {key: (a, b) for key, (a, b) in out.of.items() if a or b}


def _count_soft(out: Sums, record: CaseRecord, tries: list[Step], seconds: int) -> None:
    """Shares among causes: of trials and fixes, of minutes, and of how often a cause was seen and expected."""
    case = record.case
    material = case.material or ""
    start, end, factors = shares(record)
    groups = levels(case)
    told = [
        (
            s.remedy or "",
            s.outcome == "fixed",
            _chances(s.shown, "fix") if s.shown and "fix" in s.shown else None,
            _chances(s.shown, "base"),
        )
        for s in tries
        if s.outcome != "better"
    ]
    for cause, share in end.items():
        if share < LEAST:
            continue
        credit = round(share * UNIT)
        for remedy, fixed, used, base in told:
            if used is not None and cause not in used:
                continue  # the remedy is not known to cure this cause: nothing would ever ask for the chance
            # what a rule of this case favoured is taken out again, or it would count twice on the next such case
            lift = used[cause] - base[cause] if used is not None and cause in base else 0.0
            hit = round(credit * (fixed - lift))
            for level, name in groups:
                out.add(("fix", level, name, remedy, cause), credit, hit)
        if seconds:
            out.add(("spent", material, cause, "", ""), round(share * seconds))
    groups = [*groups, ("leaf", leaf(case.material, case.lap, case.compound))]
    if case.compound:
        groups.append(("compound", case.compound))
    for cause in start.keys() | end.keys():
        seen = round(end.get(cause, 0.0) * UNIT)
        expected = round(start.get(cause, 0.0) / min(max(factors.get(cause, 1.0), 0.02), 50.0) * UNIT)
        if seen < LEAST * UNIT and expected < LEAST * UNIT:
            continue
        for level, name in groups:
            out.add(("cause", level, name, cause, ""), seen, expected)


def difference(new: Mapping[Key, tuple[int, int]], old: Mapping[Key, tuple[int, int]]) -> dict[Key, tuple[int, int]]:
    """What must be added to go from ``old`` to ``new``."""
    if not old:
        return dict(new)
    found = {}
    for key in new.keys() | old.keys():
        a, b = new.get(key, (0, 0)), old.get(key, (0, 0))
        if a != b:
            found[key] = (a[0] - b[0], a[1] - b[1])
    return found
