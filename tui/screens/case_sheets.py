"""The sheets of the case screen: why, causes, cautions, what was done, what would change."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content

from lapwise.engine.case import Case
from lapwise.engine.diagnosis.why_not import why_not
from lapwise.engine.wording import LEGAL, capital, percent, small
from lapwise.tui.present.answer import (
    amount_words,
    place_sentences,
    source_words,
    target_words,
    tried_words,
    wait_sentence,
)
from lapwise.tui.present.case import OUTCOME_WORDS, name_of
from lapwise.tui.present.words import bar, bench_time, chance_word, fit, minutes, taken
from lapwise.tui.screens.sheet import Line, heading, para, point

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.model import Diagnosis, PlanStep, Reason
    from lapwise.engine.knowledge.model import Knowledge, Look
    from lapwise.engine.learning.tryout import Tryout
    from lapwise.engine.planning import WorkPlan
    from lapwise.engine.record.model import Step


def _weights(reasons: tuple[Reason, ...], most: int = 6) -> list[Line]:
    return [point(f"{r.log_likelihood_ratio:+.1f}  {r.because}", "") for r in reasons[:most]]


def how_lines(step: PlanStep, answer: Diagnosis, knowledge: Knowledge) -> list[Line]:
    """How a remedy is done: what to change to, how far, the steps, what it needs and what to watch for."""
    remedy = knowledge.remedies[step.remedy]
    lines: list[Line] = []
    if to := target_words(step, answer.case, knowledge):
        lines.append(para(f"Change to: {to}."))
    if amount := amount_words(step):
        lines.append(para(f"How much: {amount}. See the correction screen (2) for the picture."))
    lines += [point(text, f"{at}.") for at, text in enumerate(step.how, 1)]
    if step.wait_minutes:
        lines.append(para(wait_sentence(step)))
    lines += [para(f"Watch for: {risk}") for risk in remedy.risks]
    if remedy.needs:
        lines.append(para("Needs: " + ", ".join(remedy.needs)))
    return lines


def why_lines(step: PlanStep) -> list[Line]:
    """Why a remedy may help."""
    return [Content(""), heading("Why"), *(point(text) for text in step.because)]


def chance_lines(step: PlanStep, place: int, answer: Diagnosis) -> list[Line]:
    """Where a remedy stands: its chance, what it takes, how many facets are good by then."""
    takes = f"{minutes(step.minutes)} with setting up"
    if step.ends:
        return [para(f"Place {place} of {len(answer.listed)}: it ends the work; {takes}.")]
    now = f"Chance if tried now {percent(step.now)} ({chance_word(step.now)}); {takes}."
    if place == 1:
        return [para(" ".join((now, *place_sentences(place, answer))))]
    turn = f"In its turn, if everything above it did nothing, {percent(step.chance)}."
    turn += f" Good by then {percent(step.cumulative)}."
    return [para(" ".join((now, *place_sentences(place, answer)))), para(turn)]


def remedy_sheet(step: PlanStep, answer: Diagnosis, knowledge: Knowledge) -> list[Line]:
    """How a remedy is done, what to take care of, and why it stands where it does, or is not offered."""
    remedy = knowledge.remedies[step.remedy]
    place = next((at for at, s in enumerate(answer.listed, 1) if s.remedy == step.remedy), None)
    lines: list[Line] = []
    if (reason := why_not(step.remedy, answer)) is not None:
        lines += [para(reason, style="bold $warning"), Content("")]
    lines += how_lines(step, answer, knowledge)
    known = [knowledge.cautions[c] for c in remedy.cautions if c in {view.id for view in answer.cautions}]
    known += [knowledge.cautions[c] for c in remedy.cautions if place is None and knowledge.cautions[c] not in known]
    if known:
        lines += [Content(""), heading("Take care")]
        lines += [point(f"{c.label}: {c.action}", "!") for c in known]
    lines += why_lines(step)
    if place is not None:
        lines += chance_lines(step, place, answer)
    if step.price and step.price.get("text"):
        lines.append(para(f"Cost: {step.price['text']}"))
    fixes = [v for v in answer.causes if v.id in remedy.fixes][:4]
    for view in fixes:
        lines += [
            Content(""),
            heading(f"{capital(view.label)}: {percent(view.probability)}, {remedy.fixes[view.id]} cured by this"),
            *_weights(view.reasons_for),
            *_weights(view.reasons_against),
        ]
    if fixes:
        told = "The figures weigh: +1 makes it nearly three times as likely, -1 a third."
        lines.append(para(told, style="italic"))
    lines += [Content(""), heading("Sources")]
    lines += [point(source_words(knowledge, s)) for s in dict.fromkeys((*step.source, remedy.source))]
    return lines


def left_out_sheet(remedy: str, answer: Diagnosis, knowledge: Knowledge) -> list[Line]:
    """A remedy that is in no plan: why not, and unless it does harm, how it is done."""
    known = knowledge.remedies[remedy]
    lines: list[Line] = [para(why_not(remedy, answer) or "", style="bold $warning")]
    if any(v.remedy == remedy for v in answer.vetoed):  # nobody should find a way to do it here
        return lines
    lines += [Content(""), para(known.about), *(point(text, f"{at}.") for at, text in enumerate(known.steps, 1))]
    return lines


def causes_sheet(answer: Diagnosis, knowledge: Knowledge) -> list[Line]:
    """What may be wrong, likeliest first, with what speaks for and against."""
    lines: list[Line] = []
    for view in [v for v in answer.causes if v.probability >= 0.005][:14]:
        chance, figure = view.probability, fit(percent(view.probability), 6, right=True)
        parts = ((bar(chance, 10), "$primary"), (figure, "bold"), "  ", (capital(view.label), "bold"))
        lines.append(Content.assemble(*parts))
        cause = knowledge.causes.get(view.id)
        if cause is not None and cause.confirm:
            lines.append(point(f"To make sure: {cause.confirm}", " "))
        lines += [point(f"for {r.log_likelihood_ratio:+.1f}: {r.because}", " ") for r in view.reasons_for[:3]]
        lines += [point(f"against {r.log_likelihood_ratio:+.1f}: {r.because}", " ") for r in view.reasons_against[:3]]
    return [*lines, *(para(f"Published cutters disagree: {text}") for text in answer.disagreements)]


def cautions_sheet(answer: Diagnosis, knowledge: Knowledge) -> list[Line]:
    """All cautions in full, what must not be done, and who decides."""
    lines: list[Line] = [para("! " + text, style="bold $warning") for text in answer.replaced]
    for caution in answer.cautions:
        lines += [heading(name_of(knowledge, caution.id)), para(caution.text), Content("")]
    if answer.vetoed:
        lines.append(heading("What not to do here"))
        lines += [point(f"{v.label}: {v.because}", "✗") for v in answer.vetoed]
        lines.append(Content(""))
    lines.append(para(LEGAL, style="italic"))
    return lines


def look_sheet(look: Look, knowledge: Knowledge) -> list[Line]:
    """How a look is taken."""
    lines: list[Line] = [para(look.about)]
    lines += [para(f"{at}. {text}") for at, text in enumerate(look.steps, 1)]
    if look.needs:
        lines.append(para("Needs: " + ", ".join(look.needs)))
    known = [knowledge.cautions[c] for c in look.cautions if c in knowledge.cautions]
    return lines + [para(f"! {c.hazard} {c.action}", style="bold $warning") for c in known]


def done_sheet(steps: tuple[Step, ...], case: Case, knowledge: Knowledge) -> list[Line]:
    """What was done so far, newest last; what was taken back stands in brackets."""
    lines: list[Line] = []
    rows = [s for s in steps if s.kind in ("try", "look")]
    counted = {_what(s) for s in rows if not s.withdrawn}
    for step in rows:
        if step.kind == "try" and step.remedy and step.outcome:
            text = f"{name_of(knowledge, step.remedy)}: {OUTCOME_WORDS[step.outcome]}"
        else:
            look = knowledge.looks.get(step.look or "")
            result = look.result_labels.get(step.result or "", step.result or "") if look else step.result or ""
            text = f"{name_of(knowledge, step.look)}: {result}"
        if step.minutes is not None:
            text += f", {taken(step.minutes)}"
        if step.note:
            text += f" ({step.note})"
        if step.withdrawn:
            text = f"[{'corrected below' if _what(step) in counted else 'taken back'}: {text}]"
        lines.append(point(text, bench_time(step.at)[11:16]))
    if not rows:
        done = [f"{name_of(knowledge, r)}: {OUTCOME_WORDS[o]}" for r, o in case.tried]
        done += [f"{name_of(knowledge, k)}: {r}" for k, r in case.saw]
        lines = [point(text) for text in done] or [para("Nothing yet in this case.")]
    return lines


def new_sheet(step: PlanStep, new: Tryout, *, first: bool) -> list[Line]:
    """What is offered when finding out matters more than time."""
    known, alike = tried_words(new.trials), "The advice puts it first too, so both point to the same remedy."
    return [
        para("For a day when you have time to find out: your record learns from this one."),
        Content(""),
        heading(step.label),
        para(f"The advice gives it {percent(step.now)} if tried now; {known}. It takes about {minutes(step.minutes)}."),
        para(alike if first else "The order of the advice stays as it is."),
    ]


def _what(step: Step) -> tuple[str | None, ...]:
    return (step.kind, step.remedy, step.outcome, step.look, step.result)


def moves(before: Diagnosis, after: Diagnosis, most: int = 8) -> list[Line]:
    """What moves in the plan from one answer to another."""
    old = {step.remedy: (place, step) for place, step in enumerate(before.listed, 1)}
    lines: list[Line] = []
    for place, step in enumerate(after.listed[:most], 1):
        was = old.get(step.remedy)
        if was is None:
            mark, change = "+", "new"
        elif was[0] == place:
            mark, change = "=", "stays"
        else:
            mark, change = "▲" if was[0] > place else "▼", f"from {was[0]}"
        chance = f"{percent(was[1].now)} → {percent(step.now)}" if was else percent(step.now)
        figures = fit(step.label, 34) + fit("" if step.ends else chance, 16, right=True)
        lines.append(Content.assemble((f"{mark} {place:>2} ", "bold"), figures, (f"  {change}", "$secondary")))
    kept = {s.remedy for s in after.listed}
    gone = [step for step in before.listed if step.remedy not in kept]
    lines += [Content(f"−    {fit(s.label, 34)}   no longer worth trying") for s in gone[:3]]
    if not gone and all(step.remedy in old and old[step.remedy][0] == n for n, step in enumerate(after.listed, 1)):
        lines.append(para("Nothing would change: the order stays as it is."))
    more = after.expected_minutes - before.expected_minutes
    if abs(more) >= 0.5:
        way = "more" if more > 0 else "less"
        lines.append(para(f"Expected: {minutes(after.expected_minutes)}, {minutes(abs(more))} {way}."))
    new = [v for v in after.vetoed if v.remedy not in {b.remedy for b in before.vetoed}]
    lines += [para(f"✗ Then do not: {small(v.label)}: {v.because}") for v in new]
    return lines


def plan_sheet(result: WorkPlan, knowledge: Knowledge) -> list[Line]:
    """The work on a stone from cutting to polish."""
    from lapwise.tui.present.plan import plan_words  # start-up time

    lines: list[Line] = []
    for kind, text in plan_words(result, knowledge):
        if kind == "heading":
            lines += [Content(""), heading(text)] if lines else [heading(text)]
        elif kind in ("step", "job"):
            lines += [Content(""), para(text, style="bold" if kind == "step" else "bold $secondary")]
        elif kind in ("caution", "warning"):
            lines.append(point(text, "!"))
        elif kind in ("point", "way"):
            lines.append(point(text))
        else:
            lines.append(para(text, style="italic" if kind == "law" else ""))
    return lines
