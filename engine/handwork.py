"""The steps of a stone that no lap does by itself: orientation, dopping, girdle, transfer and table.

What each asks for follows from what is known of the material: its cleavages, how it takes heat and liquids, whether
its edges hold. Common practice without a source, where no other is named.
"""

from __future__ import annotations

from dataclasses import dataclass

from lapwise.engine.knowledge.model import PRACTICE, Cleavage, Material

SURE_DEGREES = 8
"""Off a cleavage by this much a facet is safe by all that is published (least distances of 5, 7 and 7 to 10)."""
COLD_LEVELS = ("high", "extreme")
WAIT_FOR_EPOXY = "Leave the glue the whole night: a joint that has not set creeps on the first hot facet."


@dataclass(frozen=True, slots=True)
class Job:
    """One step off the lap. ``before``: 0-based place among the lap steps it comes before (their number: after all)."""

    id: str
    label: str
    before: int
    do: tuple[str, ...]
    source: str


def dangerous(material: Material) -> tuple[Cleavage, ...]:
    """Every cleavage that can spoil a facet or split the stone, the worst first."""
    found = [c for c in material.cleavage if c.keep_off_degrees or c.quality in ("perfect", "good")]
    return tuple(sorted(found, key=lambda c: c.quality != "perfect"))


def keep_off(cleavage: Cleavage) -> str:
    """How far facets stay off a cleavage."""
    if not cleavage.keep_off_degrees:
        return f"It splits along {cleavage.plane}: lay no facet on it, and let that edge trail over the lap."
    least = f"{cleavage.keep_off_degrees:g}°"
    sure = f", {SURE_DEGREES}° to be sure" if cleavage.keep_off_degrees < SURE_DEGREES else ""
    return f"Keep every facet at least {least} off the {cleavage.quality} cleavage{sure} ({cleavage.plane})."


def cold_only(material: Material) -> bool:
    """Whether it must be dopped without heat: it cracks, dries or loses its filling when warmed."""
    hot = material.heat is not None and material.heat.level in COLD_LEVELS
    return hot or bool(material.traits & {"water-sensitive", "filled-or-oiled"})


def _orientation(material: Material) -> Job:
    planes = dangerous(material)
    axis = "" if "glassy" in material.traits else " and, if you can, the crystal axis"
    do = [f"Look into the rough from all sides and mark flaws, colour zones{axis}."]
    do += [keep_off(c) for c in planes]
    if planes:
        do.append("Tilt the table off a cleavage now, on paper and on the dop: later it costs the whole design.")
    if material.directional is not None and material.directional.level in ("marked", "extreme"):
        do.append("Mark the axis on the dop: it tells later which way a stubborn facet is best crossed.")
    if "strong-doubling" in material.traits:
        do.append("Lay the table square to the optic axis, or the back facets look doubled and soft.")
    if "often-included" in material.traits or "often-fractured" in material.traits:
        do.append("Put the worst flaw under a crown facet or where it will be cut away, and no crack at the culet.")
    return Job("orientation", "Orientation: how the stone lies", 0, tuple(do), planes[0].source if planes else PRACTICE)


def _dopping(material: Material) -> Job:
    heat = material.heat
    if cold_only(material):
        why = heat.because if heat is not None and heat.level in COLD_LEVELS else "Heat drives out water or filling."
        do = [
            f"Dop it cold, with epoxy or another glue that sets without heat; no wax, no flame. {why}",
            WAIT_FOR_EPOXY,
        ]
        source = heat.source if heat is not None and heat.level in COLD_LEVELS else PRACTICE
    elif heat is not None and heat.level == "moderate":
        do = [f"Warm stone and dop together and slowly, or glue it cold. {heat.because}", "Let it cool by itself."]
        source = heat.source
    else:
        do = ["Wax or glue, as you are used to; stone and dop clean, dry and free of grease."]
        source = PRACTICE
    if material.traits & {"filled-or-oiled", "water-sensitive"} or "opal" in material.line:
        do.append("Plan how it comes off: no solvent, no freezer, no flame; a glue that a blade parts or that peels.")
    return Job("dopping", "Dop it", 0, tuple(do), source)


def _girdle(material: Material, polish: int) -> Job:
    do = ["Cut the girdle level all round before the last pavilion facets, and check its height at four places."]
    if dangerous(material) or material.traits & {"brittle", "splintery"}:
        do.append(
            "Finish it to a polish while there is still body behind it: a raw girdle sheds chips under each facet."
        )
        return Job("girdle", "Girdle", polish, tuple(do), "igs_kunzite")
    do.append("Pre-polish it before the facets beside it get their polish, so that no raw edge crosses the lap.")
    return Job("girdle", "Girdle", polish, tuple(do), PRACTICE)


def _transfer(material: Material, after: int) -> Job:
    how = "cold, as before" if cold_only(material) else "with the adhesive you trust, and let it cool or set fully"
    do = (
        "Note index, fine index and angle of the last facet before the stone comes off.",
        f"Turn the stone round in a transfer block, {how}.",
        "Ink two girdle facets that lie opposite, and touch the still lap with each: both must rub off evenly.",
        "Then the crown takes the same steps from cutting to polish.",
    )
    return Job("transfer", "Transfer", after, do, "guild_table")


def _table(material: Material, after: int) -> Job:
    do = [
        "Cut and polish the table as early as the design allows, or last; both ways are taught.",
        "Set it flat with ink first: a large face shows the smallest tilt.",
        "It is the largest facet: twice as wide is four times the area and the time.",
    ]
    if dangerous(material):
        do.append("If it alone stays dull or pitted, look for the cleavage before you polish on.")
    return Job("table", "Table", after, tuple(do), "faceting_made_easy")


def jobs(material: Material, steps: int, polish: int) -> tuple[Job, ...]:
    """The jobs round ``steps`` lap steps of which the first polishing one stands at place ``polish`` (0-based)."""
    return (
        _orientation(material),
        _dopping(material),
        _girdle(material, polish),
        _transfer(material, steps),
        _table(material, steps),
    )
