"""What to beware of before turning anything: each caution of a correction, with the reason in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lapwise.engine.contact.correction import LARGE_DEGREES, LARGE_TEETH, POOR_FIT, Beware, Correction
from lapwise.engine.contact.evidence import Visit, told
from lapwise.engine.contact.frame import ADAPTER_LOWEST
from lapwise.engine.contact.posterior import Posterior
from lapwise.engine.wording import listing


def cautions(answer: Correction, seen: Sequence[Visit], found: Posterior, *, damage_known: bool) -> list[Beware]:
    """All that apply, the weightiest first."""
    here = seen[-1]
    return [
        *_of_the_maps(answer, here, seen, found),
        *_of_the_size(answer),
        *_of_the_machine(answer),
        *_of_what_is_unknown(answer, damage_known),
    ]


def _of_the_maps(answer: Correction, here: Visit, seen: Sequence[Visit], found: Posterior) -> Iterator[Beware]:
    shape, count = answer.shape, len(seen)
    if here.seen is not None and not here.seen.count("missed") and here.seen.known and not answer.done:
        if not here.fresh:
            yield Beware(
                "two-planes",
                "The facet is bright all over, but it was polished at more than one setting, so this may be two planes "
                "with a faint line between them. Ink the facet or renew its pre-polish, polish at this setting alone, "
                "and make a fresh map before you call it done.",
            )
        else:
            yield Beware("too-few-marks", "Too few cells are marked to call the facet flat: mark the rest.")
    if shape.kind == "unknown" and not _has(here, "touched"):
        yield Beware("too-few-marks", "Too few cells are marked to see a slope: mark at least the edges and corners.")
    if shape.kind == "even" and shape.touched is False and not answer.lost and _open(here):
        yield Beware(
            "unmarked",
            "What is not marked may be bright or rubbed: mark the rest first. Turning now would be guessing.",
        )
    elif shape.kind in ("sloped", "patchy") and not answer.done and not all(told(seen)):
        ends = (name for name, marked in zip(("one side", "one end"), told(seen), strict=True) if not marked)
        yield Beware(
            "end-unmarked",
            f"Nothing is marked at {listing(ends)} of the facet: mark it too. Until then only the other axis can be "
            "told.",
        )
    elif shape.kind == "even" and shape.touched is False and not answer.lost:
        yield Beware(
            "no-slope",
            "The facet is dull all over: no side is better than the other, so the map shows no slope and turning would "
            "be guessing. Ink the facet and touch the lap: if the ink goes evenly, contact is not the trouble; if only "
            "a thin line at one edge goes, mark that edge R and run the ink map.",
        )
    if shape.kind == "patchy":
        dull = (
            "middle stays dull: look at a hollow lap, or a facet worn hollow"
            if shape.centre == "centre"
            else ("edges stay dull: look at a domed facet, a soft or bulging lap, or a film that rides up")
        )
        yield Beware(
            "not-contact",
            f"No line divides bright from dull, so index and angle alone cannot cure it. The {dull}.",
        )
    if count > 1 and found.fit < POOR_FIT and shape.kind != "patchy":
        yield Beware(
            "maps-disagree",
            "No single plane explains all the maps. Something moved between the trials, or a turn was entered with the "
            "wrong sign. Check the stone and the settings, and start again with a fresh map.",
        )


def _of_the_size(answer: Correction) -> Iterator[Beware]:
    turn, angle = abs(answer.turn.degrees), abs(answer.angle.degrees)
    teeth = answer.teeth or 0.0
    total_teeth = abs(answer.next_turn) * (answer.gear or 0) / 360.0
    too_far = max(turn, angle, abs(answer.next_turn), abs(answer.next_angle)) > LARGE_DEGREES
    if too_far or max(teeth, total_teeth) > LARGE_TEETH:
        text = (
            "This is more than fine adjustment should do. Before you follow it, check that this is the right facet and "
            "index tooth, that the map was drawn facing the facet with its tip end up, and that the stone has not "
            "moved on its dop."
        )
        if turn > LARGE_DEGREES and answer.frame.tilt_per_turn < 0.3:
            text += " So close to the table a turn tilts the facet very little, which makes the number large."
        yield Beware("large-correction", text)
    reached = answer.frame.angle + answer.next_angle
    if answer.angle.degrees > 0 and reached > 90.0:
        yield Beware(
            "past-level",
            "The angle would go past 90, where many machines cannot go. Make sure that the stone sits true on its dop; "
            "re-dopping may be the cure.",
        )
    if answer.angle.degrees < 0 and reached < 0.0:
        yield Beware(
            "below-upright",
            "The angle would go below 0, where most machines cannot go. The same is done by turning the index by half "
            "the gear and raising the angle.",
        )


def _of_the_machine(answer: Correction) -> Iterator[Beware]:
    facet = answer.facet
    if facet.adapter == "45" and facet.angle is not None and facet.angle < ADAPTER_LOWEST:
        yield Beware(
            "quill-angle",
            f"With a 45-degree adapter the quill stands at about 45, and {facet.angle:g} was given. Give what the "
            "machine reads, not the angle of the table; 45 is used here.",
        )
    if answer.spins:
        yield Beware(
            "index-only-spins",
            "With the dop upright, turning the index only spins the facet in its own plane and tilts it nowhere. For "
            "a slope from side to side take another index setting, a quarter of the gear away, so that the dull side "
            "lies near or far, and use the angle there; or use a 45-degree adapter; or re-dop the stone.",
        )
    profile = answer.profile
    step = profile.angle_resolution if profile else None
    if step and 0 < abs(answer.angle.degrees) < step / 2:
        yield Beware("below-resolution", f"The angle change is smaller than the dial shows ({step:g} degrees a step).")
    if profile and profile.rest in ("soft-stop", "platform") and answer.angle.degrees:
        rest = "a platform" if profile.rest == "platform" else "a soft stop"
        yield Beware(
            "height-moves-angle",
            f"The angle rests on {rest}: height and lap thickness change it too. Set the height for this lap first.",
        )


def _of_what_is_unknown(answer: Correction, damage_known: bool) -> Iterator[Beware]:
    if not (answer.turn.degrees or answer.angle.degrees or not answer.frame.index_works):
        return
    if answer.facet.size_mm is None:
        yield Beware("size-unknown", "Facet size not given: the amounts are for a facet 5 mm wide and long.")
    if answer.facet.part == "table" and answer.facet.adapter is None:
        held = "a 45-degree adapter" if answer.frame.adapter else "the dop straight in the handpiece"
        yield Beware("adapter-unknown", f"It is not stated how the table is held: {held} is assumed.")
    if answer.frame.assumed and answer.facet.angle is None:
        yield Beware("angle-unknown", f"Angle not given: the turn is worked out for {answer.frame.angle:g} degrees.")
    if not damage_known:
        yield Beware(
            "prior-unknown",
            "Previous step not given: the amounts assume a fine pre-polish. The direction does not depend on it.",
        )


def _open(here: Visit) -> int:
    """Cells of this setting's map that were not marked; what an earlier map took out of it was marked."""
    seen = here.seen if here.shown is here.polish else here.ink
    return seen.count("unknown") if seen is not None else 0


def _has(here: Visit, mark: str) -> bool:
    return any(m is not None and any(mark in row for row in m.rows) for m in (here.polish, here.ink))
