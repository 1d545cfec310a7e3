"""A stone from cutting to polish in words: what is to be said in order, each with what it is."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Literal, NamedTuple

from lapwise.engine.diagnosis.views import caution_text
from lapwise.engine.planning import Step, WorkPlan, compound_group
from lapwise.engine.wording import LEGAL, capital, small
from lapwise.tui.present.answer import first_sentence
from lapwise.tui.present.case import name_of, value_name

if TYPE_CHECKING:
    from lapwise.engine.knowledge.model import Knowledge

Kind = Literal["heading", "caution", "law", "job", "step", "note", "point", "group", "way", "warning"]
"""``job``: off the lap; ``note``: of the step before it; ``point``: to do or to watch for; ``way``: another pair of the
group before it."""


class Said(NamedTuple):
    """One thing to be said."""

    kind: Kind
    text: str


def plan_words(result: WorkPlan, knowledge: Knowledge) -> Iterator[Said]:
    """The whole plan; what was said once to do or to watch for is not said again."""
    yield Said("heading", "Take care")
    special = knowledge.materials[result.material].cautions
    for caution in result.cautions:
        about = knowledge.cautions[caution]
        brief = f"{about.label}: {first_sentence(about.action)}"
        yield Said("caution", brief if about.general and caution not in special else caution_text(about))
    yield Said("law", LEGAL)
    yield Said("heading", "Steps")
    seen: set[str] = set()
    for place, step in enumerate(result.steps, 1):
        yield from _jobs(result, place - 1, seen)
        yield from _step(place, step, seen, knowledge)
    yield from _jobs(result, len(result.steps), seen)
    if result.alternatives:
        yield Said("heading", "Other ways to polish it")
        yield from _ways(result, knowledge)
    if result.warnings:
        yield Said("heading", "Warnings")
        yield from (Said("warning", text) for text in result.warnings)


def _jobs(result: WorkPlan, before: int, seen: set[str]) -> Iterator[Said]:
    """The jobs off the lap that come before this step."""
    for job in result.jobs:
        if job.before == before:
            yield Said("job", job.label)
            yield from _new(job.do, seen)


def _step(place: int, step: Step, seen: set[str], knowledge: Knowledge) -> Iterator[Said]:
    lap, compound = knowledge.label(step.lap), knowledge.label(step.compound)
    size = f", {step.um:g} µm" if step.um else ""
    mark = "  (you have none)" if step.missing else ""
    stage = capital(value_name(knowledge, "stage", step.stage))
    yield Said("step", f"{place}. {stage}: {lap} with {compound}{size}{mark}")
    speed = f"{step.rpm[0]} to {step.rpm[1]}" if step.rpm[0] < step.rpm[1] else f"about {step.rpm[0]}"
    yield Said("note", f"{speed} rpm; {step.wetness}")
    if step.pace and step.pace not in seen:
        yield Said("note", step.pace)
        seen.add(step.pace)
    yield from _new(step.watch, seen)
    if step.because and step.stage == "polish":
        yield Said("note", step.because)


def _new(texts: tuple[str, ...], seen: set[str]) -> Iterator[Said]:
    yield from (Said("point", text) for text in texts if text not in seen)
    seen.update(texts)


def _ways(result: WorkPlan, knowledge: Knowledge) -> Iterator[Said]:
    last = None
    for choice in result.alternatives:
        group = compound_group(choice, knowledge)
        if group != last:
            yield Said("group", "Diamond" if group == "diamond" else name_of(knowledge, choice.compound))
            last = group
        own = "  (your own lap)" if choice.own else ""
        with_ = f" with {small(name_of(knowledge, choice.compound))}" if group == "diamond" else ""
        yield Said("way", f"{name_of(knowledge, choice.lap)}{with_}{own}. {choice.because}")
