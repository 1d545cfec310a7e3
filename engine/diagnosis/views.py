"""Puts the parts of an answer together, with the reasons that really moved it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from lapwise.engine.case import STOP_SYMPTOM, Case
from lapwise.engine.conclusions import OTHER, OTHER_LABEL, Conclusions, Fact, Provenance
from lapwise.engine.diagnosis.calculators import amount, price
from lapwise.engine.diagnosis.model import (
    CauseView,
    CautionView,
    Diagnosis,
    Lead,
    LookView,
    PlanStep,
    Reason,
    RunnerUp,
    VetoView,
)
from lapwise.engine.diagnosis.options import HELPED, STOP_CAUTION, Option, helped, reasons_for
from lapwise.engine.diagnosis.prepared import Prepared
from lapwise.engine.inference import RuleTest, WorkingMemory
from lapwise.engine.knowledge.model import Caution, Compound, Knowledge, Lap, Material, Remedy
from lapwise.engine.strategy import LookValue, Plan
from lapwise.engine.wording import small

WARNED_STEPS = 5
"""The remedies whose cautions stand before the advice: as many as are shown at once."""
STOP_WORDS = (
    "Stop work now. Stop the lap, go out into fresh air, and get medical help if the trouble does not pass at once. "
    "There is no advice on polishing until everyone is well and the bench is aired."
)
NOTHING_LEFT = (
    "Nothing safe is left to try with what is known. Set the stone aside, and ask an experienced cutter to look at it."
)


def labels(knowledge: Knowledge) -> dict[str, str]:
    """Cause id to its label, ``other`` included."""
    return {**{c.id: c.label for c in knowledge.causes.values()}, OTHER: OTHER_LABEL}


def cause_views(prepared: Prepared, knowledge: Knowledge) -> tuple[CauseView, ...]:
    """All causes still standing, likeliest first, with the weights that make their odds against ``other``."""
    belief = prepared.belief
    names = labels(knowledge)
    out = []
    for cause, p in belief.p.items():
        shown = belief.weights.get(cause, ())
        reasons = [Reason(e.finding, e.log_likelihood_ratio, e.said.because, e.said.source, e.said.rule) for e in shown]
        ordered = sorted(reasons, key=lambda r: (-abs(r.log_likelihood_ratio), r.rule, r.finding))
        out.append(
            CauseView(
                id=cause,
                label=names[cause],
                probability=p,
                prior_log_odds=belief.prior_log_odds.get(cause, 0.0),
                reasons_for=tuple(r for r in ordered if r.log_likelihood_ratio > 0),
                reasons_against=tuple(r for r in ordered if r.log_likelihood_ratio < 0),
            )
        )
    return tuple(sorted(out, key=lambda v: (-v.probability, v.id)))


def _speaks_of(rule: str, cause: str, knowledge: Knowledge) -> bool:
    """Whether the sentence of the rule is about this cause: none that it raises, it raises more."""
    raised = knowledge.rules[rule].then.evidence_for
    strength = knowledge.scales.strength
    return all(strength[word] <= strength[raised[cause]] for word in raised.values()) if cause in raised else False


def _why(views: tuple[CauseView, ...], knowledge: Knowledge) -> dict[str, Provenance]:
    """Cause to the strongest reason for it that a rule gave for this case; where none did, to what the cause is.

    How often a cause shows this way is no reason for a remedy: it stands with the causes.
    """
    out = {}
    for view in views:
        special = next((r for r in view.reasons_for if r.rule and _speaks_of(r.rule, view.id, knowledge)), None)
        if special is not None:
            out[view.id] = Provenance(special.rule, special.because, special.source)
        elif view.id in knowledge.causes:
            cause = knowledge.causes[view.id]
            source = view.reasons_for[0].source if view.reasons_for else cause.source
            out[view.id] = Provenance("", cause.about, source)
    return out


def plan_steps(
    prepared: Prepared, plan: Plan, knowledge: Knowledge, views: tuple[CauseView, ...]
) -> tuple[PlanStep, ...]:
    """The remedies in order. Each step's reasons rest on what is believed once the earlier steps did nothing."""
    by_id: Mapping[str, Option] = {o.remedy.id: o for o in prepared.options}
    names = labels(knowledge)
    why = _why(views, knowledge)
    believed = prepared.belief.p
    left = dict(believed)
    failed = 1.0
    lead = {s.id: s.said for s in reversed(prepared.conclusions.first)}
    lead |= {r: Provenance("", HELPED, "practice") for r in helped(prepared.case, knowledge)}
    usual = {b.move: b.share for b in prepared.begins}
    told = prepared.conclusions.told_first
    steps: list[PlanStep] = []
    for step in plan.order:
        option = by_id.get(step.remedy)
        if option is None:  # starting again with another stone is no remedy of this one
            continue
        if not option.remedy.ends:
            failed *= 1.0 - step.chance
        shares = sorted(((c, left[c] * p) for c, p in option.fix.items() if c in left), key=lambda s: (-s[1], s[0]))
        sentences, sources = reasons_for(option, shares, why, names)
        if (said := lead.get(step.remedy)) is not None:
            sentences = tuple(dict.fromkeys((said.because, *sentences)))
            sources = tuple(dict.fromkeys((said.source, *sources)))
        steps.append(
            PlanStep(
                remedy=step.remedy,
                label=option.remedy.label,
                to=option.to.as_json() if option.to else None,
                amount=amount(step.remedy, prepared.calculated),
                chance=step.chance,
                cumulative=1.0 - failed,
                minutes=step.minutes,
                because=sentences,
                source=sources or ("practice",),
                cautions=option.remedy.cautions,
                price=price(option.remedy.steps_back, prepared.case, knowledge),
                fix=option.fix,
                wait_minutes=option.remedy.wait_minutes,
                wait_for=option.remedy.wait_for,
                now=math.fsum(believed[c] * p for c, p in option.fix.items() if c in believed),
                ends=option.remedy.ends,
                saves=step.saves,
                usual=usual.get(step.remedy, 0.0),
                part_of=knowledge.remedies[of].label if (of := prepared.part_of.get(step.remedy)) else "",
                one_go=_one_go(option.remedy, steps, knowledge),
                how=_how(option, prepared.case, knowledge),
                then=tuple(
                    by_id[r].remedy.label
                    for r in option.remedy.followed_by
                    if r in by_id and (r in told or any(weight > 0 for weight, _ in by_id[r].favours))
                ),
            )
        )
        for cause, chance in option.fix.items():
            if cause in left:
                left[cause] *= 1.0 - chance
    return tuple(steps)


