"""How a case and its answer are put into words for the screen. Pure: no widget is touched here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from textual.content import Content

from lapwise.engine.case import Case
from lapwise.engine.wording import capital, listing, percent, small, times, wait_words
from lapwise.tui.actions import OUTCOME_ACTIONS, action_of
from lapwise.tui.present.answer import (
    amount_words,
    ask_first,
    lead_sentence,
    target_words,
    together_words,
)
from lapwise.tui.present.case import key_name, name_of, told_name, value_name
from lapwise.tui.present.words import bar, fit, minutes, safe, saves
from lapwise.tui.screens.settings import grid_of, map_words
from lapwise.tui.widgets.fields import Field
from lapwise.tui.widgets.lines import bar_line
from lapwise.tui.widgets.rows import Row

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.model import Diagnosis, PlanStep, UnknownView
    from lapwise.engine.knowledge.model import Knowledge


def machine_fields(case: Case, knowledge: Knowledge, own_name: str | None = None) -> list[Field]:
    """What is on the machine, what is seen and what else is stated, ready to tap."""
    lap = name_of(knowledge, case.lap)
    if own_name:
        lap = f"{own_name} ({small(lap)})"
    dim = "italic"
    shown = {
        "material": name_of(knowledge, case.material),
        "lap": lap,
        "compound": small(name_of(knowledge, case.compound)),
        "stage": value_name(knowledge, "stage", case.stage),
    }
    if case.prior:
        shown["prior"] = small(name_of(knowledge, case.prior))
    fields = [Field(key, told_name(key), words, "" if getattr(case, key) else dim) for key, words in shown.items()]
    seen = "; ".join(small(name_of(knowledge, s)) for s in case.symptoms)
    fields.append(Field("seen", "Seen", seen or "nothing yet: press s", "" if seen else dim))
    said = [f"{key_name(k)} {value_name(knowledge, k, v)}" for k, v in case.facts.items()]
    if case.facet.part:
        said.insert(0, case.facet.part)
    if case.facet.trials:
        last = case.facet.trials[-1]
        said.append(f"{'ink' if last.ink else 'facet'} map: {map_words(grid_of(last.map), ink=last.ink)}")
    if case.corrections:
        said.append(f"{len(case.corrections)} facets corrected")
    if said:
        fields.append(Field("say", "Also", "; ".join(said)))
    return fields


def _columns(width: int) -> tuple[int, int]:
    """(cells of the bar, cells of the minutes) for a line of ``width`` cells; where there is little room, no bar."""
    return (12 if width >= 100 else 8 if width >= 62 else 0), (8 if width >= 62 else 7)


def _figures(width: int, share: float | None, now: str, takes: str, by: str) -> list[tuple[str, str]]:
    """The right part of a line of the plan: bar, chance if tried now, minutes, good by then."""
    bar_width, times = _columns(width)
    drawn = "" if not bar_width else " " * (bar_width + 1) if share is None else " " + bar(share, bar_width)
    return [
        (drawn, "$primary"),
        (fit(now, 6, right=True), "bold"),
        (fit(takes, times, right=True), ""),
        (fit(by, 14 if width >= 100 else 9 if bar_width else 6, right=True), "$foreground 80%"),
    ]


def tried_before(remedy: str, case: Case) -> str:
    """``  tried once, no change`` of a remedy offered again; nothing of one not tried yet."""
    outcomes = [outcome for name, outcome in case.tried if name == remedy]
    if not outcomes:
        return ""
    return f"  tried {times(len(outcomes))}, {small(action_of(OUTCOME_ACTIONS[outcomes[-1]]).label)}"


def plan_row(place: int, step: PlanStep, case: Case, knowledge: Knowledge, *, trying: bool, large: bool) -> Row:
    """One remedy: place, what, its chance if tried now as bar and figure, minutes, and how many are good by then."""

    def paint(width: int) -> list[Content]:
        if step.ends:  # it cures nothing, so it has no chance to show
            figures = _figures(width, None, "", minutes(step.minutes), "")
        else:
            figures = _figures(width, step.now, percent(step.now), minutes(step.minutes), percent(step.cumulative))
        head = f"{'»' if trying else ' '}{place:>2} "
        room = width - len(head) - sum(len(text) for text, _ in figures)
        label = step.label
        extra = target_words(step, case, knowledge) or amount_words(step)
        before = tried_before(step.remedy, case)
        if extra and not large and room >= len(label) + len(extra) + len(before) + 3:
            label = f"{label} → {extra}"
        name = fit(label, min(len(label), room - len(before)) if before else room)
        words = (name, ""), (fit(before, room - len(name)), "$foreground 80%")
        first = Content.assemble((head, "bold"), *(words if before else words[:1]), *figures)
        if not large:
            return [first]
        reason = extra or (step.because[0] if step.because else "")
        return [first, Content.styled("    " + fit(reason, width - 4), "$foreground 80%")]

    return Row(step.remedy, paint)


def plan_title(answer: Diagnosis | None, width: int) -> Content:
    """The line above the plan: what it is, and what its figures mean."""
    if answer is None or not answer.plan:
        return Content.styled("What to try", "bold")
    by = "good by then" if width >= 100 else "by then" if width >= 62 else "then"
    text = "".join(part for part, _ in _figures(width, None, "chance", "takes", by))
    room = width - len(text)
    together = together_words(answer)
    ways = (f"What to try. {together}", f"To try. {together}") if together else ()
    left = next((text for text in ways if len(text) < room), "What to try")
    return Content.assemble((fit(left, max(1, room)), "bold"), (text, "$foreground 80%"))


def first_fields(
    answer: Diagnosis | None,
    helps: Iterable[UnknownView],
    keys: Mapping[str, str],
    knowledge: Knowledge,
    *,
    corrected: bool = False,
) -> list[Field]:
    """What stands above the plan: the question or look that comes before the first try, else why the first is
    first. ``keys``: kind of question to the key that answers it.
    ``corrected``: the map in Correction is bright all over."""
    if corrected:
        words = "fixed by the correction: its map is bright all over"
        return [Field("corrected", f"Press {keys['fixed']}:", words, "bold")]
    if answer is None or not answer.listed:
        return []
    ask = ask_first(answer, helps, knowledge)
    if ask is None:
        return [Field("lead", "Why 1 first:", lead_sentence(answer), "")]
    words = ask.words if ask.words.endswith("?") else f"{ask.words}."
    gain = f" {capital(saved)}" if (saved := saves(ask.minutes)) else ""  # the end is what may be cut
    return [Field(f"ask:{ask.kind}", f"First press {keys[ask.kind]}:", words + gain, "bold")]


def rest_words(answer: Diagnosis, key: str) -> str:
    """The line below the list: what is not in it."""
    count = len(answer.rest) + len(answer.left_out)
    return f"    {key}: the other {count}, and why each is not offered"


def reason_words(step: PlanStep | None, answer: Diagnosis | None, knowledge: Knowledge) -> Content:
    """The reason for the marked remedy in one sentence, with where it goes to and how much."""
    if answer is None:
        return Content("")
    if answer.stop:
        return Content.styled(safe(answer.stop), "bold $error")
    if step is None:
        return Content("")
    because = step.because[0] if step.because else ""
    parts: list[tuple[str, str]] = []
    for name, text in (("To", target_words(step, answer.case, knowledge)), ("How much", amount_words(step))):
        if text:
            parts += [(f"{name} ", "$secondary"), (safe(text, 200) + "  ", "bold")]
    parts += [("Why ", "$secondary"), (safe(because, 600), "")]
    if step.wait_minutes:
        parts += [("  Wait ", "$secondary"), (safe(f"{wait_words(step.wait_minutes)} for {step.wait_for}", 200), "")]
    if step.price and step.price.get("text"):
        parts += [("  Cost ", "$secondary"), (safe(step.price["text"], 300), "")]
    return Content.assemble(*parts)


def note_fields(answer: Diagnosis | None, knowledge: Knowledge) -> list[Field]:
    """Look, cautions, vetoes and what does not fit, one to a line, the weightiest first."""
    if answer is None:
        return []
    out = []
    if answer.not_as_named:
        out.append(Field("material", "! The stone", safe(answer.not_as_named, 300), "bold $warning"))
    out += [Field("worse", "! Got worse", safe(text, 300), "bold $warning") for text in answer.gone_worse[:1]]
    if answer.began:
        out.append(Field("began", "! It began", safe(answer.began, 300), "bold $warning"))
    if answer.cautions:
        names = [small(name_of(knowledge, c.id)) for c in answer.cautions]
        out.append(Field("cautions", "! Take care", listing(names), "bold $warning"))
    if answer.tempting:
        out.append(Field("not", "✗ Not here", "; ".join(small(v.label) for v in answer.tempting), ""))
    if answer.look is not None:
        when = "Look first" if answer.look.before <= 1 else "Look as well"
        out.append(Field("look", "◎ " + when, f"{small(answer.look.label)} ({minutes(answer.look.minutes)})"))
    out += [Field("remains", "↻ Then", safe(text, 300), "") for text in answer.remains[:1]]
    if answer.unexplained:
        names = [small(name_of(knowledge, s)) for s in answer.unexplained]
        out.append(Field("unexplained", "? No known cause for", listing(names)))
    return out


def cause_lines(answer: Diagnosis, width: int, most: int) -> list[Content]:
    """The likeliest causes with bars, for the wide layout."""
    room = max(10, width - 8 - 7)
    causes = [(capital(view.label), view.probability) for view in answer.causes[:most]]
    return [bar_line(label, room, chance, 6, percent(chance), 6) for label, chance in causes]
