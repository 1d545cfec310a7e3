"""Lap and compound together on a material: how a pair is rated, and which pair a remedy should go to."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from lapwise.engine.case import Case
from lapwise.engine.knowledge.model import Compound, Knowledge, Lap, Material, Pair, Target

Fit = Literal["listed", "unlisted", "avoided"]
USUAL_STEP = 2.0
"""A step in grain is usually two to three times in µm (optics shop practice)."""
YIELDING = frozenset({"wax", "pitch"})
"""Bodies that give way under the stone, so that nobody goes to them for a harder lap."""
ABOUT_AS_HARD = {"metal": 1.0, "polymer": 1.5}
"""Ranks of hardness that a hand does not tell apart on charged laps of one kind: judgement."""
FINAL_UM = 1.0
"""Grains below this all leave a finished polish, so that a try with one tells of the others: common practice."""
PairFit = Literal["preferred", "listed", "unlisted", "avoided", "disputed"]


@dataclass(frozen=True, slots=True)
class Choice:
    """A pair to go to. ``own``: the lap is among the person's own; ``known``: published for this material."""

    lap: str | None
    compound: str | None
    because: str
    source: str
    own: bool = False
    known: bool = True

    def as_json(self) -> dict[str, str | None]:
        """The ``to`` of a plan step."""
        return {"lap": self.lap, "compound": self.compound}


def _names(pair: Pair, lap: str, compound: str) -> bool:
    return (not pair.laps or lap in pair.laps) and (not pair.compounds or compound in pair.compounds)


def _stage(material: Material, stage: str) -> list[Pair]:
    return [p for p in material.polishes_with if p.stage == stage]


def pair_fit(material: Material, lap: str, compound: str, stage: str = "polish") -> PairFit:
    """What is known of this lap with this compound on the material."""
    good = [i for i, p in enumerate(_stage(material, stage)) if _names(p, lap, compound)]
    bad = any(_names(p, lap, compound) for p in material.avoid if p.stage == stage)
    if good and bad:
        return "disputed"
    if bad:
        return "avoided"
    if good:
        return "preferred" if good[0] == 0 else "listed"
    return "unlisted"


def compound_fit(material: Material, compound: str, stage: str = "polish") -> Fit:
    """What is known of the compound on the material, whatever the lap."""
    good = any(compound in p.compounds for p in _stage(material, stage))
    bad = any(compound in p.compounds and not p.laps for p in material.avoid if p.stage == stage)
    return "listed" if good else "avoided" if bad else "unlisted"


def lap_fit(material: Material, lap: str, stage: str = "polish") -> Fit:
    """What is known of the lap on the material, whatever the compound."""
    good = any(lap in p.laps for p in _stage(material, stage))
    bad = any(lap in p.laps and not p.compounds for p in material.avoid if p.stage == stage)
    return "listed" if good else "avoided" if bad else "unlisted"


def _size(compound: Compound | None) -> float | None:
    return compound.typical_um if compound else None


def _related(target: Target, now_lap: Lap | None, now: Compound | None, lap: Lap | None, to: Compound | None) -> bool:
    """Whether the pair stands in the wanted relation to what is on the machine."""
    a, b = _size(now), _size(to)
    if target.relation == "finer":
        return bool(now and to and _same_kind(now, to) and a and b and b < a)
    if target.relation == "coarser":
        # a coarser oxide is a pre-polish, never the way to a polish
        return bool(now and to and now.kind != "oxide" and _same_kind(now, to) and a and b and b > a)
    if target.relation == "between" and now and now.kind == "diamond" and a and b:
        return b > a
    if target.relation in ("softer", "harder") and now_lap and lap:
        if target.relation == "softer":
            return lap.hardness < now_lap.hardness
        return lap.hardness > now_lap.hardness and not YIELDING & lap.traits
    if target.relation == "other":
        changed_compound = now is None or to is None or to.id != now.id
        changed_lap = now_lap is None or lap is None or lap.id != now_lap.id
        return {"lap": changed_compound, "compound": changed_lap}.get(target.keep, changed_lap or changed_compound)
    return True


def _same_kind(now: Compound, to: Compound) -> bool:
    """Whether they differ in grain alone: two diamonds, or two grades of one oxide (named alike)."""
    if now.kind != to.kind:
        return False
    return now.kind == "diamond" or now.id.startswith(to.id) or to.id.startswith(now.id)


