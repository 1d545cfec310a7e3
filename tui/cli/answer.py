"""An answer laid out for reading: cautions first, then what to try in order, the look worth doing, what to leave."""

from __future__ import annotations

from collections.abc import Iterable

from lapwise.engine.case import STOP_SYMPTOM
from lapwise.engine.diagnosis.model import CautionView, Diagnosis, LookView, PlanStep
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.slots import SLOTS
from lapwise.engine.wording import LEGAL, percent
from lapwise.tui.cli.output import heading, points, say, say_all, section, width, wrap
from lapwise.tui.present.answer import (
    amount_sentence,
    ask_first,
    first_sentence,
    place_sentences,
    target_words,
    together_words,
    wait_sentence,
)
from lapwise.tui.present.case import case_line
from lapwise.tui.present.words import learned_from, minutes

SHOWN_STEPS = 5
STONE_DUST = ("dust-general", "silica-dust")


def in_columns(left: str, right: str, hang: str) -> Iterable[str]:
    """``left`` with ``right`` at the right edge of its last line, or below it if there is no room."""
    *before, last = wrap(left, indent=hang, first="").splitlines()
    yield from before
    gap = width() - len(last) - len(right)
    if gap >= 2:
        yield last + " " * gap + right
    else:
        yield last
        yield right.rjust(width())


def figures(step: PlanStep) -> str:
    """Chance if tried now and minutes; only the minutes of what ends the work."""
    takes = minutes(step.minutes)
    return takes if step.ends else f"{percent(step.now)}, {takes}"


def step_lines(place: int, answer: Diagnosis, knowledge: Knowledge, said: set[str]) -> Iterable[str]:
    """One remedy: what, its id, chance, minutes, and the reason, in full unless it was ``said`` before."""
    step = answer.listed[place - 1]
    to = target_words(step, answer.case, knowledge)
    head = f"{place}. {step.label} ({step.remedy})" + (f" → {to}" if to else "")
    yield from in_columns(head, figures(step), "   ")
    remedy = knowledge.remedies[step.remedy]
    reason = step.because[0] if step.because else ""
    texts = [remedy.about if reason in said else reason, *(f"Watch for: {risk}" for risk in remedy.risks)]
    said.update(step.because[:1])
    if step.amount and "degrees" in step.amount:
        texts.append(amount_sentence(step.remedy, step.amount))
    texts += [wait_sentence(step), step.price["text"] if step.price else "", *place_sentences(place, answer)]
    texts.append(f"How: {' '.join(step.how)}")
    yield from (wrap(text, indent="   ") for text in texts if text)


def _in_full(answer: Diagnosis, knowledge: Knowledge, *, why: bool) -> list[CautionView]:
    """The cautions special to this stone, lap and compound, whose full text stands at the end; all with ``why``.

    With the stone not known its dust is the danger that nobody can rule out: that too stands in full.
    """
    case = answer.case
    special: set[str] = set()
    for name, table in ((case.material, knowledge.materials), (case.compound, knowledge.compounds)):
        if name:
            special.update(table[name].cautions)
    return [
        view
        for view in answer.cautions
        if why
        or not knowledge.cautions[view.id].general
        or view.id in special
        or (not case.material and view.id in STONE_DUST)
    ]


def print_cautions(answer: Diagnosis, knowledge: Knowledge, *, why: bool) -> None:
    """What to take care of, in a line each, so that the advice is not pushed off the screen."""
    heading("Take care")
    full = _in_full(answer, knowledge, why=why)
    usual = []
    for view in answer.cautions:
        caution = knowledge.cautions[view.id]
        if view in full:
            say(wrap(f"{caution.label}: {first_sentence(caution.action)}", indent="  ", first="! "))
        else:
            usual.append(first_sentence(caution.action))
    if usual:
        say(wrap(" ".join(usual), indent="  ", first="! "))
    say(wrap(("What is special to this case stands in full at the end. " if full else "") + LEGAL, indent="  "))


def _print_only_breathing(answer: Diagnosis, knowledge: Knowledge) -> None:
    """Nothing to read but what helps now; the rest of the cautions in one line."""
    heading("Take care")
    first, *rest = answer.cautions
    say(wrap(first.text, indent="  ", first="! "))
    if rest:
        labels = "; ".join(knowledge.cautions[c.id].label for c in rest)
        text = f"Before you go on with anything, read up on: {labels} (lapwise knowledge show ID, or --json)."
        say(wrap(text, indent="  "))
    say(wrap(LEGAL, indent="  "))


