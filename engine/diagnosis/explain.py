"""Why a cause or a remedy stands where it does, and why not: the rules that fired and the conditions not met."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from lapwise.engine.case import STOP_SYMPTOM
from lapwise.engine.conclusions import OTHER, OTHER_LABEL, Fact
from lapwise.engine.diagnosis.jsonform import cause_json
from lapwise.engine.diagnosis.model import CauseView, CautionView, Diagnosis, PlanStep
from lapwise.engine.diagnosis.views import cautions_of, in_full, may_hold
from lapwise.engine.diagnosis.why_not import why_not
from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.flat import form
from lapwise.engine.inference import explain_rule
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.rule_words import condition_words, says_of
from lapwise.engine.wording import LEGAL, percent

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.options import Option
    from lapwise.engine.diagnosis.prepared import Prepared
    from lapwise.engine.diagnosis.session import Session


@dataclass(frozen=True, slots=True)
class FiredRule:
    """A rule that fired, or a symptom seen that speaks of it: the id, on which facts, and its sentence."""

    rule: str
    on: tuple[str, ...]
    because: str
    source: str
    says: str


@dataclass(frozen=True, slots=True)
class QuietRule:
    """A rule that would have spoken of it and did not: which conditions were met and which were not."""

    rule: str
    because: str
    source: str
    says: str
    met: tuple[str, ...]
    unmet: tuple[str, ...]
    unknown: bool
    """True if everything unmet is only unknown: an answer would settle it."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """``kind``: cause or remedy. ``standing``: one sentence on where it stands and why."""

    kind: str
    id: str
    label: str
    about: str
    standing: str
    fired: tuple[FiredRule, ...]
    quiet: tuple[QuietRule, ...]
    details: tuple[str, ...]
    cause: CauseView | None = None
    step: PlanStep | None = None
    place: int | None = None
    shares: tuple[tuple[str, float], ...] = ()
    """For a remedy: (cause label, part of its chance that comes from this cause), largest first."""
    cautions: tuple[CautionView, ...] = ()
    """For a remedy: what to take care of when it is done; in full, since nothing else stands before it."""
    now: float | None = None
    """For a remedy: its chance if it were tried first; ``shares`` are parts of this."""


def _rules(
    prepared: Prepared, knowledge: Knowledge, target: str
) -> tuple[tuple[FiredRule, ...], tuple[QuietRule, ...]]:
    findings = tuple(Fact("finding", f) for f in prepared.conclusions.findings)
    facts = (*prepared.facts, *findings)
    on = {firing.rule: firing.on for firing in prepared.conclusions.trace}
    fired = [
        FiredRule(symptom.id, (str(fact),), symptom.because, symptom.source, f"makes this {symptom.says[target]}")
        for fact in prepared.facts
        if fact.slot == "symptom" and (symptom := knowledge.symptoms[str(fact.value)]) and target in symptom.says
    ]
    quiet = []
    for rule in sorted(knowledge.rules.values(), key=lambda r: r.id):
        says = says_of(rule.then, target)
        if says is None:
            continue
        if rule.id in on:
            fired.append(FiredRule(rule.id, tuple(str(f) for f in on[rule.id]), rule.because, rule.source, says))
            continue
        check = explain_rule(rule, facts)
        unmet = tuple(condition_words(c.condition) for c in check.unmatched) or ("the values must be the same",)
        quiet.append(
            QuietRule(
                rule=rule.id,
                because=rule.because,
                source=rule.source,
                says=says,
                met=tuple(condition_words(c.condition) for c in check.matched),
                unmet=unmet,
                unknown=bool(check.unmatched) and all(c.unknown for c in check.unmatched),
            )
        )
    return tuple(fired), tuple(sorted(quiet, key=lambda q: (not q.unknown, len(q.unmet), q.rule)))


def explain(target: str, session: Session, answer: Diagnosis) -> Explanation:
    """The explanation of one cause or remedy for the case of ``answer``. Raises :class:`BadInput`."""
    knowledge = session.knowledge
    prepared = session.prepare(answer.case)
    if target not in knowledge.causes and target not in knowledge.remedies and target != OTHER:
        allowed = [*knowledge.causes, *knowledge.remedies, OTHER]
        if any(target in table for table in (knowledge.looks, knowledge.symptoms, knowledge.materials)):
            kind = "a look" if target in knowledge.looks else "neither a cause nor a remedy"
            what = f"this is {kind}: lapwise knowledge show {target} tells what is known of it"
            raise BadInput(Issue(what, "lapwise explain", target))
        raise BadInput.unknown("no such cause or remedy", target, allowed, "lapwise explain")
    return (_remedy if target in knowledge.remedies else _cause)(target, prepared, answer, knowledge)


def _cause(target: str, prepared: Prepared, answer: Diagnosis, knowledge: Knowledge) -> Explanation:
    view = next((v for v in answer.causes if v.id == target), None)
    if target == OTHER:
        label, about = OTHER_LABEL, "None of the causes that are known here."
        details: tuple[str, ...] = ()
    else:
        cause = knowledge.causes[target]
        label, about = cause.label, cause.about
        details = (cause.confirm,) if cause.confirm else ()
    if view is None:
        out = next((r for r in prepared.conclusions.ruled_out if r.cause == target), None)
        why = f" {out.said.because}" if out else ""
        standing = f"It is ruled out here.{why}"
    else:
        place = 1 + [v.id for v in answer.causes].index(target)
        standing = f"Place {place} of {len(answer.causes)}, chance {percent(view.probability)}."
    rules = _rules(prepared, knowledge, target)
    return Explanation("cause", target, label, about, standing, *rules, details, cause=view)


def _remedy(target: str, prepared: Prepared, answer: Diagnosis, knowledge: Knowledge) -> Explanation:
    remedy = knowledge.remedies[target]
    place = next((i for i, s in enumerate(answer.plan, 1) if s.remedy == target), None)
    step = answer.plan[place - 1] if place else None
    names = {v.id: v.label for v in answer.causes}
    option = next((o for o in prepared.options if o.remedy.id == target), None)
    shares: tuple[tuple[str, float], ...] = ()
    now: float | None = None
    if option is not None and STOP_SYMPTOM not in answer.case.symptoms:
        raw = [(names[c], p * option.fix.get(c, 0.0)) for c, p in prepared.belief.p.items() if option.fix.get(c)]
        now = math.fsum(share for _, share in raw)
        shares = tuple(sorted(raw, key=lambda s: (-s[1], s[0]))[:6])
    excluded = next((e for e in prepared.excluded if e.remedy == target), None)
    if STOP_SYMPTOM in answer.case.symptoms and answer.stop:
        standing = answer.stop
    elif (reason := why_not(target, answer)) is not None:
        standing = reason
    else:
        assert step is not None
        place_words = f"Place {place} of {len(answer.listed)}"
        if step.ends:
            standing = f"{place_words}: it ends the work, about {step.minutes:.0f} minutes."
        else:
            standing = (
                f"{place_words}: chance {percent(step.now)} if tried now, {step.minutes:.0f} minutes; good by then "
                f"{percent(step.cumulative)}."
            )
    forbidden = excluded is not None and excluded.kind == "veto"
    details: tuple[str, ...] = ()
    if not forbidden and STOP_SYMPTOM not in answer.case.symptoms:  # nobody should find a way to do it here
        details = (
            *(step.how if step else remedy.steps),
            *(f"Needs: {n}" for n in remedy.needs),
            *(f"Risk: {r}" for r in remedy.risks),
        )
    return Explanation(
        "remedy",
        target,
        remedy.label,
        remedy.about,
        standing,
        *_rules(prepared, knowledge, target),
        details,
        step=step,
        place=place,
        shares=shares,
        cautions=_cautions(target, option, answer, knowledge),
        now=now,
    )


def _cautions(target: str, option: Option | None, answer: Diagnosis, knowledge: Knowledge) -> tuple[CautionView, ...]:
    """Those of the remedy and of where it goes to, then those of the case that are not general."""
    held = may_hold(answer.case, knowledge)
    said = knowledge.remedies[target].cautions
    wanted = [c for c in said if c in held or not knowledge.cautions[c].substance]
    if option is not None and option.to is not None:
        wanted += cautions_of(option.to.as_json(), knowledge)
    wanted += [c.id for c in answer.cautions if not knowledge.cautions[c.id].general]
    return in_full(wanted, knowledge)


def as_json(explanation: Explanation) -> dict[str, Any]:
    """A flat JSON form."""
    return {
        "kind": explanation.kind,
        "id": explanation.id,
        "label": explanation.label,
        "about": explanation.about,
        "standing": explanation.standing,
        "cause": cause_json(explanation.cause) if explanation.cause else None,
        "place": explanation.place,
        "chance": explanation.step.chance if explanation.step else None,
        "minutes": explanation.step.minutes if explanation.step else None,
        "cautions": form(explanation.cautions),
        "legal": LEGAL,
        "chance_now": explanation.now,
        "shares": [{"cause": c, "chance": p} for c, p in explanation.shares],
        "fired": form(explanation.fired),
        "not_fired": form(explanation.quiet),
        "details": list(explanation.details),
    }
