"""From cutting to polish for one material: the steps, what to watch for, and whether a step leaves damage behind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapwise.engine.abrasion import Rung, check_ladder
from lapwise.engine.case import Case
from lapwise.engine.knowledge.model import Knowledge, Lap, Material, Target
from lapwise.engine.pairs import Choice, candidates

GENTLE_START, USUAL_START = "diamond-600", "diamond-260"
LADDER = ("diamond-260", "diamond-600", "diamond-1200", "diamond-3000", "diamond-8000")
"""Each about 2 to 2.5 times finer in µm than the one before: published step ratio 2 to 3 (optics shop practice)."""
CUTTING_LAPS = ("plated-diamond-lap", "sintered-diamond-lap")
PREPOLISH_LAPS = {
    "diamond-1200": ("plated-diamond-lap", "resin-diamond-lap", "copper-lap", "sintered-diamond-lap"),
    "diamond-3000": ("tin-lap", "tin-alloy-lap", "copper-lap", "zinc-lap", "resin-diamond-lap", "composite-lap"),
    "diamond-8000": ("zinc-lap", "copper-lap", "tin-alloy-lap", "tin-lap", "composite-lap", "resin-diamond-lap"),
}
"""Softer laps hold 3000 well, harder ones suit 8000 (a cutters' society article on pre-polish)."""
OWN_GRADE = frozenset({"plated-diamond-lap", "sintered-diamond-lap", "resin-diamond-lap", "polishing-film"})


@dataclass(frozen=True, slots=True)
class Owned:
    """A lap the person has: its type, and the grade on it if it carries one for good."""

    lap: str
    compound: str | None = None


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


@dataclass(frozen=True, slots=True)
class WorkPlan:
    """The steps in order, other polish pairs in order of preference, what a ladder leaves behind, cautions."""

    material: str
    steps: tuple[Step, ...]
    alternatives: tuple[Choice, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


def gentle(material: Material) -> bool:
    """Whether coarse diamond would bruise or split this stone: soft, poor in toughness or cleaving perfectly."""
    soft = material.mohs is not None and material.mohs.middle < 5.5
    weak = material.toughness is not None and material.toughness.level == "poor"
    return soft or weak or any(c.quality == "perfect" for c in material.cleavage)


def _pick(laps: Sequence[str], compound: str, own: Sequence[Owned]) -> tuple[str, bool]:
    """(lap, owned) for a step: an own lap that carries the grade, else the usual one."""
    for lap in laps:
        for owned in own:
            fits = owned.compound in (None, compound) if lap in OWN_GRADE else True
            if owned.lap == lap and fits:
                return lap, True
    return laps[0], not own


def _wetness(lap: Lap, compound_kind: str) -> str:
    if lap.id in ("polishing-film",):
        return "wet: a steady drip, the film must not run dry"
    if compound_kind == "oxide":
        return "damp: a thin milk, neither dry nor running"
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
        out.append("Go on until every mark of the step before is gone, checked dry under a loupe from two sides.")
        out.append("Wash stone, dop, hands and splash tray before the next lap.")
    for cleavage in material.cleavage:
        if cleavage.quality == "perfect" and cleavage.keep_off_degrees and stage == "cut":
            out.append(f"Keep every facet {cleavage.keep_off_degrees:g}° or more off the cleavage ({cleavage.plane}).")
    if material.heat is not None and material.heat.level in ("high", "extreme"):
        out.append("Keep it cool: " + material.heat.because)
    if stage == "polish":
        if material.directional is not None and material.directional.level in ("marked", "extreme"):
            out.append("Where it polishes one way only, change direction: " + material.directional.because)
        out.append("A facet that is not there after two minutes wants a step back, not more time.")
    return tuple(dict.fromkeys(out))


def _lacking(step: Step, knowledge: Knowledge) -> str:
    lap, compound = knowledge.laps[step.lap].label, knowledge.compounds[step.compound].label
    return f"You have no lap for the step {compound} (usually: {lap})."


def plan(material_id: str, knowledge: Knowledge, own: Sequence[Owned] = ()) -> WorkPlan:
    """Steps from cutting to polish for ``material_id`` with the laps in ``own`` (empty: the usual ones)."""
    material = knowledge.materials[material_id]
    start = LADDER.index(GENTLE_START if gentle(material) else USUAL_START)
    case = Case(material=material_id, stage="polish")
    types = {o.lap for o in own}
    choices = candidates(Target(), case, knowledge, types)
    best = choices[0] if choices else Choice(None, None, "", "practice")
    kind = knowledge.compounds[best.compound].kind if best.compound else "oxide"
    ladder = [*LADDER[start:]] if kind == "diamond" else [c for c in LADDER[start:] if c != "diamond-8000"]
    steps: list[Step] = []

    def add(stage: str, lap: str, compound: str, because: str, *, missing: bool) -> None:
        body, grain = knowledge.laps[lap], knowledge.compounds[compound]
        watch = _watch(stage, material, compound)
        wet = _wetness(body, grain.kind)
        steps.append(Step(stage, lap, compound, grain.typical_um, body.rpm, wet, watch, because, missing))

    published = {c: p for p in material.polishes_with if p.stage == "prepolish" for c in p.compounds}
    for compound in ladder:
        stage = "prepolish" if compound in PREPOLISH_LAPS else "cut"
        pair = published.get(compound)
        laps = (*(pair.laps if pair else ()), *PREPOLISH_LAPS.get(compound, CUTTING_LAPS))
        lap, owned = _pick(laps, compound, own)
        because = pair.because if pair and pair.because else "The usual ladder: each step two to three times finer."
        add(stage, lap, compound, because, missing=not owned)
    if best.lap and best.compound:
        add("polish", best.lap, best.compound, best.because, missing=bool(own) and not best.own)
    warnings = [_lacking(s, knowledge) for s in steps if s.missing]
    have = [s for s in steps if not s.missing] or steps
    grains = knowledge.compounds
    rungs = [Rung(grains[s.compound].label, s.um, grains[s.compound].kind) for s in have if s.um]
    warnings += [w.text for w in check_ladder(rungs) if w.fault != "idle-step"]
    cautions = [*material.cautions]
    for step in steps:
        cautions += [*knowledge.laps[step.lap].cautions, *knowledge.compounds[step.compound].cautions]
    return WorkPlan(material_id, tuple(steps), tuple(choices[1:6]), tuple(warnings), tuple(dict.fromkeys(cautions)))
