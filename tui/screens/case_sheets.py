"""The sheets of the case screen: why, causes, cautions, what was done, what would change."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content

from lapwise.engine.case import Case
from lapwise.engine.wording import LEGAL, small
from lapwise.tui.present.answer import amount_words, source_words, target_words, tried_words, wait_sentence
from lapwise.tui.present.case import OUTCOME_WORDS, name_of
from lapwise.tui.present.words import bar, capital, chance_word, fit, minutes, percent, taken
from lapwise.tui.screens.sheet import Line, heading, para, point

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.model import Diagnosis, PlanStep, Reason
    from lapwise.engine.knowledge.model import Knowledge, Look
    from lapwise.engine.learning.tryout import Tryout
    from lapwise.engine.record.model import Step


def _weights(reasons: tuple[Reason, ...], most: int = 6) -> list[Line]:
    return [point(f"{r.log_likelihood_ratio:+.1f}  {r.because}", "") for r in reasons[:most]]


def remedy_sheet(step: PlanStep, place: int, answer: Diagnosis, knowledge: Knowledge) -> list[Line]:
    """Why a remedy stands where it does, and how it is done."""
    remedy = knowledge.remedies[step.remedy]
    chance = f"{percent(step.chance)} ({chance_word(step.chance)}) if what stands before it did nothing"
    lines: list[Line] = [
        para(f"Place {place} of {len(answer.plan)}: chance {chance}; {minutes(step.minutes)} with setting up."),
        para(f"By then {percent(step.cumulative)} of such facets are good."),
    ]
    if to := target_words(step, answer.case, knowledge):
        lines.append(para(f"Change to: {to}."))
    if amount := amount_words(step):
        lines.append(para(f"How much: {amount}. See the correction screen (2) for the picture."))
    if step.wait_minutes:
        lines.append(para(wait_sentence(step)))
    if step.price and step.price.get("text"):
        lines.append(para(f"Price: {step.price['text']}"))
    if remedy.cautions:
        lines += [Content(""), heading("Take care")]
        known = [knowledge.cautions[c] for c in remedy.cautions if c in knowledge.cautions]
        lines += [point(f"{c.hazard} {c.action}", "!") for c in known]
    lines += [Content(""), heading("How")]
    if remedy.about:
        lines.append(para(remedy.about))
    lines += [point(text, f"{at}.") for at, text in enumerate(remedy.steps, 1)]
    if remedy.needs:
        lines.append(para("Needs: " + ", ".join(remedy.needs)))
    lines += [point(risk, "!") for risk in remedy.risks]
    lines += [Content(""), heading("Why")]
    lines += [point(text) for text in step.because]
    fixes = [v for v in answer.causes if v.id in remedy.fixes][:4]
    for view in fixes:
        lines += [
            Content(""),
            heading(f"{capital(view.label)}: {percent(view.probability)}, {remedy.fixes[view.id]} cured by this"),
            *_weights(view.reasons_for),
            *_weights(view.reasons_against),
        ]
    if fixes:
        lines.append(
            para("The figures are weights of evidence: each adds to the logarithm of the odds.", style="italic")
        )
    lines += [Content(""), heading("Sources")]
    lines += [point(source_words(knowledge, s)) for s in dict.fromkeys((*step.source, remedy.source))]
    return lines


def causes_sheet(answer: Diagnosis, knowledge: Knowledge) -> list[Line]:
    """What may be wrong, likeliest first, with what speaks for and against."""
    lines: list[Line] = []
    for view in [v for v in answer.causes if v.probability >= 0.005][:14]:
        lines.append(
            Content.assemble(
                (bar(view.probability, 10), "$primary"),
                (fit(percent(view.probability), 6, right=True), "bold"),
                "  ",
                (capital(view.label), "bold"),
            )
        )
        cause = knowledge.causes.get(view.id)
        if cause is not None and cause.confirm:
            lines.append(point(f"To make sure: {cause.confirm}", " "))
        lines += [point(f"for {r.log_likelihood_ratio:+.1f}: {r.because}", " ") for r in view.reasons_for[:3]]
        lines += [point(f"against {r.log_likelihood_ratio:+.1f}: {r.because}", " ") for r in view.reasons_against[:3]]
    for text in answer.disagreements:
        lines.append(para(f"Published cutters disagree: {text}"))
    return lines


def cautions_sheet(answer: Diagnosis, knowledge: Knowledge) -> list[Line]:
    """All cautions in full, what must not be done, and who decides."""
    lines: list[Line] = [para("! " + text, style="bold $warning") for text in answer.replaced]
    for caution in answer.cautions:
        lines += [heading(name_of(knowledge, caution.id)), para(caution.text), Content("")]
    if answer.vetoed:
        lines.append(heading("What must not be done here"))
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
        lines.append(point(text, f"{step.at[11:16]}"))
    if not rows:
        done = [f"{name_of(knowledge, r)}: {OUTCOME_WORDS[o]}" for r, o in case.tried]
        done += [f"{name_of(knowledge, k)}: {r}" for k, r in case.saw]
        lines = [point(text) for text in done] or [para("Nothing yet in this case.")]
    return lines


def new_sheet(step: PlanStep, new: Tryout, *, first: bool) -> list[Line]:
    """What is offered when finding out matters more than time."""
    known = tried_words(new.trials)
    return [
        para("For a day on which finding out matters more than time: your record would learn from this one."),
        Content(""),
        heading(step.label),
        para(f"The advice gives it {percent(step.chance)}; {known}. It takes about {minutes(step.minutes)}."),
        para(
            "The advice puts it first as well: today both ask for the same."
            if first
            else "The order of the advice stays as it is."
        ),
    ]


def _what(step: Step) -> tuple[str | None, ...]:
    return (step.kind, step.remedy, step.outcome, step.look, step.result)


def moves(before: Diagnosis, after: Diagnosis, most: int = 8) -> list[Line]:
    """What moves in the plan from one answer to another."""
    old = {step.remedy: (place, step) for place, step in enumerate(before.plan, 1)}
    lines: list[Line] = []
    for place, step in enumerate(after.plan[:most], 1):
        was = old.get(step.remedy)
        if was is None:
            mark, change = "+", "new"
        elif was[0] > place:
            mark, change = "▲", f"from {was[0]}"
        elif was[0] < place:
            mark, change = "▼", f"from {was[0]}"
        else:
            mark, change = "=", "stays"
        chance = f"{percent(was[1].chance)} → {percent(step.chance)}" if was else percent(step.chance)
        lines.append(
            Content.assemble(
                (f"{mark} {place:>2} ", "bold"),
                (fit(step.label, 34), ""),
                (fit(chance, 16, right=True), ""),
                ("  " + change, "$secondary"),
            )
        )
    kept = {s.remedy for s in after.plan}
    gone = [step for step in before.plan if step.remedy not in kept]
    lines += [Content(f"−    {fit(s.label, 34)}   no longer in the plan") for s in gone[:3]]
    if not gone and all(step.remedy in old and old[step.remedy][0] == n for n, step in enumerate(after.plan, 1)):
        lines.append(para("Nothing would move: the order stays as it is."))
    more = after.expected_minutes - before.expected_minutes
    if abs(more) >= 0.5:
        way = "more" if more > 0 else "less"
        lines.append(para(f"Expected: {minutes(after.expected_minutes)}, {minutes(abs(more))} {way}."))
    new = [v for v in after.vetoed if v.remedy not in {b.remedy for b in before.vetoed}]
    lines += [para(f"✗ Must then not be done: {small(v.label)}: {v.because}") for v in new]
    return lines
