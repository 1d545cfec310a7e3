"""The two-minute ink test: from what the person saw to the senses of the machine.

A flat that lies level on the lap is inked, one thing is changed, the lap is touched, and the side whose ink went is the
side that came down. Turning the stone clockwise, as seen from behind the handpiece, brings the left side down (as one
faces the facet, tip end up); raising the angle brings the dop end down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType
from typing import Any

from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.machine.described import FACTS
from lapwise.engine.machine.profile import MachineProfile
from lapwise.engine.numerals import read_number


@dataclass(frozen=True, slots=True)
class Question:
    """One question of the guided test. ``brief``: the same in few words, if the question is long. ``answers``: the
    answers allowed with their words; empty: a number, called ``typed``."""

    asks: str
    brief: str = ""
    answers: Mapping[str, str] = field(default_factory=dict)
    typed: str = ""


def _seen(*answers: str) -> Mapping[str, str]:
    return MappingProxyType({answer: answer for answer in answers})


QUESTIONS: dict[str, Question] = {
    "gear": Question("How many teeth has the index gear (the highest number on it)?", typed="teeth"),
    "numbers_after_clockwise": Question(
        f"Free the index. {FACTS['numbers_run'].asks}",
        "Index numbers as the stone turns clockwise.",
        _seen("up", "down"),
    ),
    "rubbed_after_knob_clockwise": Question(
        "Lock the index on a facet that lies level on the lap, at 45 degrees or steeper, and ink it. Turn the "
        "fine-index knob clockwise (as you face the knob) by a good amount, touch the stopped lap and rub lightly by "
        "hand. Face the facet, its tip end up and the dop down: on which side did the ink go?",
        "Where the ink went.",
        _seen("left", "right", "even"),
    ),
    "rubbed_after_knob_counterclockwise": Question(
        "Turn the knob back to where it was, ink again, and turn it as far the other way. On which side did the ink "
        "go now?",
        "Where the ink went.",
        _seen("left", "right", "even"),
    ),
    "dial_with_dop_upright": Question(
        "With the dop hanging upright over the lap, does the angle dial read near 0 or near 90?",
        answers=MappingProxyType({"0": "near 0", "90": "near 90"}),
    ),
    "rubbed_after_dial_up": Question(
        "Knob back to where it was, ink again. Change the angle so that the dial shows half a degree more, set the "
        "height again, touch the lap. At which end of the facet did the ink go: tip or dop?",
        "Where the ink went when the dial read higher.",
        _seen("tip", "dop", "even"),
    ),
    "marks_per_tooth": Question(
        "How many marks of the fine index make one tooth of the gear? (turn it from tooth to tooth and count; leave "
        "empty if it is marked in degrees)",
        "Marks of the fine index in one tooth.",
        typed="number",
    ),
    "degrees_per_mark": Question(
        "How many degrees of the stone is one mark of the fine index? (leave empty if not known)",
        "Degrees of the stone in one mark.",
        typed="degrees",
    ),
    "angle_resolution": Question("What is the smallest step the angle dial shows, in degrees?", typed="degrees"),
    "rest": Question(
        "What does the angle rest on: hard-stop, soft-stop or platform?", answers=FACTS["rest"].values, typed="kind"
    ),
}
"""The guided test in its order."""
TELLS: Mapping[str, tuple[str, Mapping[str, str]]] = MappingProxyType(
    {
        # the gear turns with the stone: turned clockwise, it brings up what is printed counter-clockwise of the pointer
        "numbers_after_clockwise": ("numbers_run", {"up": "counterclockwise", "down": "clockwise"}),
        "rubbed_after_knob_clockwise": ("knob", {"left": "own", "right": "reversed"}),
        "rubbed_after_knob_counterclockwise": ("knob", {"right": "own", "left": "reversed"}),
        "dial_with_dop_upright": ("angle_zero", {"0": "upright", "90": "level"}),
        "rubbed_after_dial_up": ("angle_zero", {"dop": "upright", "tip": "level"}),
    }
)
"""Question to the fact that it tells, and to what each answer tells of it; any other answer tells nothing."""
UNTOLD: Mapping[str, str] = MappingProxyType(
    {
        "numbers_run": "which way the index numbers run",
        "knob": "whether the fine-index knob turns the stone the same way",
        "angle_zero": "where the angle dial reads 0",
    }
)
"""What is said of a fact that no answer told."""


def answers_of(profile: MachineProfile) -> dict[str, str]:
    """The answers by which the test would find this machine, as far as it is known."""
    known = {name: getattr(profile, name) for name in ("gear", "angle_resolution", "rest")}
    for name, (fact, tells) in TELLS.items():
        known[name] = next((answer for answer, told in tells.items() if told == getattr(profile, fact)), None)
    if profile.fine_mark_size is not None and profile.fine_mark is not None:
        teeth = profile.fine_mark == "teeth"
        known["marks_per_tooth" if teeth else "degrees_per_mark"] = (
            1 / profile.fine_mark_size if teeth else profile.fine_mark_size
        )
    return {
        name: f"{value:.6g}" if isinstance(value, int | float) else value
        for name, value in known.items()
        if value is not None
    }


@dataclass(frozen=True, slots=True)
class Seen:
    """What the person saw; None where that was left out. Numbers as typed."""

    gear: str | None = None
    numbers_after_clockwise: str | None = None
    rubbed_after_knob_clockwise: str | None = None
    rubbed_after_knob_counterclockwise: str | None = None
    dial_with_dop_upright: str | None = None
    rubbed_after_dial_up: str | None = None
    marks_per_tooth: str | None = None
    degrees_per_mark: str | None = None
    angle_resolution: str | None = None
    rest: str | None = None


@dataclass(frozen=True, slots=True)
class Deduction:
    """``facts``: fields of a machine profile. ``contradictions``: what does not fit together, and what to do."""

    facts: dict[str, Any]
    contradictions: tuple[str, ...]
    open: tuple[str, ...]
    """What the answers leave untold."""


def deduce(seen: Seen) -> Deduction:
    """The machine as the answers tell it. Raises :class:`BadInput` for an answer that is none of the allowed."""
    _check(seen)
    facts: dict[str, Any] = {}
    against: list[str] = []
    left_open: list[str] = []
    if seen.gear is not None:
        facts["gear"] = seen.gear
    for name, found in (
        ("numbers_run", _told(seen, "numbers_after_clockwise")),
        ("knob", _knob(seen, against)),
        ("angle_zero", _zero(seen, against)),
    ):
        if found:
            facts[name] = found
        else:
            left_open.append(UNTOLD[name])
    facts.update(_marks(seen, against))
    for name in ("angle_resolution", "rest"):
        if getattr(seen, name) is not None:
            facts[name] = getattr(seen, name)
    return Deduction(facts, tuple(against), tuple(left_open))


def _check(seen: Seen) -> None:
    problems: list[Issue] = []
    for name in (f.name for f in fields(seen)):
        value, allowed = getattr(seen, name), QUESTIONS[name].answers
        if value is not None and allowed and value not in allowed and name not in FACTS:  # those: profile_from
            problems.extend(BadInput.unknown("not one of the answers", value, allowed, name).problems)
    if problems:
        raise BadInput(problems)


def _told(seen: Seen, question: str) -> str | None:
    return TELLS[question][1].get(getattr(seen, question) or "")


def _knob(seen: Seen, against: list[str]) -> str | None:
    one, two = seen.rubbed_after_knob_clockwise, seen.rubbed_after_knob_counterclockwise
    first, second = _told(seen, "rubbed_after_knob_clockwise"), _told(seen, "rubbed_after_knob_counterclockwise")
    if first and second and first != second:
        against.append(
            f"The ink went on the {one} side both ways the knob was turned. The facet was not level to begin with, or "
            "the turn was too small or taken up by play: level the facet first, turn the knob farther, and try again."
        )
        return None
    if "even" in (one, two) and not (first or second):
        against.append("The ink went evenly though the knob was turned: turn it farther, on a steeper facet.")
    return first or second


def _zero(seen: Seen, against: list[str]) -> str | None:
    direct, rubbed = _told(seen, "dial_with_dop_upright"), _told(seen, "rubbed_after_dial_up")
    if direct and rubbed and direct != rubbed:
        against.append(
            f"The dial reads {seen.dial_with_dop_upright} with the dop upright, so a higher reading must bring the "
            f"{'dop' if direct == 'upright' else 'tip'} end down, but the ink went at the {seen.rubbed_after_dial_up} "
            "end. Check again which end is up, and that the facet lay level before."
        )
        return None
    return direct or rubbed


def _marks(seen: Seen, against: list[str]) -> dict[str, Any]:
    per_tooth, per_mark = _positive(seen.marks_per_tooth), _positive(seen.degrees_per_mark)
    gear = _positive(seen.gear)
    if per_tooth and per_mark and gear:
        product = per_tooth * per_mark * gear
        if abs(product - 360.0) > 0.05 * 360.0:
            against.append(
                f"{per_tooth:g} marks a tooth at {per_mark:g} degrees a mark make {per_tooth * per_mark:.3g} degrees a "
                f"tooth, but a tooth of the {gear:g} gear is {360 / gear:.4g}. Count the marks again."
            )
            return {}
    if per_mark:
        return {"fine_mark": "degrees", "fine_mark_size": per_mark}
    if per_tooth:
        return {"fine_mark": "teeth", "fine_mark_size": 1.0 / per_tooth}
    return {}


def _positive(text: str | None) -> float | None:
    if text is None:
        return None
    value = read_number(text)
    if value is None or not 0 < value < 1e6:
        raise BadInput(Issue("a number over 0 is required", "calibrate", text))
    return value
