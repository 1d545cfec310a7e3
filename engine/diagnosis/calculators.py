"""What the calculators add to a case: facts for the rules before they run, amounts and prices for the plan after."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from lapwise.engine.case import Case, FacetSetting
from lapwise.engine.errors import NothingFound
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.machine import MachineProfile, gear_of
from lapwise.engine.numerals import read_size

NUDGES = {"adjust-fine-index": "turn", "adjust-angle": "angle"}
"""Remedies whose amount comes from the facet map, and the part of the correction that is theirs."""


@dataclass(frozen=True, slots=True)
class Calculated:
    """``facts``: slot to value for the rules. ``correction``: the JSON of the correction, if there is a facet map."""

    facts: dict[str, str | float]
    correction: dict[str, Any] | None
    seat: dict[str, Any] | None = None
    """The JSON of how the stone sits on its dop, if enough corrections of other facets are known."""
    sentences: tuple[str, ...] = ()


def damage_range(case: Case, knowledge: Knowledge) -> tuple[float, float] | None:
    """Depth of damage the step before may have left, µm (low, high); None if its grain is not known."""
    prior = knowledge.compounds.get(case.prior or "")
    if prior is None or not prior.typical_um:
        return None
    from lapwise.engine.abrasion import damage_depth  # start-up time

    return damage_depth(prior.typical_um)


def _facet(case: Case) -> FacetSetting:
    """The facet under work, with its part and size taken from the conditions where only those tell them."""
    size = case.facet.size_mm or read_size(case.facts.get("facet_size", ""))
    return replace(case.facet, part=case.facet.part or case.facts.get("facet_part"), size_mm=size)


def calculated(case: Case, knowledge: Knowledge, profile: MachineProfile | None) -> Calculated:
    """Facts and amounts from the facet map and the grain sizes of the case."""
    facts: dict[str, str | float] = {}
    correction = None
    words: tuple[str, ...] = ()
    if case.facet.trials:
        from lapwise.engine.contact import correct, findings, sentences  # start-up time

        facet = _facet(case)
        answer = correct(facet, damage_um=damage_range(case, knowledge), profile=profile)
        facts.update(findings(facet, answer))
        correction = answer.as_json()
        words = sentences(answer)
    prior = knowledge.compounds.get(case.prior or "")
    now = knowledge.compounds.get(case.compound or "")
    if case.stage == "polish" and prior and now and prior.typical_um and now.typical_um:
        from lapwise.engine.abrasion import verdict  # start-up time

        facts["step_verdict"] = verdict(prior.typical_um, now.typical_um, now.kind)
    seat = None
    if case.corrections:
        pattern, seat = _seat(case, profile)
        if pattern is not None:
            facts["stone_pattern"] = pattern
    return Calculated(facts, correction, seat, words)


def _seat(case: Case, profile: MachineProfile | None) -> tuple[str | None, dict[str, Any] | None]:
    """What the corrections found round the stone say: their pattern, and the fit where there are rows enough."""
    from lapwise.engine.transfer import fit, make_row, pattern  # start-up time

    gear = gear_of(case.facet.gear, profile)
    rows = [make_row(n, i, a, di, da, gear) for n, (i, a, di, da) in enumerate(case.corrections, 1)]
    try:
        return pattern(rows, gear), fit(rows, gear).as_json()
    except NothingFound:
        return pattern(rows, gear), None


def amount(remedy: str, result: Calculated) -> dict[str, Any] | None:
    """The computed amount of a nudge or of dopping again, or None."""
    correction, seat = result.correction, result.seat
    if remedy == "re-dop" and seat is not None:
        return {key: seat[key] for key in ("tilt", "toward_index", "index_zero", "angle_offset")}
    if correction is None:
        return None
    part = NUDGES.get(remedy)
    if part is not None:
        chosen = dict(correction[part])
        return chosen if chosen.get("sense") != "none" else None
    if remedy in ("re-dop", "set-height"):
        return {"turn": correction["turn"], "angle": correction["angle"]}
    return None


def price(steps_back: int, case: Case, knowledge: Knowledge) -> dict[str, Any] | None:
    """What stepping back costs in stone, or None where nothing is known of the steps before."""
    if steps_back < 1:
        return None
    depth = damage_range(case, knowledge)
    if depth is None:
        return None
    from lapwise.engine.abrasion import step_back_price  # start-up time

    return step_back_price(depth, angle_degrees=case.facet.angle, size_mm=_facet(case).size_mm, steps=steps_back)