def _one_go(remedy: Remedy, before: Iterable[PlanStep], knowledge: Knowledge) -> int | None:
    """The 1-based place of the first earlier step that is done in one go with ``remedy``."""
    for place, step in enumerate(before, 1):
        if remedy.id in knowledge.remedies[step.remedy].one_go or step.remedy in remedy.one_go:
            return place
    return None


LEAST_BESIDE, MOST_BESIDE = 0.01, 2
"""What is less likely than this to be a cutter's first move is not named beside the first, nor more than so many."""


def _beside(prepared: Prepared, listed: Sequence[PlanStep], knowledge: Knowledge) -> tuple[str, ...]:
    """Labels of what costs nothing and goes with the first of the list, likeliest to be begun with first; none where
    that ends the work."""
    if listed[0].ends:
        return ()
    names = {step.remedy for step in listed}
    usual = {b.move: b.share for b in prepared.begins}
    free = [
        o.remedy
        for o in prepared.options
        if o.remedy.beside and o.remedy.id not in names and o.remedy.opposite not in names
    ]
    some = [r for r in free if usual.get(r.id, 0.0) >= LEAST_BESIDE]
    return tuple(r.label for r in sorted(some, key=lambda r: -usual[r.id])[:MOST_BESIDE])


BEGAN = (
    "It began when something was changed: if you can, put that back and try one facet; that tells whether the change "
    "is to blame."
)


def _how(option: Option, case: Case, knowledge: Knowledge) -> tuple[str, ...]:
    """The steps of a remedy with the lap and compound that it goes to, else those on the machine."""
    lap = option.to.lap if option.to and option.to.lap else case.lap
    compound = option.to.compound if option.to and option.to.compound else case.compound
    return option.remedy.steps_on(knowledge.laps.get(lap or ""), knowledge.compounds.get(compound or ""))


def not_as_named(case: Case, knowledge: Knowledge) -> str:
    """That the stone is something else than stated, where a look told so; empty where none did."""
    if not case.material or dict(case.saw).get("identify-stone") != "other":
        return ""
    label = small(knowledge.label(case.material))
    return f"It is not {label}: say what it is. What follows is still for {label}."


def gone_worse(case: Case, knowledge: Knowledge) -> tuple[str, ...]:
    """What to do about the tries that made it worse, the latest first: one sentence each."""
    last = dict(case.tried[case.settled :])
    bad = [knowledge.remedies[r] for r, outcome in last.items() if outcome == "worse"]
    return tuple(f"“{r.label}” made it worse: {_way_back(r)}" for r in reversed(bad))