def _step_off(now: Compound | None, to: Compound | None) -> float:
    """How far the change of grain is from the usual step, as a logarithm."""
    a, b = _size(now), _size(to)
    return abs(math.log(max(a, b) / min(a, b) / USUAL_STEP)) if a and b else 0.0


def stands_so(target: Target, case: Case, choice: Choice, knowledge: Knowledge) -> bool:
    """Whether ``choice`` stands to what is on the machine as ``target`` asks (a grain of the same kind, coarser)."""
    laps, compounds = knowledge.laps, knowledge.compounds
    now_lap, now = laps.get(case.lap or ""), compounds.get(case.compound or "")
    return _related(target, now_lap, now, laps.get(choice.lap or ""), compounds.get(choice.compound or ""))


def nearly_the_same(one: Choice, two: Choice, knowledge: Knowledge) -> bool:
    """Whether a try with one pair tells what a try with the other would: the same lap, or two charged ones of
    one kind about as hard, with the same compound, a grain less than a usual step away, or two that both finish."""
    lap, other = knowledge.laps.get(one.lap or ""), knowledge.laps.get(two.lap or "")
    grain, second = knowledge.compounds.get(one.compound or ""), knowledge.compounds.get(two.compound or "")
    if lap is None or other is None or grain is None or second is None:
        return False
    kinds = lap.traits & other.traits if "charged" in lap.traits & other.traits else frozenset()
    apart = abs(lap.hardness - other.hardness)
    if lap.id != other.id and not any(apart <= most for kind, most in ABOUT_AS_HARD.items() if kind in kinds):
        return False
    a, b = _size(grain), _size(second)
    near = bool(a and b and (max(a, b) / min(a, b) < USUAL_STEP or max(a, b) < FINAL_UM))
    return grain.id == second.id or (near and _same_kind(grain, second))


def owns(own: Collection[str] | Mapping[str, Collection[str]], lap: str | None, compound: str | None) -> bool:
    """Whether the person has such a lap for this compound. ``own``: lap types, or types to the compounds that the
    laps of that type carry (none: at least one is bare yet)."""
    if lap is None or lap not in own:
        return False
    carried = own[lap] if isinstance(own, Mapping) else ()
    return not carried or compound is None or compound in carried


def _finer(compound: Compound, than: Compound) -> bool:
    a, b = _size(compound), _size(than)
    return a is None or b is None or a < b


def _carries(lap: Lap, compound: Compound) -> bool:
    return compound.id in lap.carries or compound.kind in lap.carries


def _cuts(lap: Lap | None, compound: Compound | None) -> bool:
    """Whether shaping is done with this: a lap that holds its diamond for good, of 1200 or coarser."""
    bonded = lap is None or "bonded-diamond" in lap.traits
    coarse = compound is None or (compound.kind == "diamond" and (compound.mesh or 0) <= 1200)
    return bonded and coarse


def _allowed(target: Target, case: Case, lap: Lap | None, compound: Compound | None) -> bool:
    if target.keep == "lap" and case.lap and (lap is None or lap.id != case.lap):
        return False
    if target.keep == "compound" and case.compound:
        # A diamond whose grade is not known may be any of the grades that suit the stone.
        kept = compound and (
            compound.id == case.compound or (case.compound == "diamond-unknown" and compound.kind == "diamond")
        )
        if not kept:
            return False
    if lap is not None:
        if target.laps and lap.id not in target.laps:
            return False
        if target.lap_traits and not set(target.lap_traits) & lap.traits:
            return False
    if compound is not None:
        if target.compounds and compound.id not in target.compounds:
            return False
        if target.kinds and compound.kind not in target.kinds:
            return False
    return lap is None or compound is None or _carries(lap, compound)


def _known(material: Material, case: Case, knowledge: Knowledge, stage: str) -> Iterator[Choice]:
    for pair in _stage(material, stage):
        for lap in pair.laps or ((case.lap,) if case.lap else (None,)):
            for compound in pair.compounds or ((case.compound,) if case.compound else (None,)):
                if lap is None and compound is None:
                    continue
                yield Choice(lap, compound, pair.because, pair.source)


