"""What the calculators add to a case: facts for the rules before they run, amounts and prices for the plan after."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from lapwise.engine.case import Case, FacetSetting
from lapwise.engine.facts import read_size
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.machine import MachineProfile

NUDGES = {"adjust-fine-index": "turn", "adjust-angle": "angle"}
"""Remedies whose amount comes from the facet map, and the part of the correction that is theirs."""


@dataclass(frozen=True, slots=True)
class Calculated:
    """``facts``: slot to value for the rules. ``correction``: the JSON of the correction, if there is a facet map."""

    facts: dict[str, str | float]
    correction: dict[str, Any] | None
    sentences: tuple[str, ...] = ()


def damage_range(case: Case, knowledge: Knowledge) -> tuple[float, float] | None:
    """Depth of damage the step before may have left, µm (low, high); None if its grain is not known."""
    prior = knowledge.compounds.get(case.prior or "")
    if prior is None or not prior.typical_um:
        return None
    from lapwise.engine.abrasion import damage_depth

    return damage_depth(prior.typical_um)


def _facet(case: Case) -> FacetSetting:
    """The facet under work, with its part and size taken from the conditions where only those tell them."""
    size = case.facet.size_mm or read_size(case.facts.get("facet_size", ""))
    return replace(case.facet, part=case.facet.part or case.facts.get("facet_part"), size_mm=size)


def calculated(case: Case, knowledge: Knowledge, profile: MachineProfile | None) -> Calculated:
    """Facts and amounts from the facet map and the grain sizes of the case."""
    facts: dict[str, str | float] = {}
    correction = None
    sentences: tuple[str, ...] = ()
    if case.facet.trials:
        from lapwise.engine.contact import correct, findings

        facet = _facet(case)
        facts.update(findings(facet))
        answer = correct(facet, damage_um=damage_range(case, knowledge), profile=profile)
        correction = answer.as_json()
        sentences = tuple(answer.sentences())
    prior = knowledge.compounds.get(case.prior or "")
    now = knowledge.compounds.get(case.compound or "")
    if case.stage == "polish" and prior and now and prior.typical_um and now.typical_um:
        from lapwise.engine.abrasion import verdict

        facts["step_verdict"] = verdict(prior.typical_um, now.typical_um, now.kind)
    return Calculated(facts, correction, sentences)


def amount(remedy: str, result: Calculated) -> dict[str, Any] | None:
    """The computed amount of a nudge or of dopping again, or None."""
    correction = result.correction
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
    from lapwise.engine.abrasion import step_back_price

    return step_back_price(depth, angle_degrees=case.facet.angle, size_mm=_facet(case).size_mm, steps=steps_back)