def print_answer(answer: Diagnosis, knowledge: Knowledge, *, why: bool = False) -> None:
    """The whole answer on stdout."""
    say(wrap(case_line(answer.case, knowledge)))
    if answer.stop:
        heading("Stop")
        say(wrap(answer.stop, indent="  "))
    if STOP_SYMPTOM in answer.case.symptoms:
        _print_only_breathing(answer, knowledge)
        points(answer.replaced, first="! ")
        return
    if answer.cautions:
        print_cautions(answer, knowledge, why=why)
    points(filter(None, (answer.not_as_named, *answer.replaced, *answer.gone_worse, answer.began)), first="! ")
    if answer.plan:
        _print_plan(answer, knowledge)
    section("Which way, and how far", answer.notes)
    if answer.look:
        _print_look(answer.look, knowledge)
    section("Leave alone", [f"{veto.label}: {veto.because}" for veto in answer.tempting], first="✗ ")
    _print_causes(answer, why=why)
    if answer.unexplained:
        seen = ", ".join(knowledge.label(s) for s in answer.unexplained)
        text = f"No known cause fits “{seen}”: a second fault is common. Treat it as a case of its own."
        say(wrap(text, indent="  "))
    points(f"Published cutters disagree: {text}" for text in answer.disagreements)
    if answer.record:
        from lapwise.engine.learning.works import answer_lines  # start-up time: most have no record yet

        section(learned_from(knowledge), answer_lines(answer.record, knowledge))
    unknown = [f"{u.question} {option_for(u.key)}" for u in answer.unknown_that_would_help[:3]]
    section("Would help to know", unknown, "    ", "  ")
    section("The cautions in full", [view.text for view in _in_full(answer, knowledge, why=why)], first="! ")
    _print_in_short(answer)


def _print_in_short(answer: Diagnosis) -> None:
    """The first remedy once more, where the eye rests when a long answer has run through."""
    if not answer.plan:
        return
    step = answer.plan[0]
    heading("In short")
    if answer.look and answer.look.before == 1:
        say(wrap(f"Look first: {answer.look.label}.", indent="  "))
    chance = "" if step.ends else f" {percent(step.now)},"
    say(wrap(f"Try first: {step.label},{chance} {minutes(step.minutes)}.", indent="  "))
    if step.amount and "degrees" in step.amount:
        say(wrap(amount_sentence(step.remedy, step.amount), indent="  "))


def option_for(key: str) -> str:
    """How a fact is stated on the command line, with the words it may have."""
    if key == "map":
        return "--map … (see lapwise correct --help)"
    if key in ("material", "lap", "compound", "prior"):
        return f"--{key} …"  # too many to list
    return f"--fact {key}= {', '.join(v for v in SLOTS[key].values if v != 'none')}"


def _print_plan(answer: Diagnosis, knowledge: Knowledge) -> None:
    heading(next(iter(in_columns("Try in this order", "chance if tried now, takes", ""))))
    ask = ask_first(answer, answer.unknown_that_would_help, knowledge)
    if ask is not None and ask.kind != "look":
        say(wrap(f"Say first, if you know: {ask.words} {option_for(ask.id)}", indent="   "))
    if answer.look:
        when = "First, look" if answer.look.before == 1 else "Have a look as well before you go far"
        say(wrap(f"{when}: {answer.look.label} (below).", indent="   "))
    said: set[str] = set()
    for place in range(1, len(answer.listed[:SHOWN_STEPS]) + 1):
        say_all(step_lines(place, answer, knowledge, said))
    if len(answer.listed) > SHOWN_STEPS:
        rest = "; ".join(s.label for s in answer.listed[SHOWN_STEPS:])
        say(wrap(f"After that: {rest}.", indent="   "))
    together = (
        together_words(answer) or "Nothing else is likely enough to list. Say how it went, and the next move follows"
    )
    say(wrap(f"{together}.", indent="  "))
    if answer.remains:
        say(wrap(" ".join(answer.remains), indent="  "))
    first = answer.plan[0].remedy
    text = "lapwise explain REMEDY with the same options tells how each is done, and why anything else is not listed. "
    text += f"Tried it? Ask again with --tried {first}=no-change (or better, worse)."
    say(wrap(text, indent="  "))


def _print_look(look: LookView, knowledge: Knowledge) -> None:
    heading("Look first" if look.before == 1 else "A look as well")
    say_all(in_columns(f"  {look.label}", minutes(look.minutes), "  "))
    known = knowledge.looks[look.id]
    say(wrap(" ".join(known.steps), indent="  "))
    seen = "; ".join(f"{result} ({known.result_labels.get(result, result)})" for result in known.results)
    say(wrap(f"Then say what you saw: --saw {look.id}= {seen}.", indent="    ", first="  "))


def _print_causes(answer: Diagnosis, *, why: bool) -> None:
    if not answer.causes or (answer.stop and not answer.plan):
        return
    heading("Likely causes")
    for view in answer.causes[: 8 if why else 4]:
        say(wrap(f"{percent(view.probability):>11}  {view.label} ({view.id})", indent=" " * 13, first=""))
        if why:
            for reason in (*view.reasons_for, *view.reasons_against):
                text = f"{reason.log_likelihood_ratio:+15.1f}  {reason.finding}: {reason.because} [{reason.source}]"
                say(wrap(text, indent=" " * 17, first=""))
    if not why:
        say(wrap("Why: lapwise explain ID with the same options, for any id in brackets; or --why.", indent="  "))