def _generic(target: Target, case: Case, knowledge: Knowledge) -> Iterator[Choice]:
    """Pairs that fit the target by what laps carry, nearest to what is on the machine first; not published for
    this material."""
    now_lap = knowledge.laps.get(case.lap or "")
    now = knowledge.compounds.get(case.compound or "")
    laps: list[Lap | None] = list(knowledge.laps.values())
    if target.keep == "lap" or (not target.laps and not target.lap_traits and target.relation in ("finer", "coarser")):
        laps = [now_lap]
    compounds: list[Compound | None] = list(knowledge.compounds.values())
    if target.keep == "compound" or target.relation in ("softer", "harder"):
        compounds = [now]
    options = [
        (lap, to)
        for lap in laps
        for to in compounds
        if (lap is not None or to is not None)
        and _allowed(target, case, lap, to)
        and _related(target, now_lap, now, lap, to)
    ]

    def distance(option: tuple[Lap | None, Compound | None]) -> tuple[float, float, str, str]:
        lap, to = option
        far = abs(lap.hardness - now_lap.hardness) if lap and now_lap else 0.0
        a, b = _size(now), _size(to)
        step = max(a, b) / min(a, b) if a and b else 1.0
        wanted = USUAL_STEP if target.relation in ("finer", "coarser") else 1.0
        return (far, abs(math.log(step / wanted)), lap.id if lap else "", to.id if to else "")

    for lap, to in sorted(options, key=distance):
        yield Choice(lap.id if lap else None, to.id if to else None, "", "practice", known=False)


def candidates(
    target: Target,
    case: Case,
    knowledge: Knowledge,
    own: Collection[str] | Mapping[str, Collection[str]] = (),
    *,
    stage: str = "polish",
) -> list[Choice]:
    """All pairs the remedy may go to, best first: own laps before others, then the material's own order.

    ``own``: what the person owns, see :func:`owns` (empty: nothing is known of it). Pairs known to fail on the
    material, the pair already on the machine and laps that hold lead (save own ones) are left out; a finer or coarser
    grain stays on the same lap where it can, about a usual step away, and a step put in between is a usual one. With
    a known material only published pairs count, save where the target keeps the lap or the compound and nothing
    published fits.
    """
    material = knowledge.materials.get(case.material or "")
    before = knowledge.compounds.get(case.prior or "")
    found: list[Choice] = []

    def consider(choices: Iterator[Choice]) -> None:
        for choice in choices:
            lap = knowledge.laps.get(choice.lap or "")
            compound = knowledge.compounds.get(choice.compound or "")
            if compound is not None and compound.kind == "carbide":
                continue
            if compound is not None and stage == "polish" and compound.mesh and compound.mesh < 8000:
                continue
            if stage == "cut" and not _cuts(lap, compound):
                continue
            if choice.lap == case.lap and choice.compound == case.compound:
                continue
            # a lap that holds lead is for those who have one already, not to be bought on our word
            if lap is not None and "contains-lead" in lap.traits and lap.id not in own and lap.id != case.lap:
                continue
            if not _allowed(target, case, lap, compound):
                continue
            if target.relation == "between" and before and compound and not _finer(compound, before):
                continue
            if not stands_so(target, case, choice, knowledge):
                continue
            if material and choice.lap and choice.compound:
                fails = pair_fit(material, choice.lap, choice.compound, stage) == "avoided"
                if not choice.known:
                    fails = fails or compound_fit(material, choice.compound, stage) == "avoided"
                if fails:
                    continue
            if not any((c.lap, c.compound) == (choice.lap, choice.compound) for c in found):
                owned = owns(own, choice.lap, choice.compound)
                found.append(Choice(choice.lap, choice.compound, choice.because, choice.source, owned, choice.known))

    if material:
        consider(_known(material, case, knowledge, stage))
    if not found:
        consider(_generic(target, case, knowledge))
    if target.relation == "between":
        found.sort(key=lambda c: _step_off(before, knowledge.compounds.get(c.compound or "")))
    if target.relation in ("finer", "coarser"):
        now = knowledge.compounds.get(case.compound or "")
        found.sort(key=lambda c: (c.lap != case.lap, _step_off(now, knowledge.compounds.get(c.compound or ""))))
    return sorted(found, key=lambda c: not c.own)  # stable: the order of preference stays
