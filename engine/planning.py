"""From cutting to polish for one material: the steps, what to watch for, and whether a step leaves damage behind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from lapwise.engine.abrasion import Rung, check_ladder
from lapwise.engine.case import Case
from lapwise.engine.errors import Issue, NothingFound
from lapwise.engine.handwork import Job, dangerous, jobs, keep_off
from lapwise.engine.knowledge.model import Knowledge, Lap, Material, Target
from lapwise.engine.pairs import Choice, candidates, pair_fit
from lapwise.engine.wording import small

GENTLE_START, USUAL_START = "diamond-600", "diamond-260"
LADDER = ("diamond-260", "diamond-600", "diamond-1200", "diamond-3000", "diamond-8000")
"""Each about 2 to 2.5 times finer in µm than the one before: published step ratio 2 to 3 (optics shop practice)."""
SOFT_MOHS = 5.5
SCAIFE_MOHS = 10.0
OIL_CREEPS_IN = frozenset({"filled-or-oiled", "water-sensitive"})
FRAIL_RPM = 100
"""Most a very brittle stone is polished at, published for dioptase (source igs_exotic)."""
PACE_SOURCE = "igs_exotic"
MOST_ALTERNATIVES = 5
BODIES = ("polymer", "metal", "ceramic", "film", "wax", "wood", "pitch", "cloth")
CUTTING_LAPS = ("plated-diamond-lap", "sintered-diamond-lap")
PREPOLISH_LAPS = {
    "diamond-1200": ("plated-diamond-lap", "resin-diamond-lap", "copper-lap", "sintered-diamond-lap"),
    "diamond-3000": ("tin-lap", "tin-alloy-lap", "copper-lap", "zinc-lap", "resin-diamond-lap", "composite-lap"),
    "diamond-8000": ("zinc-lap", "copper-lap", "tin-alloy-lap", "tin-lap", "composite-lap", "resin-diamond-lap"),
}
"""Softer laps hold 3000 well, harder ones suit 8000 (a cutters' society article on pre-polish)."""


@dataclass(frozen=True, slots=True)
class Owned:
    """A lap the person has: its type, and what it has been charged with or holds in its face; empty: nothing yet."""

    lap: str
    carries: tuple[str, ...] = ()

    def fits(self, lap: str, compound: str) -> bool:
        """Whether it may serve a step on this kind of lap with this compound."""
        return self.lap == lap and (not self.carries or compound in self.carries)


@dataclass(frozen=True, slots=True)
class Step:
    """One step. ``um``: typical grain, µm. ``rpm``: usual speed range. ``missing``: the person owns no lap for it."""

    stage: str
    lap: str
    compound: str
    um: float | None
    rpm: tuple[int, int]
    wetness: str
    watch: tuple[str, ...]
    because: str
    missing: bool
    pace: str = ""
    """Why it is run more slowly than the lap usually is (from :data:`PACE_SOURCE`); empty: it is not."""


@dataclass(frozen=True, slots=True)
class WorkPlan:
    """The steps in order, truly different polish pairs grouped by compound, what a ladder leaves behind, cautions.

    ``jobs``: what is done off the lap, each with the place among the steps it comes before.
    """

    material: str
    steps: tuple[Step, ...]
    alternatives: tuple[Choice, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    jobs: tuple[Job, ...] = ()


def gentle(material: Material) -> bool:
    """Whether coarse diamond would bruise or split this stone: soft, poor in toughness or cleaving perfectly."""
    soft = material.mohs is not None and material.mohs.middle < SOFT_MOHS
    weak = material.toughness is not None and material.toughness.level == "poor"
    return soft or weak or "brittle" in material.traits or _cleaves(material)


def _cleaves(material: Material) -> bool:
    return any(c.quality == "perfect" for c in material.cleavage)


class Shelf:
    """The person's own laps, each given to one step only: a lap takes one compound for good."""

    def __init__(self, own: Sequence[Owned]) -> None:
        self._left = list(own)
        self._any = bool(own)

    def has(self, lap: str, compound: str) -> bool:
        """Whether a lap of this type is left that carries this compound, or none yet."""
        return any(o.fits(lap, compound) for o in self._left)

    def take(self, lap: str, compound: str) -> None:
        """Give such a lap away, one that carries the compound already before a bare one."""
        fitting = [o for o in self._left if o.fits(lap, compound)]
        if fitting:
            self._left.remove(min(fitting, key=lambda o: not o.carries))

    def pick(self, laps: Sequence[str], compound: str) -> tuple[str, bool]:
        """(lap, had) for a step: an own lap, now given away, else the usual one; with no own laps all are had."""
        for lap in laps:
            if self.has(lap, compound):
                self.take(lap, compound)
                return lap, True
        return laps[0], not self._any


def _pace(lap: Lap, material: Material, stage: str) -> tuple[tuple[int, int], str]:
    """(speeds, why slower than usual): the slower half of the lap's for a stone that is soft, weak, cleaves or takes
    heat badly; for one that is weak and soft besides, or weak, brittle and cleaving, 100 rpm at the most from the
    pre-polish on and the slowest quarter before.

    That frail and cleavable stones are run slowly, and the 100 rpm, are published (source igs_exotic, for dioptase); to
    which others it is carried over, the half and the quarter are judgement.
    """
    low, high = lap.rpm
    soft = material.mohs is not None and material.mohs.middle < SOFT_MOHS
    hot = material.heat is not None and material.heat.level in ("high", "extreme")
    weak = material.toughness is not None and material.toughness.level == "poor"
    if weak and (soft or ("brittle" in material.traits and _cleaves(material))):
        why = material.toughness.because if material.toughness else ""
        if stage == "cut":
            return (low, (3 * low + high) // 4), f"Slow: {why}"
        most = min(FRAIL_RPM, (low + high) // 2)
        return (min(low, most), most), f"{most} rpm at most: {why}"
    if soft or hot or weak or _cleaves(material):
        level = material.heat if hot and not weak else material.toughness
        return (low, (low + high) // 2), f"The slower half: {level.because if level else 'it is soft.'}"
    return (low, high), ""


def _wetness(lap: Lap, compound_kind: str, material: Material) -> str:
    if lap.id in ("polishing-film",):
        return "wet: a steady drip, the film must not run dry"
    if compound_kind == "oxide":
        return "damp: a thin milk, neither dry nor running"
    if "charged" in lap.traits and (material.traits & OIL_CREEPS_IN or "opal" in material.line):
        return "a trace of water or water-based spray, no oil: it creeps into this stone and stays"
    if "charged" in lap.traits:
        return "a trace of oil or spray: the lap looks barely moist"
    return "wet: water on the lap at all times"


def _watch(stage: str, material: Material, compound: str) -> tuple[str, ...]:
    out: list[str] = []
    if stage == "cut":
        if gentle(material):
            out.append("Nothing coarser: this stone bruises or splits under coarse diamond.")
        out.append("Stop short of the final size: the finer steps still take stone away.")
    if stage == "prepolish":
        out.append("Go on until every mark of the previous step is gone, checked dry under a loupe from two sides.")
        out.append("Wash stone, dop, hands and splash pan before the next lap.")
    if stage == "cut":
        out += [keep_off(cleavage) for cleavage in dangerous(material)]
    if material.heat is not None and material.heat.level in ("high", "extreme"):
        out.append("Keep it cool: " + material.heat.because)
    if material.water is not None and material.water.level in ("high", "extreme"):
        out.append("Do not leave it lying in water, and keep the water at one temperature: " + material.water.because)
    if stage == "polish":
        if material.directional is not None and material.directional.level in ("marked", "extreme"):
            out.append("Where it polishes one way only, change direction: " + material.directional.because)
        out.append("A facet that is not done after two minutes needs a step back, not more time.")
    return tuple(dict.fromkeys(out))


def _lacking(step: Step, knowledge: Knowledge) -> str:
    lap, compound = knowledge.laps[step.lap].label, knowledge.compounds[step.compound].label
    return f"You have no lap for the {compound} step (usually:  {lap})."


def compound_group(choice: Choice, knowledge: Knowledge) -> str:
    """What counts as one compound among alternatives: all fine diamond is one, each oxide another."""
    compound = knowledge.compounds.get(choice.compound or "")
    return "" if compound is None else compound.kind if compound.kind == "diamond" else compound.id


def different(best: Choice, others: Sequence[Choice], knowledge: Knowledge) -> tuple[Choice, ...]:
    """At most five truly different pairs beside ``best``, grouped by compound: another compound, or the same on
    another kind of body; ``others`` in order of preference. Compounds come first, bodies fill what room is left."""

    def kind(choice: Choice) -> tuple[str, str]:
        lap = knowledge.laps.get(choice.lap or "")
        body = next((b for b in BODIES if lap is not None and b in lap.traits), "")
        return compound_group(choice, knowledge), body

    seen = {kind(best)}
    new: list[Choice] = []
    for choice in others:
        if kind(choice) not in seen:
            seen.add(kind(choice))
            new.append(choice)
    first = {compound_group(c, knowledge): c for c in reversed(new)}
    taken = [c for c in new if first[compound_group(c, knowledge)] is c]
    taken += [c for c in new if c not in taken]
    kept = taken[:MOST_ALTERNATIVES]
    groups = list(dict.fromkeys(compound_group(c, knowledge) for c in kept))
    return tuple(sorted(kept, key=lambda c: (groups.index(compound_group(c, knowledge)), new.index(c))))


def plan(material_id: str, knowledge: Knowledge, own: Sequence[Owned] = ()) -> WorkPlan:
    """Steps from cutting to polish for ``material_id`` with the laps in ``own`` (empty: the usual ones).

    Raises :class:`NothingFound` for diamond, which no faceting machine polishes (common practice, no source).
    """
    material = knowledge.materials[material_id]
    if material.mohs is not None and material.mohs.low >= SCAIFE_MOHS:
        what = "diamond is polished on the scaife, by a diamond polisher: there is no plan for it on a faceting machine"
        raise NothingFound(Issue(what, "plan", material_id))
    start = LADDER.index(GENTLE_START if gentle(material) else USUAL_START)
    case = Case(material=material_id, stage="polish")
    shelf = Shelf(own)
    found = candidates(Target(), case, knowledge, {o.lap for o in own})
    choices = [replace(c, own=bool(c.lap and c.compound and shelf.has(c.lap, c.compound))) for c in found]
    preference = {(c.lap, c.compound): i for i, c in enumerate(candidates(Target(), case, knowledge))}
    choices.sort(key=lambda c: (not c.own, preference.get((c.lap, c.compound), len(preference))))
    best = choices[0] if choices else Choice(None, None, "", "practice")
    if best.lap and best.compound:
        shelf.take(best.lap, best.compound)
    kind = knowledge.compounds[best.compound].kind if best.compound else "oxide"
    ladder = [*LADDER[start:]] if kind == "diamond" else [c for c in LADDER[start:] if c != "diamond-8000"]
    steps: list[Step] = []

    def add(stage: str, lap: str, compound: str, because: str, *, missing: bool) -> None:
        body, grain = knowledge.laps[lap], knowledge.compounds[compound]
        watch = _watch(stage, material, compound)
        if any(s.lap == lap and s.compound != compound for s in steps) and "charged" in body.traits:
            watch = (
                f"Not the {small(body.label)} of an earlier step but a second one, kept for this compound alone.",
                *watch,
            )
        wet = _wetness(body, grain.kind, material)
        rpm, pace = _pace(body, material, stage)
        steps.append(Step(stage, lap, compound, grain.typical_um, rpm, wet, watch, because, missing, pace))

    published = {c: p for p in material.polishes_with if p.stage == "prepolish" for c in p.compounds}
    for compound in ladder:
        stage = "prepolish" if compound in PREPOLISH_LAPS else "cut"
        pair = published.get(compound)
        usual = PREPOLISH_LAPS.get(compound, CUTTING_LAPS)
        if pair is None and pair_fit(material, usual[0], compound, stage) == "avoided":
            continue  # the usual lap for this grain harms the stone, and nobody names another: the next step takes over
        laps = (*(pair.laps if pair else ()), *usual)
        lap, had = shelf.pick([p for p in laps if pair_fit(material, p, compound, stage) != "avoided"], compound)
        because = pair.because if pair and pair.because else "The usual ladder: each step two to three times finer."
        add(stage, lap, compound, because, missing=not had)
    if best.lap and best.compound:
        add("polish", best.lap, best.compound, best.because, missing=bool(own) and not best.own)
    warnings = [_lacking(s, knowledge) for s in steps if s.missing]
    have = [s for s in steps if not s.missing] or steps
    grains = knowledge.compounds
    rungs = [Rung(grains[s.compound].label, s.um, grains[s.compound].kind) for s in have if s.um]
    warnings += check_ladder(rungs)
    cautions = [*material.cautions]
    for step in steps:
        cautions += [*knowledge.laps[step.lap].cautions, *knowledge.compounds[step.compound].cautions]
    polish = next((i for i, s in enumerate(steps) if s.stage == "polish"), len(steps))
    return WorkPlan(
        material_id,
        tuple(steps),
        different(best, choices[1:], knowledge),
        tuple(warnings),
        tuple(dict.fromkeys(cautions)),
        jobs(material, len(steps), polish),
    )
