"""An answer laid out for reading: cautions first, then what to try in order, the look worth doing, what to leave."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from lapwise.engine.case import Case
from lapwise.engine.diagnosis.model import Diagnosis, PlanStep
from lapwise.engine.knowledge.model import Knowledge
from lapwise.tui.cli.output import say, width, wrap

SHOWN_STEPS = 5
BINDING = "Limits bind employers; local codes and licensed practice decide. This is no medical or legal advice."


def percent(p: float) -> str:
    """A chance in per cent, without false precision at the ends."""
    if p >= 0.995:
        return "over 99 %"
    if p < 0.01:
        return "under 1 %"
    return f"{100 * p:.0f} %"


def minutes(value: float) -> str:
    """Minutes in words."""
    if value >= 120:
        return f"{value / 60:.1f} h"
    return f"{value:.0f} min"


def heading(text: str) -> None:
    """A blank line and a heading."""
    say()
    say(text.upper())


def label_of(table: dict[str, Any] | Any, name: str | None) -> str:
    """The label of an id, or the id, or a dash."""
    if name is None:
        return "unknown"
    entry = table.get(name)
    return entry.label if entry is not None else name


def case_line(case: Case, knowledge: Knowledge) -> str:
    """The case in one sentence."""
    parts = [label_of(knowledge.materials, case.material) if case.material else "Material unknown"]
    if case.lap or case.compound:
        pair = " with ".join(
            label_of(t, i)
            for t, i in ((knowledge.laps, case.lap), (knowledge.compounds, case.compound))
            if i is not None
        )
        parts.append("on " + pair)
    seen = ", ".join(label_of(knowledge.symptoms, s) for s in case.symptoms)
    return " ".join(parts) + (f": {seen}" if seen else "")


def target(step: PlanStep, knowledge: Knowledge) -> str:
    """Where a remedy goes to, in words, or nothing."""
    if step.to is None:
        return ""
    lap, compound = step.to.get("lap"), step.to.get("compound")
    words = [label_of(knowledge.laps, lap)] if lap else []
    if compound:
        words.append(label_of(knowledge.compounds, compound))
    return " with ".join(words)


def step_lines(place: int, step: PlanStep, knowledge: Knowledge) -> Iterable[str]:
    """One remedy: what, chance, minutes, and the reason."""
    name = step.label
    to = target(step, knowledge)
    if to:
        name += f" → {to}"
    figures = f"{percent(step.chance)}, {minutes(step.minutes)}"
    head = f"{place}. {name}"
    if len(head) + len(figures) + 2 <= width():
        yield head + " " * (width() - len(head) - len(figures)) + figures
    else:
        yield wrap(head, indent="   ", first="")
        yield " " * (width() - len(figures)) + figures
    if step.because:
        yield wrap(step.because[0], indent="   ")
    if step.amount and "degrees" in step.amount:
        sense = str(step.amount["sense"]).replace("counterclockwise", "counter-clockwise")
        yield wrap(f"Amount: {sense} by {step.amount['degrees']:.2f}°, see below.", indent="   ")
    if step.price:
        yield wrap(step.price["text"], indent="   ")


def print_cautions(answer: Diagnosis, knowledge: Knowledge, *, why: bool) -> None:
    """What is special to this stone, lap and compound in full; what holds at every bench in one line each."""
    heading("Take care")
    for view in answer.cautions:
        caution = knowledge.cautions[view.id]
        if caution.general and not why and answer.case.material:
            say(wrap(f"{caution.label}: {first_sentence(caution.action)}", indent="  ", first="! "))
        else:
            say(wrap(view.text, indent="  ", first="! "))
    say(wrap(BINDING, indent="  "))


def first_sentence(text: str) -> str:
    """The text up to its first full stop."""
    return text.split(". ", 1)[0].rstrip(".") + "."


def print_answer(answer: Diagnosis, knowledge: Knowledge, *, why: bool = False) -> None:
    """The whole answer on stdout."""
    say(wrap(case_line(answer.case, knowledge)))
    if answer.cautions:
        print_cautions(answer, knowledge, why=why)
    if answer.stop:
        heading("Stop")
        say(wrap(answer.stop, indent="  "))
    if answer.plan:
        heading("Try in this order" + " " * max(0, width() - 39) + "chance, minutes")
        for place, step in enumerate(answer.plan[:SHOWN_STEPS], 1):
            for line in step_lines(place, step, knowledge):
                say(line)
        if len(answer.plan) > SHOWN_STEPS:
            rest = ", ".join(s.label for s in answer.plan[SHOWN_STEPS : SHOWN_STEPS + 4])
            more = len(answer.plan) - SHOWN_STEPS - 4
            say(wrap(f"After that: {rest}" + (f" and {more} more." if more > 0 else "."), indent="   "))
        order = "This is the order of least expected time" if answer.exact else "This order is a good estimate"
        text = f"{order}: about {minutes(answer.expected_minutes)} on average to a good facet."
        if answer.runner_up:
            extra = minutes(answer.runner_up.extra_minutes)
            hardly = answer.runner_up.extra_minutes < 0.5
            text += f" Starting with “{answer.runner_up.label}” instead costs {'hardly' if hardly else extra} more."
        say(wrap(text, indent="  ", first="  "))
    for sentence in answer.notes:
        say(wrap(sentence, indent="  "))
    if answer.look:
        heading("Look first" if answer.look.before == 1 else f"Look before step {answer.look.before}")
        look = answer.look
        saves = f"{minutes(look.minutes)}, saves about {minutes(look.value_minutes)} on average."
        say(wrap(f"{look.label}: {saves}", indent="  "))
    if answer.vetoed:
        heading("Leave alone")
        for veto in answer.vetoed:
            say(wrap(f"{veto.label}: {veto.because}", indent="  ", first="✗ "))
    _print_causes(answer, why=why)
    if answer.unexplained:
        seen = ", ".join(label_of(knowledge.symptoms, s) for s in answer.unexplained)
        text = f"No known cause fits “{seen}”: a second fault is common. Treat it as a case of its own."
        say(wrap(text, indent="  "))
    for text in answer.disagreements:
        say(wrap(f"Published cutters disagree: {text}", indent="  "))
    if answer.unknown_that_would_help:
        heading("Would help to know")
        for unknown in answer.unknown_that_would_help[:3]:
            say(wrap(f"{unknown.question} (--fact {unknown.key}=…)", indent="  "))


def _print_causes(answer: Diagnosis, *, why: bool) -> None:
    if not answer.causes or (answer.stop and not answer.plan):
        return
    heading("Likely causes")
    for view in answer.causes[: 8 if why else 4]:
        say(wrap(f"{percent(view.probability):>9}  {view.label}", indent="           "))
        if why:
            for reason in (*view.reasons_for, *view.reasons_against):
                sign = f"{reason.weight:+.1f}"
                say(wrap(f"{sign:>13}  {reason.because} [{reason.source}]", indent=" " * 15))
    if not why:
        say(wrap("Why: lapwise explain CAUSE or REMEDY with the same options, or --why.", indent="  "))
