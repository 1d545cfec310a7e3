"""The slots a rule's conditions may speak of, and all that is said of each: one registry for the loader, the facts, the
questions and what shell and screens show.

A raw fact is (slot, value). Raw facts come from the case and from what is known of its material, lap and compound;
they are all there before the first rule fires. ``finding`` is the one derived slot.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from lapwise.engine.case import FACET_PARTS, STAGES

Kind = Literal["one", "many", "number"]


@dataclass(frozen=True, slots=True)
class Measure:
    """How a person states a number: ``example`` as typed, ``form`` what is required, ``unit`` behind a bare number."""

    example: str
    form: str
    unit: str


@dataclass(frozen=True, slots=True)
class Slot:
    """``kind``: "one" holds at most one value, "many" any number (then ``not`` needs ``known_by``), "number" a float.

    ``values``: the closed list, or the name of the knowledge list whose ids are allowed (``@laps``), or () for a
    number. ``known_by``: for a "many" slot whose list is complete once another slot is known, that slot.
    Of what a person states: ``asks``, the question; ``called``, its name in front of a value, where that is not the
    slot's; ``words`` of values, where they are not the values; ``typed``, if it may be told as a number.
    """

    name: str
    kind: Kind
    values: tuple[str, ...]
    about: str
    known_by: str | None = None
    unit: str = ""
    asks: str = ""
    called: str = ""
    words: Mapping[str, str] = field(default_factory=dict)
    typed: Measure | None = None

    @property
    def ids_of(self) -> str:
        """The knowledge list whose ids it holds; empty if none."""
        return self.values[0][1:] if self.values and self.values[0].startswith("@") else ""

    @property
    def closed(self) -> bool:
        """Whether it holds words of its own closed list."""
        return bool(self.values) and not self.ids_of


def _one(name: str, values: str | tuple[str, ...], about: str, asks: str = "", called: str = "", **more: Any) -> Slot:
    listed = (values,) if isinstance(values, str) else values
    return Slot(name, "one", listed, about, asks=asks, called=called, **more)


YES_NO = ("yes", "no")
LEVELS = ("low", "moderate", "high", "extreme")

SLOTS: dict[str, Slot] = {
    s.name: s
    for s in (
        # what is on the machine
        Slot(
            "material",
            "many",
            ("@materials",),
            "the material and every group it belongs to",
            "material",
            asks="Which stone is it?",
            called="stone",
        ),
        Slot("trait", "many", ("@traits",), "what is known of the material, in one word each", "material"),
        Slot("mohs", "number", (), "hardness, middle of the range", unit="Mohs"),
        _one("heat", LEVELS, "how badly the material takes heat"),
        _one("acid", LEVELS, "how badly acids at the bench attack the material"),
        _one("toughness", ("poor", "fair", "good", "excellent"), "how well it resists chipping and breaking"),
        _one("directional", ("none", "slight", "marked", "extreme"), "how much hardness changes with direction"),
        _one("cleavage", ("none", "poor", "fair", "good", "perfect"), "the best cleavage it has"),
        _one("lap", "@laps", "the type of lap on the machine", "Which lap is on the machine?"),
        Slot("lap_trait", "many", ("@lap_traits",), "what kind of lap it is", "lap"),
        Slot("lap_hardness", "number", (), "hardness rank of the lap body, 1 (wax, cloth) to 10 (ceramic)"),
        _one("compound", "@compounds", "the compound on the lap", "Which compound is on the lap?", "polish"),
        _one("compound_kind", ("oxide", "carbide", "diamond", "none"), "the kind of compound"),
        Slot("compound_um", "number", (), "typical grain of the compound", unit="µm"),
        _one("prior_kind", ("oxide", "carbide", "diamond", "none"), "the kind of compound of the previous step"),
        Slot("prior_um", "number", (), "typical grain of the previous step", unit="µm"),
        Slot("step_ratio", "number", (), "grain of the previous step divided by the grain now (diamond steps)"),
        Slot("prior_lap_trait", "many", ("@lap_traits",), "what kind of lap the previous step had", "prior_lap"),
        _one(
            "pair",
            ("preferred", "listed", "unlisted", "avoided", "disputed"),
            "lap with compound on this material, as known; disputed: some say it works, some that it fails",
        ),
        _one("compound_fit", ("listed", "unlisted", "avoided"), "the compound on this material, whatever the lap"),
        _one("lap_fit", ("listed", "unlisted", "avoided"), "the lap on this material, whatever the compound"),
        # how far, what is seen
        _one(
            "stage",
            STAGES,
            "how far the facet has come",
            "What stage is the facet at?",
            words={"cut": "cutting", "prepolish": "pre-polish"},
        ),
        Slot("symptom", "many", ("@symptoms",), "what is seen or felt"),
        # the rest of what a case can state, in the order it is listed in
        _one("facet_part", FACET_PARTS, "which part of the stone", "Which part of the stone is it?", "part"),
        _one(
            "extent",
            ("one-facet", "some-facets", "one-side-of-stone", "all-facets"),
            "how many facets",
            "How many facets does it show on?",
        ),
        _one("onset", ("from-the-start", "gradual", "sudden", "after-change"), "how it began", "How did it begin?"),
        _one("wetness", ("dry", "damp", "wet", "flooded"), "how wet the lap is", "How wet is the lap?"),
        _one(
            "speed",
            ("slow", "medium", "fast"),
            "lap speed",
            "How fast does the lap run?",
            typed=Measure("300rpm", "a number of rpm", " rpm"),
        ),
        Slot("speed_rpm", "number", (), "lap speed", unit="rpm"),
        _one("pressure", ("light", "medium", "heavy"), "hand pressure", "How hard do you press?"),
        _one(
            "lap_surface",
            ("fresh", "worked-in", "smooth", "glazed", "caked", "grooved", "torn", "bubbled", "wrinkled", "worn-out"),
            "the face of the lap",
            "What does the face of the lap look like?",
            "lap face",
        ),
        _one(
            "lap_shared",
            YES_NO,
            "the lap has carried another compound or a coarser one",
            "Has the lap ever carried another compound, or a coarser one?",
        ),
        _one(
            "worked_before",
            ("same-material", "other-material", "never"),
            "the same lap and compound did well on",
            "Has this lap with this compound polished well before, and on what?",
        ),
        _one(
            "since",
            ("new-lap", "lap-change", "new-stone", "recharged", "transfer", "long-break", "none"),
            "what was changed before it began",
            "What changed just before it began?",
        ),
        _one(
            "facet_size",
            ("small", "medium", "large"),
            "size of the facet",
            "How large is the facet?",
            typed=Measure("9x6mm", "across x tip to dop in mm, as 9x6", " mm"),
        ),
        Slot("facet_mm", "number", (), "the longer side of the facet", unit="mm"),
        _one(
            "scratch_form",
            ("dotted", "continuous", "crooked", "curved"),
            "how the scratches look",
            "What do the scratches look like under a loupe?",
            "scratches",
        ),
        _one(
            "scratch_place",
            ("whole-facet", "one-zone-of-lap", "edges", "centre", "tip-end", "dop-end", "one-side"),
            "where the scratches are",
            "Where are the scratches?",
            "where",
        ),
        _one(
            "polished_before",
            YES_NO,
            "the facet already had a finished polish",
            "Did the facet have a finished polish before?",
        ),
        _one("carrier", ("water", "oil", "spray", "none"), "the liquid", "Which liquid is on the lap?"),
        _one("included", YES_NO, "the stone is visibly flawed or twinned", "Is the stone visibly included or twinned?"),
        _one("in_setting", YES_NO, "the stone is still in its setting", "Is it still set?", "in its setting"),
        _one(
            "c_axis",
            ("along-facet", "across-facet"),
            "crystal axis against the facet",
            "Does the crystal axis (c-axis) lie along the facet, or stand across it?",
            "crystal axis",
        ),
        _one("prior_lap", "@laps", "the lap of the previous step", "The lap of the previous step?", "lap before"),
        _one(
            "cleavage_near",
            YES_NO,
            "facet within 8 degrees of a cleavage plane",
            "Does the facet lie along a cleavage plane, or nearly so (within 8 degrees)?",
            "near cleavage",
        ),
        Slot(
            "cleavage_angle",
            "number",
            (),
            "facet to cleavage plane",
            unit="degrees",
            asks="Facet to cleavage plane?",
            called="degrees to cleavage",
            typed=Measure("6", "a number of degrees from 0 to 90", "°"),
        ),
        _one(
            "prior", "@compounds", "the compound of the previous step", "What was the previous step?", "previous step"
        ),
        _one(
            "prior_clean",
            YES_NO,
            "the previous step left an even surface with no stray lines",
            "Did the previous step leave an even surface with no stray lines?",
            "pre-polish clean",
        ),
        # what the calculators and the record say
        _one("step_verdict", ("polish-on", "back-one", "back-two"), "what the grain sizes say of the previous step"),
        _one("contact", ("even", "sloped", "patchy"), "what the facet map says of the contact"),
        _one("contact_slope", ("side-to-side", "tip-to-dop", "both"), "which way the facet map slopes"),
        _one("contact_centre", ("centre", "edges"), "a patchy map: what stays dull"),
        _one("correction_size", ("fine", "large"), "whether fine adjustment can cure the slope"),
        _one("stone_pattern", ("constant", "one-wave"), "corrections found round the stone"),
        _one("recorded_pair", ("worked", "failed", "mixed"), "your record of this lap and compound on this material"),
        _one("own_lap_state", ("clean", "due-for-cleaning", "carried-coarser"), "your record of the lap itself"),
        Slot("tried", "many", ("@remedies",), "a remedy that brought no change in this case"),
        Slot("made_worse", "many", ("@remedies",), "a remedy that made it worse in this case"),
        Slot("made_better", "many", ("@remedies",), "a remedy that made it better in this case, but did not cure it"),
        Slot("saw", "many", ("@look_results",), "a look and what it showed, as look=result"),
        # derived
        Slot("finding", "many", ("@findings",), "what an earlier rule concluded"),
    )
}

DERIVED = frozenset({"finding"})

MACHINE = ("material", "lap", "compound", "stage")
"""What is on the machine, and how far the facet has come."""
CONDITIONS: tuple[str, ...] = tuple(s.name for s in SLOTS.values() if s.asks and s.name not in MACHINE)
"""The slots a person may state as ``key=value`` beside material, lap, compound, stage and symptoms."""
MAP_ASKS = "Which side is dull?"


def question(key: str) -> str:
    """The question to put to the person; ``map``: that for a facet map."""
    return MAP_ASKS if key == "map" else SLOTS[key].asks
