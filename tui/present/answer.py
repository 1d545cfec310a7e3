"""An answer in words: where a remedy goes to, how far, whose word it is, who decides on safety."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from lapwise.engine.case import Case
from lapwise.engine.slots import question
from lapwise.engine.wording import listing, percent, small, wait_words
from lapwise.tui.present.words import minutes

if TYPE_CHECKING:
    from lapwise.engine.diagnosis.model import Diagnosis, PlanStep, UnknownView
    from lapwise.engine.knowledge.model import Knowledge

LEADS = {
    "helped": "It helped before.",
    "in-the-way": "Start here; it hides what else may be wrong.",
    "usual": "Most cutters start here.",
    "likely": "It is the likeliest to help.",
    "quick": "Quick, so try it first.",
    "set-up": "What you set up for it serves the next ones too.",
    "opens": "What it shows makes the next ones shorter.",
}
"""Why the first of the list is first."""
SENSES = {
    "counterclockwise": "turn counter-clockwise",
    "clockwise": "turn clockwise",
    "raise": "raise by",
    "lower": "lower by",
}


@dataclass(frozen=True, slots=True)
class Ask:
    """What is worth more than the first try. ``kind``: a name of the machine, the facet map, a fact to state or a look;
    ``id``: which."""

    kind: Literal["machine", "map", "fact", "look"]
    id: str
    words: str
    minutes: float
    """What the answer saves on average."""


def unnamed(case: Case, knowledge: Knowledge) -> str | None:
    """What is on the machine and not named, lap or compound: whoever stands at it knows, and every move hangs on it."""
    if case.lap is None:
        return "lap"
    carries_its_own = {"bonded-diamond", "bonded-oxide"} & knowledge.laps[case.lap].traits
    return "compound" if case.compound is None and not carries_its_own else None


def ask_first(answer: Diagnosis, helps: Iterable[UnknownView], knowledge: Knowledge) -> Ask | None:
    """The question or look to come before the first try: a lap or compound not named, a look that the plan puts first,
    or an answer that saves as many minutes as a look has to. Where a facet is dull in part, the map comes before the
    latter: it also says which way to turn and how far, which its minutes do not count.
    """
    least = knowledge.scales.look_minutes
    if not answer.listed:
        return None
    if (open_ := unnamed(answer.case, knowledge)) is not None:
        return Ask("machine", open_, question(open_), 0.0)
    asks = [
        Ask("map" if u.key == "map" else "fact", u.key, u.question, u.value_minutes)
        for u in helps
        if u.key == "map" or u.value_minutes >= least
    ]
    if answer.look is not None and answer.look.before <= 1:
        asks.append(Ask("look", answer.look.id, answer.look.label, answer.look.value_minutes))
    return min(asks, key=lambda a: (a.kind != "map", -a.minutes), default=None)


def lead_sentence(answer: Diagnosis) -> str:
    """Why the first is first; empty where there is nothing to try."""
    return LEADS[answer.lead] if answer.lead else ""


def place_sentences(place: int, answer: Diagnosis) -> list[str]:
    """What is said of a listed step because of where it stands: why so early, in one go with what, and what follows."""
    step, said = answer.listed[place - 1], []
    if place == 1 and answer.lead != "helped":  # that it helped is its reason
        said.append(lead_sentence(answer))
    if step.beside:
        said.append(f"While you try it, {listing(map(small, step.beside))}.")
    if step.one_go:
        said.append(f"Do it in one go with {step.one_go}.")
    if step.then:
        said.append(f"Straight after it: {listing(map(small, step.then))}.")
    return said


def together_words(answer: Diagnosis) -> str:
    """What the list comes to: how many facets are good by its end, and the minutes if all of it is needed; empty for a
    single remedy, which says so itself."""
    cures = [step for step in answer.listed if not step.ends]
    if len(cures) < 2:
        return ""
    takes = minutes(sum(step.minutes for step in cures))
    return f"All together: {percent(cures[-1].cumulative)}, {takes}"


def target_words(step: PlanStep, case: Case, knowledge: Knowledge) -> str:
    """Where a remedy goes to: ``tin lap with 60000 diamond``, or the step before; empty if it changes neither.

    A charged lap keeps to its compound: the same kind of lap with another compound is another lap.
    """
    if not step.to:
        one_back = knowledge.remedies[step.remedy].steps_back == 1 and case.stage == "polish"
        return small(knowledge.label(case.prior)) if one_back and case.prior else ""
    lap, compound = step.to.get("lap"), step.to.get("compound")
    words = [small(knowledge.label(name)) for name in (lap, compound) if name]
    if lap and lap == case.lap and compound != case.compound and "charged" in knowledge.laps[lap].traits:
        words[0] = f"another {words[0]}"
    return " with ".join(words)


def wait_sentence(step: PlanStep) -> str:
    """What passes by itself after the work, or nothing."""
    return f"Then wait {wait_words(step.wait_minutes)} for {step.wait_for}." if step.wait_minutes else ""


def amount_words(step: PlanStep) -> str:
    """The computed amount of a nudge in a few words, or nothing."""
    amount = step.amount
    if not amount:
        return ""
    parts = []
    for part in (amount.get("turn"), amount.get("angle")) if "turn" in amount else (amount,):
        if part and part.get("sense") not in (None, "none") and part.get("degrees") is not None:
            parts.append(f"{SENSES.get(part['sense'], part['sense'])} {float(part['degrees']):.2f}°")
    return ", ".join(parts)


def amount_sentence(remedy: str, amount: dict[str, Any]) -> str:
    """How far to turn or tilt, in one sentence."""
    sense = str(amount["sense"]).replace("counterclockwise", "counter-clockwise")
    if remedy == "adjust-angle":
        return f"Now: {sense} the angle by {amount['degrees']:.2f}°."
    return f"Now: turn the stone {sense}, as seen from behind the handpiece, by {amount['degrees']:.2f}°."


def source_words(knowledge: Knowledge, source: str) -> str:
    """A source as it is cited."""
    if source == "practice":
        return "common practice, no source"
    if source == "memory":
        return "from memory"
    known = knowledge.sources.get(source)
    if known is None:
        return source
    return known.cite if known.status != "memory" else f"{known.cite} (named from memory, not opened)"


def tried_words(trials: float) -> str:
    """How often a remedy on offer was tried here."""
    return "never tried here" if trials < 0.5 else f"tried here about {trials:.0f} times"


def first_sentence(text: str) -> str:
    """The text up to its first full stop."""
    return text.split(". ", 1)[0].rstrip(".") + "."