def remains(case: Case, first: PlanStep | None, knowledge: Knowledge) -> tuple[str, ...]:
    """What the symptoms leave behind, one sentence each; none where the first move already cuts it away."""
    if first is None or first.ends or knowledge.remedies[first.remedy].steps_back:
        return ()
    return tuple(text for name in sorted(case.symptoms) if (text := knowledge.symptoms[name].remains))


def _way_back(remedy: Remedy) -> str:
    if remedy.steps_back:
        return "stop it there. What it took off stays off; go on from the last step that left an even face."
    if remedy.to is not None:
        return "stop it, wash the stone, and go back to the lap and compound you had."
    return "stop it, and put it back as it was before you try anything else."


def _lead(steps: tuple[PlanStep, ...], prepared: Prepared, knowledge: Knowledge) -> Lead | None:
    """Why the first of the steps worth trying stands first."""
    if not steps:
        return None
    first, *others = steps
    if first.remedy in helped(prepared.case, knowledge):
        return "helped"
    if first.remedy in prepared.conclusions.told_first:
        return "in-the-way"
    likelier = [s for s in others if s.now > first.now + 0.005]
    if likelier and all(s.minutes > first.minutes for s in likelier):
        return "quick"
    if first.remedy != prepared.by_belief.order[0].remedy:
        return "usual"
    if not likelier:
        return "likely"
    group = knowledge.remedies[first.remedy].setup_group
    if group and any(knowledge.remedies[s.remedy].setup_group == group for s in others):
        return "set-up"
    return "opens"


def caution_text(caution: Caution) -> str:
    """Hazard, action and standard as one text."""
    return " ".join(part for part in (caution.hazard, caution.action, caution.standard) if part)


def in_full(cautions: Iterable[str], knowledge: Knowledge) -> tuple[CautionView, ...]:
    """The cautions of these ids as they are shown, each once; ids not known here are passed over."""
    known = [c for c in dict.fromkeys(cautions) if c in knowledge.cautions]
    return tuple(CautionView(c, caution_text(knowledge.cautions[c])) for c in known)


def cautions_of(to: Mapping[str, str | None], knowledge: Knowledge) -> list[str]:
    """The cautions of a lap and compound to go to (:meth:`Choice.as_json`)."""
    lap, compound = knowledge.laps.get(to.get("lap") or ""), knowledge.compounds.get(to.get("compound") or "")
    return [*(lap.cautions if lap else ()), *(compound.cautions if compound else ())]


def _tables(case: Case, knowledge: Knowledge) -> list[tuple[str | None, Mapping[str, Material | Lap | Compound]]]:
    """Stone, lap and compound, each with what is known of its kind."""
    return [
        (case.material, knowledge.materials),
        (case.lap, knowledge.laps),
        (case.compound, knowledge.compounds),
    ]


def _on_the_machine(case: Case, knowledge: Knowledge) -> list[str]:
    """The cautions of stone, lap and compound."""
    return [c for name, table in _tables(case, knowledge) if name for c in table[name].cautions]


def may_hold(case: Case, knowledge: Knowledge) -> frozenset[str]:
    """The cautions of substances that stone, lap or compound may bring; what is not known may be any of its kind."""
    unknown = (entry for name, table in _tables(case, knowledge) if not name for entry in table.values())
    return frozenset((*_on_the_machine(case, knowledge), *(c for entry in unknown for c in entry.cautions)))


def caution_views(
    prepared: Prepared, knowledge: Knowledge, steps: tuple[PlanStep, ...], look: LookView | None = None
) -> tuple[CautionView, ...]:
    """Cautions of the material, lap, compound and rules, of the remedies shown and the look, and the general ones if
    the material is not known.

    Those of substances count only where stone, lap, compound or a change shown may bring the substance.
    """
    case = prepared.case
    shown = steps[:WARNED_STEPS]
    wanted: list[str] = [STOP_CAUTION] if STOP_SYMPTOM in case.symptoms else []
    if not case.material:
        wanted += [c.id for c in knowledge.cautions.values() if c.general]
    wanted += _on_the_machine(case, knowledge)
    if case.prior and any(knowledge.remedies[s.remedy].steps_back for s in shown):
        wanted += knowledge.compounds[case.prior].cautions
    to = [c for step in shown if step.to for c in cautions_of(step.to, knowledge)]
    said = [p.id for p in prepared.conclusions.cautions]
    if look is not None:
        said += knowledge.looks[look.id].cautions
    said += [c for step in shown for c in step.cautions]
    held = {*wanted, *to, *may_hold(case, knowledge)}
    wanted += [c for c in said if c in held or (c in knowledge.cautions and not knowledge.cautions[c].substance)] + to
    return in_full(wanted, knowledge)


