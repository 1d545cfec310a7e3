"""A correction in words of the stone."""

from __future__ import annotations

from lapwise.engine.contact.correction import Correction
from lapwise.engine.contact.frame import turn_sense

SEEN = "as seen from behind the handpiece, looking towards the stone"
LEAST_MARK = 0.1
"""Share of one mark of the fine index: nobody sets it nearer."""
TOO_FINE = "less than a tenth of one mark"
FINER = f"That is {TOO_FINE} on your fine index: near enough, leave it and polish on."
_HYPHEN = {"clockwise": "clockwise", "counterclockwise": "counter-clockwise"}


def degrees(value: float) -> str:
    """A size in degrees with as many digits as it deserves."""
    size = abs(value)
    digits = 1 if size >= 10 else 2 if size >= 0.1 else 3 if size >= 0.01 else 4
    text = f"{size:.{digits}f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text) + "°"


def amount(value: float) -> str:
    """What a dial reads, to the same three decimals wherever it is said, without noughts at the end."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def tooth(value: float) -> str:
    """A share of a tooth with as many digits as it deserves."""
    return degrees(value).removesuffix("°")


def sentences(answer: Correction) -> tuple[str, ...]:
    """What the map shows, what must go down, which way and how far, where the dials then stand, what it moves."""
    out = [*_shows(answer)]
    if answer.done:
        return (*out, "Flat enough: leave index and angle where they are and finish the polish.", *_in_all(answer))
    out += _turn(answer)
    out += _angle(answer)
    out += _spin(answer)
    if not answer.turn.degrees and not answer.angle.degrees:
        if answer.warns("two-planes"):
            out.append("That proves nothing about one plane: stay at this setting and make a fresh map of it alone.")
        elif answer.warns("unmarked"):
            out.append("Mark the rest before anything is turned.")
        elif answer.shape.kind in ("even", "patchy"):
            out.append("The map shows no slope to correct: leave index and angle where they are.")
        return tuple(out)
    out += _edges(answer)
    out.append(
        "Then ink the facet or renew its pre-polish, polish a short while at the new setting, and make a new map."
    )
    return tuple(out)


def dull_sides(answer: Correction) -> tuple[str, ...]:
    """The sides that must go down, in words: at most one of each pair."""
    frame, out = answer.frame, []
    across = answer.slope_across.degrees
    if across and (answer.turn.degrees or not frame.index_works) and answer.shape.kind != "even":
        out.append("left side" if across > 0 else "right side")
    if answer.angle.degrees:
        out.append(frame.dop if answer.angle.degrees > 0 else frame.tip)
    return tuple(out)


def _shows(answer: Correction) -> list[str]:
    shape = answer.shape
    if answer.done:
        return ["The facet touched the lap all over."]
    if shape.kind == "unknown":
        return ["The map shows too little to say how the facet lies."]
    if answer.lost:
        return ["Dull all over now: that setting went too far, or the wrong way. Going by the earlier maps:"]
    if shape.kind == "even":
        if answer.warns("unmarked"):
            stayed = "where the ink stayed" if answer.facet.trials[-1].ink else "that stayed dull"
            return [f"Only cells {stayed} are marked."]
        return ["Bright all over." if shape.touched else "Dull all over."]
    sides = dull_sides(answer)
    if not sides:
        return ["Bright and dull lie mixed, with no slope from one side to the other."]
    lie = "lie" if len(sides) > 1 else "lies"
    ink = answer.facet.trials[-1].ink
    return [f"The {' and the '.join(sides)} {lie} high: there the {'ink stayed' if ink else 'facet stayed dull'}."]


def _in_all(answer: Correction) -> list[str]:
    """What this facet needed from its first setting on."""
    turn, (teeth, angle) = answer.next_turn, answer.in_all
    parts = []
    if turn:
        stone = f"the stone turned {_HYPHEN[turn_sense(turn)]} by {degrees(turn)}"
        if teeth is not None:
            parts.append(f"the index moved by {signed(teeth)} teeth ({stone})")
        else:
            parts.append(stone)
    if angle:
        parts.append(f"the angle {'raised' if angle > 0 else 'lowered'} by {degrees(angle)}")
    return [f"In all, {' and '.join(parts)}."] if parts else []


def signed(value: float) -> str:
    """A change as a transfer counts it, such as ``+0.027``."""
    return f"{value:+z.3f}".rstrip("0").rstrip(".")


def _turn(answer: Correction) -> list[str]:
    turn = answer.turn
    if not turn.degrees:
        return []
    side = "left" if turn.degrees > 0 else "right"
    sense = turn_sense(turn.degrees)
    by = degrees(turn.degrees)
    if answer.teeth is not None:
        by += f" (that is {tooth(answer.teeth)} of a tooth on the {answer.gear} gear)"
    out = [f"The {side} side must go down: turn the stone {_HYPHEN[sense]} {SEEN}, by {by}."]
    out += _knob(answer)
    out += _readings(answer)
    return out


def _knob(answer: Correction) -> list[str]:
    profile, divisions = answer.profile, answer.divisions
    sense = turn_sense(answer.turn.degrees)
    if profile is None:
        return []
    knob = profile.knob_sense("clockwise" if sense == "clockwise" else "counterclockwise")
    if knob is None and divisions is None:
        return []
    if divisions is not None and divisions < LEAST_MARK:
        return [FINER]
    by = "" if divisions is None else f" by {marks(divisions)}"
    if knob is None:
        return [f"On your fine index that is{by[3:]}."]
    return [f"To do that, turn the fine-index knob {_HYPHEN[knob]}{by}, as you face the knob."]


def marks(divisions: float) -> str:
    """``less than a tenth of one mark``, ``0.4 of one mark``, ``one mark`` or ``2.1 marks`` of the fine index."""
    if divisions < LEAST_MARK:
        return TOO_FINE
    if divisions < 0.95:
        return f"{divisions:.1f} of one mark"
    return "one mark" if divisions < 1.05 else f"{divisions:.1f} marks"


def _readings(answer: Correction) -> list[str]:
    exact = answer.reading()
    if exact is not None and exact["index"] is not None:
        return [f"The index then stands at {amount(exact['index'])}."]
    either = answer.index_readings()
    if either is None:
        return []
    falls, rises = either["if_numbers_fall"], either["if_numbers_rise"]
    return [
        f"The index then stands at {amount(falls)} if your numbers fall as the stone turns that way, at "
        f"{amount(rises)} if they rise."
    ]


def _angle(answer: Correction) -> list[str]:
    change = answer.angle.degrees
    if not change:
        return []
    frame = answer.frame
    end, word = (frame.dop, "raise") if change > 0 else (frame.tip, "lower")
    if answer.warns("below-upright"):
        half = "" if answer.gear is None else f" ({answer.gear / 2:g} teeth)"
        return [
            f"The {end} must go down, but the angle cannot go below 0: turn the index by half the gear{half}, which "
            f"makes it the {frame.dop}, and raise the angle by {degrees(change)} there."
        ]
    text = f"The {end} must go down: {word} the angle by {degrees(change)}"
    if answer.facet.angle is not None and not frame.assumed:
        goal = answer.facet.angle + answer.next_angle
        text += f", to {amount(goal)}°"
        if answer.profile is not None and answer.profile.angle_zero == "level":
            text += f" (your dial, which reads 0 with the dop level, then shows {amount(answer.profile.dial(goal))}°)"
    return [text + "."]


def _spin(answer: Correction) -> list[str]:
    across = answer.slope_across.degrees
    if answer.frame.index_works or not across or answer.shape.kind in ("even", "unknown"):
        return []
    side = "left" if across > 0 else "right"
    sense = _HYPHEN[turn_sense(across)]
    quarter = "" if answer.gear is None else f" ({answer.gear / 4:g} teeth)"
    return [
        f"The {side} side must go down, but here the index only spins the facet: turn the stone {sense}, {SEEN}, by a "
        f"quarter turn{quarter}. The dull side is then the near edge: raise the angle by {degrees(across)} there."
    ]


def _edges(answer: Correction) -> list[str]:
    across, along = answer.edge_um
    parts = []
    if answer.turn.degrees:
        parts.append(f"the left and right edges by {across:.2g} µm")
    if answer.angle.degrees:
        parts.append(f"the {answer.frame.tip} and {answer.frame.dop} by {along:.2g} µm")
    out = [f"This tilts {' and '.join(parts)} against the middle of the facet; the meets shift by about as much."]
    wide = any(n.high - n.low > 0.8 * abs(n.degrees) for n in (answer.turn, answer.angle) if n.degrees)
    if wide:
        sure = answer.shape.clear_across or answer.shape.clear_along
        start = "The direction is sure, the amount a first step" if sure else "Take the amount as a first step"
        out.append(f"{start}: with a chance of 4 in 5 the right one is {_ranges(answer)}.")
    return out


def _ranges(answer: Correction) -> str:
    parts = []
    for name, nudge in (("turn", answer.turn), ("angle", answer.angle)):
        if nudge.degrees:
            low, high = sorted((abs(nudge.low), abs(nudge.high)))
            if nudge.low * nudge.high < 0 or low < 0.05 * high:
                parts.append(f"up to {degrees(high)} for the {name}")
            else:
                parts.append(f"between {degrees(low)} and {degrees(high)} for the {name}")
    return " and ".join(parts)
