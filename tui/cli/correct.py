"""`lapwise correct`: which way to turn the stone and change the angle, and how far."""

from __future__ import annotations

import click

from lapwise.engine.case import Case, FacetSetting
from lapwise.engine.contact import Correction, correct, sentences
from lapwise.engine.diagnosis.calculators import damage_range
from lapwise.engine.folders import Folders
from lapwise.engine.machine import MachineProfile, load_profile
from lapwise.tui.cli.case_options import facet_options
from lapwise.tui.cli.opening import chosen, known, open_knowledge
from lapwise.tui.cli.output import Command, points, reply, say, say_all, wrap
from lapwise.tui.present.drawing import facet_lines, legend, turn_lines


@click.command("correct", cls=Command)
@facet_options
@click.option("--prior", metavar="ID", help="The compound of the previous step, for example diamond-3000.")
def command(facet: FacetSetting, prior: str | None) -> None:
    """Which way, and how far: from what a setting polished to how to turn the stone and change the angle.

    \b
    Example: a pavilion facet whose right side stays dull
      lapwise correct --part pavilion --angle 42 --index 30 --gear 96 --size 9x6 \\
          --prior diamond-3000 --trial 0,0,BBD/BBD/BBD
    """
    where = chosen()
    damage = damage_of(prior, where)
    answer = correct(facet, damage_um=damage, profile=load_profile(where))
    reply(answer.as_json(), print_correction, answer, damage)


def damage_of(prior: str | None, where: Folders) -> tuple[float, float] | None:
    """Depth of damage the compound of the previous step may have left, µm. Raises :class:`BadInput` for no such id."""
    if prior is None or prior in ("unknown", ""):
        return None
    knowledge = open_knowledge(where)
    return damage_range(Case(prior=known(prior, knowledge.compounds, "compound", "--prior")), knowledge)


def print_correction(answer: Correction, damage_um: tuple[float, float] | None) -> None:
    """The answer for reading: cautions, the facet, what to do in order."""
    points((caution.text for caution in answer.cautions), first="! ")
    if answer.cautions:
        say()
    say_all(drawing(answer))
    say()
    for number, sentence in enumerate(sentences(answer), 1):
        say(wrap(sentence, "   ", f"{number}. "))
    notes = _notes(answer.profile, answer, damage_um)
    if notes:
        say()
    points(notes)


def drawing(answer: Correction) -> list[str]:
    """The facet with its bright and dull part and the side that must go down, and the turn of the stone."""
    last = answer.facet.trials[-1]
    still = answer.done or (answer.shape.kind == "even" and not answer.lost)
    lines = facet_lines(
        last.map,
        across=0.0 if still or not (answer.turn.degrees or answer.spins) else answer.slope_across.degrees,
        along=answer.angle.degrees,
        tip=answer.frame.tip,
        dop=answer.frame.dop,
    )
    up = (
        "the edge that lay farthest from the mast up"
        if answer.frame.far_near
        else f"its {answer.frame.tip} up, the dop down"
    )
    return [
        f"  The facet as you face it, {up}:",
        "",
        *lines,
        "",
        "  " + legend(last.ink),
        *_ink(answer),
        *([""] if answer.turn.degrees else []),
        *turn_lines(answer.turn.degrees),
    ]


def _ink(answer: Correction) -> list[str]:
    """The ink map of the last setting, where there is one beside its polish map."""
    last, *before = reversed(answer.facet.trials)
    if last.ink or not before or not before[0].ink or (before[0].turn, before[0].angle) != (last.turn, last.angle):
        return []
    lines = facet_lines(before[0].map, tip=answer.frame.tip, dop=answer.frame.dop)
    return ["", "  Where the ink went:", "", *lines, "", "  " + legend(ink=True)]


def _notes(profile: MachineProfile | None, answer: Correction, damage_um: tuple[float, float] | None) -> list[str]:
    out = []
    if profile is None and answer.turn.degrees:
        out.append(
            "Your machine is not described yet: `lapwise machine calibrate` finds out which way its numbers and its "
            "knob run, and this answer then says it in marks and numbers."
        )
    if profile is not None and profile.angle_zero == "level" and answer.facet.angle is not None:
        dial = profile.dial(answer.facet.angle)
        out.append(f"Angles here count from the dop upright: {answer.facet.angle:g}° is {dial:g}° on your dial.")
    if damage_um is not None and (answer.turn.degrees or answer.angle.degrees):
        low, high = damage_um
        out.append(f"Worked out for damage {low:.2g} to {high:.2g} µm deep from the previous step.")
    if answer.turn.degrees or answer.angle.degrees:
        out.append(
            f"For the next trial: --trial {answer.next_turn:.3g},{answer.next_angle:.3g},MAP,fresh (what you really "
            "set, in all from the first setting; without `fresh` if you neither inked the facet nor renewed its "
            "pre-polish)."
        )
    return out