def _looks(prepared: Prepared, plan: Plan, knowledge: Knowledge) -> tuple[LookView | None, tuple[LookView, ...]]:
    asked = {p.id: p.said.because for p in prepared.conclusions.looks}

    def view(look: LookValue) -> LookView:
        known = knowledge.looks[look.id]
        return LookView(
            look.id, known.label, known.minutes, look.value_minutes, look.before, asked.get(look.id, known.about)
        )

    return view(plan.look) if plan.look else None, tuple(map(view, plan.looks))


def touching(
    knowledge: Knowledge, case: Case, facts: Iterable[Fact], conclusions: Conclusions, named: Iterable[str]
) -> tuple[str, ...]:
    """One sentence for each own entry that stands where something shipped protects, and touches the case.

    ``named``: ids of remedies, looks and cautions in the answer. A rule touches it where the shipped one would have
    spoken.
    """
    if not knowledge.replaced:
        return ()
    present = {case.material, case.lap, case.compound, case.prior, *named}
    board = WorkingMemory([*facts, *(Fact("finding", name) for name in conclusions.findings)])
    out = []
    for replaced in knowledge.replaced:
        if replaced.id in present if replaced.rule is None else RuleTest(replaced.rule).fires(board):
            out.append(f"{replaced.what} ({replaced.where})")
    return tuple(out)


def _vetoed(prepared: Prepared, knowledge: Knowledge) -> tuple[VetoView, ...]:
    """What must not be done, the most tempting first."""
    p = prepared.belief.p
    pointless = {veto.remedy for veto in prepared.conclusions.vetoes if not veto.harm}
    out = []
    for left in prepared.excluded:
        if left.kind == "veto":
            label = knowledge.remedies[left.remedy].label
            idle = left.remedy in pointless  # nobody is tempted by what does nothing here
            cures = 0.0 if idle else math.fsum(p.get(cause, 0.0) * fix for cause, fix in left.fix.items())
            out.append(VetoView(left.remedy, label, left.because, left.rule, cures))
    return tuple(sorted(out, key=lambda veto: -veto.chance))


def assemble(prepared: Prepared, knowledge: Knowledge) -> Diagnosis:
    """The whole answer from the prepared case."""
    case, plan = prepared.case, prepared.plan
    views = cause_views(prepared, knowledge)
    stop: str | None = None
    if STOP_SYMPTOM in case.symptoms:
        stop = STOP_WORDS
    steps = () if stop else plan_steps(prepared, plan, knowledge, views)
    if not steps and stop is None:
        stop = NOTHING_LEFT
    look, looks = (None, ()) if stop == STOP_WORDS else _looks(prepared, plan, knowledge)
    runner = None
    if plan.runner_up is not None and steps:
        label = knowledge.remedies[plan.runner_up.remedy].label
        runner = RunnerUp(plan.runner_up.remedy, label, plan.runner_up.extra_minutes)
    worth = min(len(plan.before(prepared.problem.last_resort)), len(steps))
    if worth:
        steps = (replace(steps[0], beside=_beside(prepared, steps[:worth], knowledge)), *steps[1:])
    cautions = caution_views(prepared, knowledge, steps[:worth], look)
    named = (*(c.id for c in cautions), *(s.remedy for s in steps), *(v.id for v in looks))
    return Diagnosis(
        case=case,
        cautions=cautions,
        replaced=touching(knowledge, case, prepared.facts, prepared.conclusions, named),
        causes=views,
        plan=steps,
        look=look,
        looks=looks,
        vetoed=_vetoed(prepared, knowledge),
        began=BEGAN if case.facts.get("onset") == "after-change" and not case.tried and steps else "",
        not_as_named=not_as_named(case, knowledge),
        remains=remains(case, steps[0] if worth else None, knowledge),
        gone_worse=() if stop == STOP_WORDS else gone_worse(case, knowledge),
        expected_minutes=plan.expected_minutes,
        runner_up=runner,
        unknown_that_would_help=(),
        unexplained=prepared.conclusions.unexplained,
        stop=stop,
        disagreements=tuple(
            knowledge.findings[f].label for f in prepared.conclusions.findings if f.startswith("disputed-")
        ),
        record=prepared.learned.as_json() if prepared.learned else None,
        conclusions=prepared.conclusions,
        knowledge_digest=knowledge.digest,
        notes=prepared.calculated.sentences,
        left_out=prepared.excluded,
        worth=worth,
        lead=_lead(steps[:worth], prepared, knowledge),
    )
