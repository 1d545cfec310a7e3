"""How a correction is put into words and pictures for the screen. Pure: no widget is touched here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual.content import Content

from lapwise.engine.case import Case
from lapwise.engine.contact.words import amount, degrees, marks, sentences, tooth
from lapwise.engine.wording import small
from lapwise.tui.present.case import name_of, told_name
from lapwise.tui.present.words import safe
from lapwise.tui.screens.settings import Setting, map_words
from lapwise.tui.screens.sheet import heading, para
from lapwise.tui.widgets.fields import Field

if TYPE_CHECKING:
    from lapwise.engine.contact import Correction
    from lapwise.engine.machine import MachineProfile
    from lapwise.tui.workspace import Workspace

DONE = "Bright all over: done."
RENEWED = "Inked or pre-polished afresh before this map? Press f."
HELD = {"45": "45-degree adapter", "none": "straight", None: "not stated"}
"""How a table is held, by the adapter."""
SENSE = {"clockwise": "clockwise ↻", "counterclockwise": "counter-clockwise ↺"}


def setting_fields(case: Case, workspace: Workspace) -> list[Field]:
    """What is stated of the facet, ready to tap."""
    facet = case.facet
    gear = facet.gear or (workspace.profile.gear if workspace.profile else None)
    index = "not stated" if facet.index is None else f"{facet.index:g}"
    size = "not stated" if facet.size_mm is None else "{:g}×{:g} mm".format(*facet.size_mm)
    fields = [
        Field("part", "Facet", facet.part or "not stated", "" if facet.part else "italic"),
        Field("numbers", "Angle", "not stated" if facet.angle is None else f"{facet.angle:g}°"),
        Field("numbers", "Index", index + (f" of {gear}" if gear else "")),
        Field("numbers", "Size", size),
        Field("prior", told_name("prior"), small(name_of(workspace.knowledge, case.prior))),
    ]
    if facet.part == "table":
        fields.append(Field("adapter", "Held", HELD[facet.adapter]))
    if workspace.profile is None or workspace.profile.numbers_run is None:
        fields.append(Field("machine", "Machine", "not described yet", "italic"))
    return fields


def knob_words(answer: Correction, profile: MachineProfile | None) -> list[str]:
    """What the knob and the dials of this machine do for the turn asked for, a few words each."""
    out: list[str] = []
    turn = answer.turn.degrees
    if not turn:
        return out
    sense = "clockwise" if turn > 0 else "counterclockwise"
    if answer.divisions is not None:
        out.append(f"{marks(answer.divisions)} of the fine index")
    if answer.teeth is not None:
        out.append(f"{tooth(answer.teeth)} of a tooth")
    knob = profile.knob_sense("clockwise" if turn > 0 else "counterclockwise") if profile else None
    if knob is not None:
        same = "the way the stone goes" if knob == sense else "against the way the stone goes"
        out.append(f"turn its knob {SENSE[knob]}, {same}")
    reading = answer.reading()
    if reading is not None and reading["index"] is not None:
        out.append(f"then the index reads {amount(reading['index'])}")
    elif (both := answer.index_readings()) is not None:
        falls, rises = both["if_numbers_fall"], both["if_numbers_rise"]
        out.append(f"then the index reads {amount(falls)} if its numbers fall, {amount(rises)} if they rise")
    return out


def _headline(answer: Correction) -> list[Content]:
    if answer.done:
        return [Content.styled(f"{DONE} The facet lies flat on the lap.", "bold $success")]
    lines: list[Content] = []
    if answer.turn.degrees:
        way = SENSE["clockwise" if answer.turn.degrees > 0 else "counterclockwise"]
        lines.append(Content.styled(f"Turn the stone {way} {degrees(answer.turn.degrees)}", "bold"))
    if answer.angle.degrees:
        way = "Raise the angle ↑" if answer.angle.degrees > 0 else "Lower the angle ↓"
        lines.append(Content.styled(f"{way} {degrees(answer.angle.degrees)}", "bold"))
    return lines or [para(why_no_turn(answer), style="bold")]


def why_no_turn(answer: Correction) -> str:
    """Why nothing is to be turned, though the facet is not done."""
    if answer.warns("two-planes"):
        return f"Bright all over. {RENEWED} If not, it may be two planes."
    if answer.spins:
        return "The index only spins this facet."
    if answer.warns("too-few-marks"):
        return "Not enough is marked yet to say which way."
    return "This map calls for no turn."


def turn_picture(turn: float) -> list[str]:
    """A ring with arrows that go the way the stone turns: positive is clockwise."""
    top, bottom = ("►", "◄") if turn > 0 else ("◄", "►")
    return [f"  ╭─{top}─╮  seen from behind", f"  ╰─{bottom}─╯  the handpiece"]


def answer_lines(answer: Correction | None, profile: MachineProfile | None, complaint: str | None) -> list[Content]:
    """What to do, in large words first, with the picture of the turn, then the sentences and what to beware of."""
    if complaint:
        return [para("! " + complaint, style="bold $warning")]
    if answer is None:
        return [
            para("Polish a short while, look at the facet, and mark it:", style="bold"),
            para("b where it is bright, d where it is dull, k where you cannot tell. Or tap a cell until it is right."),
            para("Or mark what is dull and press B: all the rest is bright."),
            Content(""),
            para("Better still: ink the facet, touch the lap, and mark the ink map (i)."),
        ]
    lines = _headline(answer)
    lines += [para("  " + text) for text in knob_words(answer, profile)]
    if answer.angle.degrees:
        reading = answer.reading()
        if reading is not None and reading["angle"] is not None:
            lines.append(para(f"  the angle dial then reads {amount(reading['angle'])}"))
    if answer.turn.degrees and not answer.done:
        lines += [Content(line) for line in turn_picture(answer.turn.degrees)]
    for caution in answer.cautions:
        lines.append(para("! " + caution.text, style="$warning"))
    lines.append(Content(""))
    if not answer.warns("two-planes"):  # of a map that proves nothing no more is to be said
        lines += [para(text) for text in sentences(answer)]
    return lines


def legend(*, ink: bool) -> Content:
    """What the fillings of the map mean, in their own colours."""
    bright, dull = ("rubbed R", "ink N") if ink else ("bright B", "dull D")
    words = "$foreground 80%"
    return Content.assemble(
        ("██", "$facet-bright on $facet-ground"),
        (f" {bright}  ", words),
        ("░░", "$facet-dull on $facet-ground"),
        (f" {dull}  ? not known", words),
    )


def trial_lines(settings: Sequence[Setting]) -> list[Content]:
    """The settings so far, one to a line."""
    if len(settings) < 2 and not settings[0].said:
        return []
    lines = [Content(""), heading("Settings so far")]
    for number, setting in enumerate(settings, 1):
        ink = f"; ink map {map_words(setting.ink, ink=True)}" if setting.ink is not None else ""
        fresh = ", fresh" if setting.fresh else ""
        text = f"{number}. {_moved(setting)}: {map_words(setting.polish)}{fresh}{ink}"
        lines.append(Content.styled(safe(text), "bold" if number == len(settings) else ""))
    return lines


def _moved(setting: Setting) -> str:
    """What was moved in all since the first setting."""
    moved = []
    if setting.turn:
        way = SENSE["clockwise" if setting.turn > 0 else "counterclockwise"]
        moved.append(f"turned {abs(setting.turn):.3f}° {way}")
    if setting.angle:
        moved.append(f"angle {'raised' if setting.angle > 0 else 'lowered'} {abs(setting.angle):.3f}°")
    return ", ".join(moved) or "as it was"
