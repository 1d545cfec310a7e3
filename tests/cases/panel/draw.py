"""Draws the everyday situations that a panel of cutters is asked about, and writes them to ``situations.yaml``.

    python -m tests.cases.panel.draw

Material, pair, stage, symptoms, facts, remedies tried and looks are drawn by hand-set weights (judgement: how often a
hobby cutter meets them, and what goes together at the bench); usual pairs come from ``polishes_with``. Neither rules
nor answers of the tool are read. ``use`` splits the set by the same seed before anybody has answered: ``learn`` may be
read while rules are reviewed, ``measure`` may not. The written file is what counts: it stays as drawn when the
materials change later. ``map`` is a polish map (rows from the tip end to the dop end).
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

SEED = 20261129
COUNT = 620
HERE = Path(__file__).parent
MATERIALS = Path(__file__).parents[3] / "knowledge" / "materials"

Weights = Mapping[str, float]
Drawn = dict[str, Any]

MATERIAL_WEIGHTS: Weights = {
    "quartz": 9, "quartz-rock-crystal": 16, "amethyst": 24, "citrine": 18, "smoky-quartz": 16, "rose-quartz": 6,
    "ametrine": 6, "prasiolite": 4, "synthetic-quartz": 5, "chalcedony": 2, "tiger-eye": 1,
    "beryl": 6, "aquamarine": 20, "morganite": 9, "heliodor": 7, "goshenite": 4, "emerald": 8, "synthetic-emerald": 3,
    "corundum": 6, "sapphire": 28, "ruby": 10, "synthetic-corundum": 16,
    "tourmaline": 16, "tourmaline-elbaite": 10, "rubellite": 8, "indicolite": 6, "tourmaline-dravite": 2,
    "tourmaline-liddicoatite": 1,
    "garnet": 8, "garnet-almandine": 12, "garnet-rhodolite": 13, "garnet-pyrope": 5, "garnet-spessartine": 9,
    "garnet-grossular": 4, "garnet-hessonite": 5, "garnet-tsavorite": 6, "garnet-demantoid": 3,
    "garnet-colour-change": 3,
    "topaz": 16, "blue-topaz": 10, "imperial-topaz": 5, "peridot": 20, "spinel": 14, "synthetic-spinel": 10,
    "zircon": 12, "zircon-high": 3, "zircon-low": 2, "chrysoberyl": 9, "alexandrite": 3, "synthetic-alexandrite": 2,
    "cubic-zirconia": 22, "yag": 8, "ggg": 2, "luag": 2, "moissanite": 2, "synthetic-rutile": 2,
    "strontium-titanate": 2,
    "glass": 8, "glass-soda-lime": 4, "glass-lead": 4, "obsidian": 6, "moldavite": 4, "opal": 7, "fire-opal": 5,
    "feldspar": 3, "sunstone": 12, "moonstone": 4, "labradorite": 6, "orthoclase": 5, "oligoclase": 2, "andesine": 3,
    "sanidine": 1, "amazonite": 1,
    "spodumene": 4, "kunzite": 9, "hiddenite": 2, "tanzanite": 12, "apatite": 10, "fluorite": 9, "sphene": 7,
    "diopside": 3, "chrome-diopside": 7, "iolite": 9, "andalusite": 6, "scapolite": 6, "sphalerite": 5,
    "rhodochrosite": 3, "kyanite": 4, "danburite": 4, "calcite": 2, "benitoite": 1, "kornerupine": 1, "axinite": 1,
    "enstatite": 2, "idocrase": 1, "epidote": 1, "sillimanite": 1, "phenakite": 1, "prehnite": 1, "amblygonite": 1,
    "brazilianite": 1, "barite": 1, "zincite": 1, "cassiterite": 1, "scheelite": 1, "dioptase": 1, "petalite": 1,
    "amber": 1,
}  # fmt: skip

LAP_WEIGHTS: Weights = {
    "tin-lap": 16, "tin-alloy-lap": 12, "composite-lap": 18, "oxide-composite-lap": 12, "acrylic-lap": 10,
    "polishing-film": 10, "ceramic-lap": 9, "copper-lap": 7, "zinc-lap": 8, "phenolic-lap": 5, "tin-lead-lap": 2,
    "wax-lap": 4, "wood-lap": 2, "pitch-lap": 1, "cloth-or-leather-lap": 1, "cast-iron-lap": 1,
    "resin-diamond-lap": 6, "sintered-diamond-lap": 4, "plated-diamond-lap": 6,
}  # fmt: skip
COMPOUND_WEIGHTS: Weights = {
    "cerium-oxide": 14, "aluminium-oxide": 12, "diamond-60000": 8, "diamond-50000": 9, "diamond-100000": 5,
    "diamond-14000": 4, "diamond-8000": 6, "diamond-3000": 6, "diamond-1200": 5, "zirconium-oxide": 4,
    "tin-oxide": 2, "chromium-oxide": 2, "aluminium-oxide-fine": 2, "colloidal-silica": 1, "mixed-oxide": 1,
}  # fmt: skip
COMMON_PAIRS: tuple[tuple[str, str], ...] = (
    ("tin-lap", "cerium-oxide"), ("tin-lap", "aluminium-oxide"), ("tin-lap", "diamond-50000"),
    ("tin-alloy-lap", "diamond-60000"), ("composite-lap", "diamond-50000"), ("composite-lap", "diamond-60000"),
    ("composite-lap", "cerium-oxide"), ("oxide-composite-lap", "cerium-oxide"), ("zinc-lap", "diamond-60000"),
    ("oxide-composite-lap", "aluminium-oxide"), ("acrylic-lap", "cerium-oxide"), ("acrylic-lap", "aluminium-oxide"),
    ("polishing-film", "cerium-oxide"), ("polishing-film", "aluminium-oxide"), ("ceramic-lap", "diamond-60000"),
    ("ceramic-lap", "diamond-100000"), ("copper-lap", "diamond-14000"), ("copper-lap", "diamond-50000"),
    ("phenolic-lap", "aluminium-oxide"), ("phenolic-lap", "cerium-oxide"), ("tin-lap", "diamond-100000"),
    ("acrylic-lap", "diamond-60000"), ("wood-lap", "chromium-oxide"), ("cloth-or-leather-lap", "cerium-oxide"),
    ("zinc-lap", "diamond-14000"), ("tin-lap", "zirconium-oxide"), ("wax-lap", "aluminium-oxide"),
)  # fmt: skip
PREPOLISH_PAIRS: Mapping[tuple[str, str], float] = {
    ("resin-diamond-lap", "diamond-1200"): 4, ("plated-diamond-lap", "diamond-1200"): 4,
    ("sintered-diamond-lap", "diamond-1200"): 2, ("copper-lap", "diamond-3000"): 3, ("zinc-lap", "diamond-8000"): 3,
    ("copper-lap", "diamond-8000"): 3, ("tin-lap", "diamond-3000"): 2, ("resin-diamond-lap", "diamond-3000"): 3,
    ("plated-diamond-lap", "diamond-3000"): 2, ("composite-lap", "diamond-8000"): 2,
    ("tin-alloy-lap", "diamond-8000"): 1,
}  # fmt: skip
CUT_PAIRS: Mapping[tuple[str, str], float] = {
    ("plated-diamond-lap", "diamond-260"): 3, ("plated-diamond-lap", "diamond-600"): 5,
    ("plated-diamond-lap", "diamond-360"): 2, ("plated-diamond-lap", "diamond-1200"): 2,
    ("sintered-diamond-lap", "diamond-600"): 3, ("sintered-diamond-lap", "diamond-360"): 1,
}  # fmt: skip
PRIORS: Weights = {"diamond-600": 3, "diamond-1200": 9, "diamond-3000": 8, "diamond-8000": 7, "diamond-14000": 2}
PRIOR_LAPS: Mapping[str, Weights] = {
    "diamond-100": {"plated-diamond-lap": 1},
    "diamond-180": {"plated-diamond-lap": 1},
    "diamond-260": {"plated-diamond-lap": 4, "sintered-diamond-lap": 1},
    "diamond-360": {"plated-diamond-lap": 4, "sintered-diamond-lap": 1},
    "diamond-600": {"plated-diamond-lap": 5, "sintered-diamond-lap": 3},
    "diamond-1200": {"plated-diamond-lap": 4, "resin-diamond-lap": 4, "sintered-diamond-lap": 2},
    "diamond-3000": {"copper-lap": 3, "tin-lap": 2, "resin-diamond-lap": 3, "zinc-lap": 1, "composite-lap": 1},
    "diamond-8000": {"copper-lap": 3, "zinc-lap": 4, "tin-alloy-lap": 1, "composite-lap": 2},
    "diamond-14000": {"zinc-lap": 3, "copper-lap": 2, "composite-lap": 1},
}

METAL = {"copper-lap", "zinc-lap", "tin-lap", "tin-alloy-lap", "tin-lead-lap", "cast-iron-lap"}
BONDED = {"plated-diamond-lap", "sintered-diamond-lap", "resin-diamond-lap"}
PLASTIC = {"acrylic-lap", "phenolic-lap", "composite-lap", "oxide-composite-lap"}
SOFT = {"wax-lap", "wood-lap", "pitch-lap", "cloth-or-leather-lap"}
CLEAVING = {
    "topaz", "fluorite", "spodumene", "feldspar", "diopside", "kyanite", "sphalerite", "rhodochrosite", "zoisite",
    "calcite", "barite", "euclase", "sillimanite", "amblygonite", "enstatite", "brazilianite", "dioptase", "petalite",
}  # fmt: skip
DIRECTIONAL = {
    "corundum", "tourmaline", "kyanite", "spodumene", "peridot", "zoisite", "apatite", "iolite", "zircon", "andalusite",
    "diopside", "topaz", "sphene", "chrysoberyl", "quartz", "rutile", "sillimanite", "scapolite",
}  # fmt: skip
HAS_C_AXIS = {"corundum", "tourmaline", "quartz", "beryl", "zircon", "apatite", "scapolite", "rutile", "spodumene"}
OFTEN_INCLUDED = {"emerald", "tourmaline", "rubellite", "ruby", "sunstone", "labradorite", "moonstone", "rose-quartz",
                  "iolite", "garnet-hessonite", "sapphire", "sphene", "apatite", "chrome-diopside",
                  "fire-opal"}  # fmt: skip
FLAWLESS = {"cubic-zirconia", "yag", "ggg", "luag", "glass-soda-lime", "glass-lead", "synthetic-quartz",
            "synthetic-spinel", "moissanite", "strontium-titanate", "synthetic-rutile"}  # fmt: skip
HEAT_SHY = {"opal", "fluorite", "apatite", "zoisite", "sphalerite", "tourmaline", "calcite", "peridot", "amber",
            "glass", "iolite", "rhodochrosite", "spodumene", "sphene"}  # fmt: skip
UNDERCUTS = {"labradorite", "sunstone", "tiger-eye", "chalcedony", "kyanite", "emerald", "iolite", "tourmaline",
             "moonstone", "rhodochrosite", "amazonite", "ametrine"}  # fmt: skip
ACID_SHY = {"calcite", "rhodochrosite", "sphalerite", "fluorite", "apatite"}
SCRATCHES = {
    "fine-scratches", "coarse-scratches", "scratches-with-travel", "scratches-cutting-direction", "scratches-return",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Symptom:
    """What goes with one symptom: each entry a name with its weight; ``facts`` and ``looks`` hold weighted values."""

    weight: float
    facts: Mapping[str, Weights]
    tried: Weights
    looks: Mapping[str, Weights]
    partners: Weights
    stages: Weights = field(default_factory=lambda: {"polish": 1.0, "prepolish": 0.3, "cut": 0.0})


def _even(text: str) -> Weights:
    """``a b=3 c`` as weights; 1 where none is named."""
    out: dict[str, float] = {}
    for word in text.split():
        name, _, weight = word.partition("=")
        out[name] = float(weight or 1)
    return out


def _symptom(
    weight: float, facts: Iterable[str], tried: str, looks: Iterable[str], partners: str, stages: str = ""
) -> Symptom:
    def table(lines: Iterable[str]) -> Mapping[str, Weights]:
        return {name: _even(rest) for name, _, rest in (line.partition(": ") for line in lines)}

    chosen = _even(stages or "polish=1 prepolish=0.3 cut=0")
    return Symptom(weight, table(facts), _even(tried), table(looks), _even(partners), chosen)


SYMPTOMS: Mapping[str, Symptom] = {
    "fine-scratches": _symptom(
        17,
        ["scratch_form: continuous=4 crooked=3 curved=2 dotted=2", "prior_clean: yes=3 no=2", "lap_shared: yes=1 no=3",
         "scratch_place: whole-facet=5 edges=2 centre one-side", "since: recharged=2 new-stone=2 lap-change=2 none=3"],
        "clean-lap=6 less-compound=4 recharge-lap=3 polish-longer=3 clean-everything=4 press-lighter=3 step-back-one=3 "
        "finer-compound=2 change-sweep=2 slow-down=2 new-compound wetter fresh-slurry=2 reverse-direction",
        ["loupe-check: continuous=4 crooked=3 dotted=2", "test-other-stone: good same",
         "test-other-facet: good=1 same=2", "cross-stroke: turns=2 stays=2"],
        "haze=4 slow-polish=2 drags=2 pits uneven-results=2 rounded-edges orange-peel comet-tails",
    ),
    "coarse-scratches": _symptom(
        8,
        ["onset: sudden=6 gradual from-the-start=2", "scratch_form: continuous=5 curved=2 dotted",
         "lap_shared: yes=2 no=2", "scratch_place: one-zone-of-lap=3 whole-facet=3 edges=2",
         "since: recharged=2 long-break=2 new-lap=2 lap-change=2", "prior_clean: yes no"],
        "clean-lap=6 clean-everything=6 recharge-lap=2 less-compound=2 pick-out-grain=2 step-back-one=3 new-film=3 "
        "polish-longer=2 press-lighter score-lap",
        ["loupe-check: continuous=5 dotted", "test-other-stone: same=3 good=1", "cross-stroke: turns=2 stays=1",
         "test-other-facet: same=2 good"],
        "fine-scratches=3 torn-facet=2 chipped-edges=2 drags=2 uneven-results",
        "polish=1 prepolish=1 cut=0.4",
    ),
    "scratches-with-travel": _symptom(
        5,
        ["scratch_form: continuous=5 curved", "pressure: heavy=3 medium=2", "scratch_place: whole-facet=4 one-side",
         "lap_surface: grooved=2 fresh=2 worked-in=2 caked", "since: new-lap=2 recharged=2 none"],
        "change-sweep=5 clean-lap=3 less-compound=3 press-lighter=3 finer-compound=2 reverse-direction=2 slow-down=2 "
        "recondition-lap",
        ["cross-stroke: turns=4 stays=1", "loupe-check: continuous=4", "check-lap-true: true=2 hollow"],
        "haze=2 drags=2 slow-polish=2 fine-scratches=2",
        "polish=1 prepolish=1 cut=0",
    ),
    "scratches-cutting-direction": _symptom(
        7,
        ["prior_clean: no=4 yes=1", "scratch_form: dotted=5 continuous=2", "extent: all-facets=3 some-facets=3",
         "onset: from-the-start=4", "facet_size: large=3 medium=2"],
        "polish-longer=6 press-harder=3 recharge-lap=2 more-compound=2 step-back-one=3 coarser-compound=2 speed-up=2",
        ["cross-stroke: stays=5", "loupe-check: dotted=5 continuous=1", "test-other-facet: same=2 good"],
        "slow-polish=4 partial-polish=1 haze=2 pits=2",
        "polish=1 prepolish=1.5 cut=0",
    ),
    "scratches-return": _symptom(
        8,
        ["scratch_place: edges=2 whole-facet=3 one-zone-of-lap=2 one-side", "scratch_form: continuous=3 crooked=2",
         "lap_shared: yes=2 no=2", "included: yes=1 no=2", "onset: from-the-start=2 sudden=2 gradual"],
        "clean-lap=6 clean-everything=4 polish-longer=2 recharge-lap=3 step-back-one=3 less-compound=3 new-compound=2 "
        "protect-edges press-lighter=2 pick-out-grain change-sweep",
        ["loupe-check: continuous=3 crooked=3 pits=1", "test-other-stone: good=2 same=2",
         "test-other-facet: same=2 good"],
        "chipped-edges=2 pits=2 drags=2 haze=2 uneven-results=2",
    ),
    "partial-polish": _symptom(
        2.5,
        ["extent: one-facet=4 some-facets=3 one-side-of-stone=2", "since: transfer=2 lap-change=3 none=2 long-break",
         "facet_size: large=3 medium=2 small", "prior_clean: yes=2 no=1"],
        "adjust-fine-index=5 adjust-angle=4 polish-longer=4 press-harder=2 step-back-one=2 set-height tighten-machine",
        ["ink-facet: one-side=4 one-end=4 edges centre", "check-alignment: level=2 one-side=2 one-end wave",
         "check-lap-true: true=3 hollow wobbles"],
        "slow-polish=2 rounded-edges soft-meets=2 two-planes=2 facet-moved=2 scratches-cutting-direction=2",
    ),
    "stays-dull": _symptom(
        8,
        ["onset: from-the-start=5 after-change=2", "worked_before: never=2 other-material=3 same-material=2",
         "wetness: flooded=2 wet=2 damp dry", "pressure: light=2 medium=3", "lap_surface: glazed=2 fresh=2 smooth=2",
         "polished_before: yes=1", "since: new-lap=2 new-stone=2 lap-change=2 recharged"],
        "polish-longer=6 press-harder=4 more-compound=4 recharge-lap=4 speed-up=2 drier=2 clean-lap=3 change-oxide=2 "
        "oxide-to-diamond=2 step-back-one=2 break-in-lap wetter",
        ["ink-facet: even=5 one-side centre", "test-other-stone: good=2 same=2", "identify-stone: as-named=4 other=1"],
        "skates=4 slow-polish=1 scratches-cutting-direction=2 hot-stone",
    ),
    "slow-polish": _symptom(
        10,
        ["pressure: light=3 medium=3", "speed: slow=3 medium=3", "wetness: flooded=2 wet=3 damp=2",
         "facet_size: large=5 medium=2", "prior_clean: yes=3 no=2", "lap_surface: glazed=2 smooth=2 worked-in=2 fresh",
         "onset: gradual=2 from-the-start=3"],
        "press-harder=5 more-compound=5 recharge-lap=4 speed-up=4 polish-longer=4 drier=2 add-middle-step=2 "
        "clean-lap=2 "
        "score-lap change-oxide=2 fresh-slurry=2 coarser-compound=2 acidify-slurry",
        ["ink-facet: even=4 centre one-side", "loupe-check: dotted=3 clean=2", "test-other-stone: good=1 same=2"],
        "skates=3 fine-scratches=2 scratches-cutting-direction=3 haze=2 hot-stone=2 orange-peel",
        "polish=1 prepolish=0.8 cut=0.3",
    ),
    "uneven-results": _symptom(
        4,
        ["extent: some-facets=5 one-side-of-stone=2", "wetness: damp=2 wet=2 dry", "worked_before: same-material=4",
         "since: none=4 new-stone=2", "lap_surface: worked-in=2 caked=2 worn-out", "carrier: water=2 oil spray=2"],
        "clean-lap=4 recharge-lap=4 fresh-slurry=2 wetter=2 less-compound=2 change-sweep=2 slow-down "
        "reverse-direction=2",
        ["test-other-facet: good=3 same=1", "check-lap-true: true=2 wobbles=2 hollow", "loupe-check: clean continuous"],
        "drags=2 fine-scratches=2 one-direction-only=2 skates=2 slow-polish",
    ),
    "torn-facet": _symptom(
        4,
        ["onset: sudden=5 gradual", "pressure: heavy=3 medium=2", "wetness: dry=3 damp=3", "speed: fast=2 medium=2",
         "c_axis: across-facet=2 along-facet=2", "cleavage_near: yes=2 no=2", "lap_surface: caked=3 worked-in"],
        "press-lighter=4 wetter=3 slow-down=3 reverse-direction=3 clean-lap=4 less-compound=3 step-back-one=4",
        ["loupe-check: continuous=3 pits=2", "test-other-facet: good=3 same=1",
         "find-cleavage: near=2 far not-found=2"],
        "drags=4 hot-stone=2 burnt-compound=2 chipped-edges=2 one-direction-only=2",
    ),
    "curved-facet": _symptom(
        1.5,
        ["lap_surface: worn-out=2 grooved=2 worked-in=2 bubbled", "facet_size: large=5 medium",
         "pressure: heavy=2 medium",
         "facet_part: table=4 pavilion=2 crown"],
        "harder-lap=3 press-lighter=3 recondition-lap=2 step-back-one=3 slow-down",
        ["ink-facet: centre=4 even=1", "check-lap-true: hollow=2 wobbles=2 true=2"],
        "rounded-edges=5 soft-meets=4",
    ),
    "undercutting": _symptom(
        1.5,
        ["included: yes=4 no=1", "extent: all-facets=2 some-facets=2", "pressure: heavy=2 medium=2"],
        "harder-lap=3 press-lighter=3 speed-up slow-down=2 oxide-to-diamond=2 reverse-direction=2",
        ["loupe-check: pits=2 clean=3", "test-other-facet: same=2 good=2"],
        "orange-peel=3 pits=3 haze=2",
    ),
    "hot-stone": _symptom(
        2,
        ["wetness: dry=5 damp=3", "pressure: heavy=4 medium", "speed: fast=4 medium=2", "carrier: none=2 oil water=2",
         "facet_size: large=3 medium"],
        "wetter=5 slow-down=5 press-lighter=5 let-cool=4 less-compound=1",
        ["test-other-stone: good same=2"],
        "drags=4 slow-polish=4 burnt-compound=3 facet-moved=2 cracks=1",
        "polish=1 prepolish=0.8 cut=0.8",
    ),
    "haze": _symptom(
        8,
        ["onset: gradual=3 from-the-start=3 after-change=2", "wetness: dry=2 damp=3 wet=2",
         "carrier: oil=1 water=3 spray",
         "prior_clean: yes=3 no", "worked_before: same-material=3 other-material=2 never",
         "lap_surface: caked=2 worked-in",
         "extent: all-facets=4 some-facets"],
        "polish-longer=4 clean-lap=5 finer-compound=3 fresh-slurry=3 less-compound=3 recharge-lap=3 change-oxide=2 "
        "wetter=2 soft-water press-lighter=2 new-compound=2",
        ["soak-and-wipe: same=4 less=2 gone=1", "loupe-check: clean=4 dotted=2", "test-other-stone: good same"],
        "fine-scratches=4 surface-film=2 orange-peel=2 slow-polish=3 pits",
        "polish=1 prepolish=0.1 cut=0",
    ),
    "orange-peel": _symptom(
        6,
        ["extent: some-facets=4 all-facets=3", "pressure: heavy=3 medium=3", "speed: fast=2 medium=2",
         "onset: gradual=2 from-the-start=2", "c_axis: across-facet=2 along-facet=2", "carrier: oil water=2 spray=2",
         "wetness: damp=2 wet=2 dry"],
        "press-lighter=4 slow-down=4 reverse-direction=4 less-compound=3 polish-longer=3 step-back-one=3 "
        "change-sweep=3 "
        "softer-lap harder-lap=2 diamond-to-oxide=2 change-oxide=2",
        ["test-other-facet: good=3 same=2", "loupe-check: clean=3 pits=2", "cross-stroke: stays turns",
         "soak-and-wipe: same=3"],
        "haze=3 rounded-edges=2 slow-polish=2 one-direction-only=3 pits=2",
    ),
    "pits": _symptom(
        6,
        ["included: yes=4 no=2", "prior_clean: yes=2 no=3", "extent: some-facets=3 all-facets=3 one-facet=2",
         "onset: from-the-start=4 gradual", "cleavage_near: yes no=2"],
        "step-back-one=5 polish-longer=4 press-lighter=2 finer-compound=2 step-back-two=2 add-middle-step=2 "
        "clean-lap=2",
        ["loupe-check: pits=6 dotted=1", "test-other-facet: good=2 same=2", "test-other-stone: good=3 same=1"],
        "comet-tails=4 fine-scratches=2 haze=2 scratches-cutting-direction=3 orange-peel",
        "polish=1 prepolish=1 cut=0.2",
    ),
    "comet-tails": _symptom(
        3,
        ["included: yes=5 no=1", "pressure: heavy=2 medium=2", "extent: some-facets=3 one-facet=2 all-facets"],
        "change-sweep=4 reverse-direction=4 press-lighter=3 step-back-one=3 slow-down=2 less-compound=2 finer-compound",
        ["loupe-check: pits=4 continuous=1", "test-other-facet: good=3 same", "cross-stroke: turns=3 stays"],
        "pits=5 fine-scratches=2 haze",
    ),
    "rounded-edges": _symptom(
        4,
        ["lap_surface: worked-in=3 caked=2 worn-out=2", "pressure: heavy=4 medium=2", "wetness: wet=2 flooded=2 damp",
         "facet_size: small=2 medium=2", "extent: all-facets=4 some-facets=2"],
        "press-lighter=4 less-compound=4 harder-lap=3 speed-up polish-longer clean-lap=2 add-middle-step=2",
        ["ink-facet: edges=3 even=2", "check-lap-true: true=3 wobbles"],
        "soft-meets=5 curved-facet=2 slow-polish=3 orange-peel",
        "polish=1 prepolish=0.2 cut=0",
    ),
    "soft-meets": _symptom(
        2.5,
        ["facet_size: small=4 medium=2", "pressure: heavy=3 medium=2", "facet_part: crown=3 pavilion=3",
         "extent: all-facets=2 some-facets=3"],
        "press-lighter=4 harder-lap=3 less-compound=3 step-back-one=2 add-middle-step=2 adjust-angle=2",
        ["ink-facet: edges=2 even=2 one-end=2", "check-alignment: level=2 one-side one-end"],
        "rounded-edges=5 facet-moved=3 slow-polish=2",
    ),
    "chipped-edges": _symptom(
        5,
        ["facet_part: girdle=4 table pavilion=2 crown=2", "pressure: heavy=3 medium=2",
         "lap_surface: fresh=4 worked-in",
         "since: new-lap=3 none", "speed: fast=2 medium=2", "cleavage_near: yes no=2", "in_setting: yes=0.5"],
        "press-lighter=5 slow-down=4 finer-compound=3 protect-edges=2 wetter=2 reverse-direction=2 girdle-first=2",
        ["loupe-check: crooked pits=2 clean", "test-other-stone: good=2 same", "find-cleavage: near far not-found=2"],
        "coarse-scratches=3 scratches-return=3 flaking=2 cracks=1 fine-scratches=2",
        "polish=1 prepolish=2 cut=10",
    ),
    "flaking": _symptom(
        2,
        ["cleavage_near: yes=4 no=1", "onset: from-the-start=3 sudden=2", "extent: one-facet=5 some-facets=2",
         "pressure: heavy=2 medium=2"],
        "press-lighter=4 reverse-direction=4 slow-down=3 finer-compound=2 shift-off-cleavage=2 step-back-one=2",
        ["find-cleavage: near=4 far=1 not-found=2", "test-other-facet: good=5 same", "loupe-check: pits=3"],
        "chipped-edges=3 torn-facet=2 cracks=2 one-direction-only=2",
        "polish=1 prepolish=1.5 cut=6",
    ),
    "cracks": _symptom(
        1.5,
        ["onset: sudden=5 gradual", "pressure: heavy=2 medium=2", "wetness: dry=3 damp=2 wet", "included: yes=3 no",
         "since: transfer=3 none new-stone=2", "speed: fast=2 medium=2"],
        "let-cool=3 press-lighter=4 wetter=3 slow-down=3 set-aside=2 cold-dop=2",
        ["find-cleavage: near=2 far not-found=2", "loupe-check: crooked=3 clean"],
        "hot-stone=4 chipped-edges=3 flaking=2",
        "polish=1 prepolish=1 cut=5",
    ),
    "one-direction-only": _symptom(
        2.5,
        ["c_axis: across-facet=3 along-facet=3", "extent: one-facet=3 some-facets=3 one-side-of-stone=3",
         "cleavage_near: yes=1 no=1", "facet_part: table=3 pavilion=2 crown"],
        "reverse-direction=3 slow-down=3 press-lighter=3 polish-longer=3 change-sweep=3 recharge-lap",
        ["test-other-facet: good=4 same=1", "find-cleavage: near=2 far not-found=2", "cross-stroke: turns=2"],
        "torn-facet=3 slow-polish=3 orange-peel=3 drags=2 flaking",
        "polish=1 prepolish=0.4 cut=0",
    ),
    "drags": _symptom(
        5,
        ["wetness: dry=4 damp=4", "pressure: heavy=3 medium=2", "facet_size: large=4 medium",
         "facet_part: table=4 pavilion",
         "lap_surface: fresh=2 smooth=2 caked=2 glazed", "speed: slow=2 fast=2 medium=2", "since: recharged new-lap=2"],
        "wetter=5 press-lighter=4 slow-down=3 less-compound=3 more-compound=2 clean-lap=3 lubricate-lap=2 speed-up=2",
        ["test-other-stone: same=2 good", "check-lap-true: true=3 wobbles", "test-other-facet: good same=2"],
        "fine-scratches=4 hot-stone=3 torn-facet=2 coarse-scratches=2 burnt-compound=2",
    ),
    "skates": _symptom(
        3.5,
        ["wetness: flooded=4 wet=3", "pressure: light=4 medium=2", "lap_surface: glazed=3 smooth=4 fresh=2",
         "speed: fast=3 medium=2", "carrier: oil=2 water=2 spray", "since: new-lap=3 recharged none"],
        "drier=4 press-harder=5 more-compound=4 slow-down=3 recharge-lap=3 score-lap=2 clean-lap=3 break-in-lap=2",
        ["ink-facet: even=3 centre", "test-other-stone: same=4 good"],
        "stays-dull=5 slow-polish=5 uneven-results",
    ),
    "surface-film": _symptom(
        2.5,
        ["wetness: dry=3 damp=3", "carrier: oil=2 water=3", "onset: gradual=2 from-the-start", "since: recharged none",
         "pressure: heavy medium=2"],
        "clean-lap=4 wetter=4 less-compound=4 press-lighter=2 polish-longer=2 soft-water=2 fresh-slurry=2",
        ["soak-and-wipe: gone=4 less=3 same=1"],
        "haze=4 burnt-compound=2 slow-polish",
        "polish=1 prepolish=0.1 cut=0",
    ),
    "two-planes": _symptom(
        2,
        ["since: transfer lap-change=4 long-break=3", "extent: one-facet=3 some-facets=4",
         "facet_size: medium=2 large=2"],
        "adjust-fine-index=5 adjust-angle=5 polish-longer=4 step-back-one=3 set-height=2",
        ["ink-facet: one-side=4 one-end=4 centre", "check-alignment: one-side=2 level one-end wave"],
        "partial-polish=3 facet-moved=3 soft-meets=3",
    ),
    "facet-moved": _symptom(
        2,
        ["since: transfer=4 lap-change=3 long-break=2", "extent: some-facets=4 one-side-of-stone=3 all-facets=2",
         "onset: after-change=3 gradual=1 sudden=2"],
        "adjust-fine-index=4 adjust-angle=4 set-height=3 re-dop=2 step-back-one=3 tighten-machine=2",
        ["check-alignment: one-side=3 one-end=2 wave=2 level=2", "ink-facet: one-side=3 one-end=3"],
        "soft-meets=4 two-planes=3 partial-polish=3",
        "polish=1 prepolish=1.5 cut=2",
    ),
    "burnt-compound": _symptom(
        1.5,
        ["wetness: dry=6 damp=2", "pressure: heavy=4 medium", "speed: fast=4 medium", "lap_surface: caked=3 glazed=3",
         "onset: gradual=4 sudden"],
        "wetter=4 clean-lap=5 slow-down=4 press-lighter=4 less-compound=3",
        ["soak-and-wipe: same less=3 gone=2", "test-other-stone: same=3"],
        "hot-stone=4 drags=4 surface-film=2 fine-scratches=2",
        "polish=1 prepolish=0.3 cut=0",
    ),
}  # fmt: skip

ANY_FACT: Mapping[str, Weights] = {
    "prior": {"": 1},
    "prior_clean": _even("yes=4 no=2"),
    "extent": _even("one-facet=2 some-facets=4 one-side-of-stone all-facets=4"),
    "onset": _even("from-the-start=4 gradual=2 sudden=2 after-change"),
    "wetness": _even("dry=1 damp=4 wet=4 flooded"),
    "speed": _even("slow=3 medium=5 fast=2"),
    "pressure": _even("light=3 medium=5 heavy=2"),
    "lap_surface": _even("fresh=3 worked-in=5 smooth=2 glazed caked grooved worn-out bubbled wrinkled torn"),
    "facet_part": _even("table=3 crown=4 pavilion=5 girdle=1"),
    "since": _even("new-lap=2 lap-change=2 new-stone=2 recharged=2 transfer=1 long-break none=3"),
    "carrier": _even("water=3 oil=3 spray=2 none"),
    "worked_before": _even("same-material=3 other-material=3 never=2"),
    "facet_size": _even("small=2 medium=3 large=3"),
}
FACT_WEIGHTS: Weights = {"prior": 3.5, "facet_part": 1.5, "carrier": 1.0, "facet_size": 0.8, "worked_before": 0.8}


@dataclass(slots=True)
class Bench:
    """What the facts must go with while one situation is drawn."""

    material: str
    family: str
    lap: str | None
    compound: str | None
    stage: str
    symptoms: list[str]

    @property
    def oxide(self) -> bool:
        return self.compound is not None and not self.compound.startswith("diamond")

    @property
    def diamond(self) -> bool:
        return self.compound is not None and self.compound.startswith("diamond")


def pick(rng: random.Random, weights: Mapping[Any, float]) -> Any:
    names = list(weights)
    return rng.choices(names, [weights[name] for name in names])[0]


def read_materials() -> dict[str, dict[str, Any]]:
    out: dict[str, dict[str, Any]] = {}
    for path in sorted(MATERIALS.glob("*.yaml")):
        out.update(yaml.safe_load(path.read_text(encoding="utf-8"))["materials"])
    return out


def line_of(name: str, materials: Mapping[str, Mapping[str, Any]]) -> list[str]:
    """The material and the groups it belongs to, its family last."""
    line = [name]
    while parent := materials[line[-1]].get("parent"):
        line.append(parent)
    return line


def pairs_of(name: str, materials: Mapping[str, Mapping[str, Any]], stage: str) -> dict[tuple[str, str], float]:
    """Usual pairs of lap and compound on this material, weighted by how common both are."""
    entries: list[Mapping[str, Any]] = next(
        (materials[m]["polishes_with"] for m in line_of(name, materials) if "polishes_with" in materials[m]), []
    )
    out: dict[tuple[str, str], float] = {}
    for rank, entry in enumerate(e for e in entries if e.get("stage", "polish") == stage):
        for lap in entry["laps"]:
            for compound in entry["compounds"]:
                weight = LAP_WEIGHTS.get(lap, 1) * COMPOUND_WEIGHTS.get(compound, 1) / (1 + 0.4 * rank)
                out[lap, compound] = max(out.get((lap, compound), 0), weight)
    return out


def draw_pair(
    rng: random.Random, name: str, materials: Mapping[str, Mapping[str, Any]], stage: str, kind: str
) -> tuple[str | None, str | None]:
    usual = pairs_of(name, materials, "polish")
    lap: str | None
    compound: str | None
    if stage == "cut":
        lap, compound = pick(rng, CUT_PAIRS)
    elif kind == "unsuited" and stage == "polish":
        others = {pair: LAP_WEIGHTS[pair[0]] * COMPOUND_WEIGHTS[pair[1]] for pair in COMMON_PAIRS if pair not in usual}
        lap, compound = pick(rng, others)
    elif stage == "prepolish":
        own = pairs_of(name, materials, "prepolish")
        lap, compound = pick(rng, own if own and kind == "usual" and rng.random() < 0.6 else PREPOLISH_PAIRS)
    else:
        lap, compound = pick(rng, usual)
        if compound.startswith("diamond") and rng.random() < 0.06:
            compound = "diamond-unknown"
    if kind == "unknown":
        return (None, compound) if rng.random() < 0.5 else (lap, None)
    return lap, compound


def likelihood(symptom: str, bench: Bench) -> float:
    """How much more or less common the symptom is on this material and lap than elsewhere."""
    factor = SYMPTOMS[symptom].stages.get(bench.stage, 0.0)
    soft_lap = bench.lap in SOFT or bench.lap in ("polishing-film", "cloth-or-leather-lap")
    rules: tuple[tuple[bool, float], ...] = (
        (symptom == "flaking" and bench.family not in CLEAVING, 0.03),
        (symptom == "flaking" and bench.family in CLEAVING, 4.0),
        (symptom == "cracks" and bench.family not in HEAT_SHY, 0.3),
        (symptom == "cracks" and bench.family in HEAT_SHY, 3.0),
        (symptom == "one-direction-only" and bench.family not in DIRECTIONAL, 0.0),
        (symptom == "one-direction-only" and bench.family in DIRECTIONAL, 2.0),
        (symptom == "torn-facet" and bench.family not in DIRECTIONAL | CLEAVING, 0.5),
        (symptom == "undercutting" and not {bench.material, bench.family} & UNDERCUTS, 0.05),
        (symptom == "undercutting" and bench.material in UNDERCUTS, 6.0),
        (symptom in ("comet-tails", "pits") and bench.material in FLAWLESS, 0.3),
        (symptom == "comet-tails" and bench.material in OFTEN_INCLUDED, 2.0),
        (symptom in ("rounded-edges", "soft-meets", "curved-facet") and soft_lap, 3.0),
        (symptom in ("rounded-edges", "curved-facet") and bench.lap in METAL | {"ceramic-lap"}, 0.4),
        (symptom == "burnt-compound" and bench.lap in BONDED | {"polishing-film"}, 0.1),
        (symptom == "surface-film" and bench.lap in BONDED, 0.1),
        (symptom == "skates" and bench.lap in SOFT | BONDED, 0.4),
        (symptom == "haze" and bench.family in ("quartz", "glass", "opal", "peridot", "apatite", "fluorite"), 1.4),
        (symptom == "orange-peel" and bench.family in ("quartz", "cubic-zirconia", "garnet", "yag", "peridot"), 1.6),
        (symptom == "scratches-with-travel" and bench.oxide, 0.5),
    )
    for holds, times in rules:
        factor *= times if holds else 1.0
    return factor


def draw_symptoms(rng: random.Random, bench: Bench, first: str | None, two: bool) -> list[str]:
    if first is None:
        weights = {name: s.weight * likelihood(name, bench) for name, s in SYMPTOMS.items() if name != "partial-polish"}
        weights["partial-polish"] = SYMPTOMS["partial-polish"].weight * likelihood("partial-polish", bench) * 0.6
        first = str(pick(rng, weights))
    if not two:
        return [first]
    partners = {name: w * max(likelihood(name, bench), 0.01) for name, w in SYMPTOMS[first].partners.items()}
    return [first, str(pick(rng, partners))]


def surface_fits(value: str, bench: Bench) -> bool:
    lap = bench.lap
    if lap is None:
        return value in ("fresh", "worked-in", "worn-out")
    if lap == "polishing-film":
        return value in ("fresh", "worn-out", "bubbled", "wrinkled", "torn")
    if lap in BONDED:
        return value in ("fresh", "worked-in", "worn-out") or (value == "glazed" and lap != "plated-diamond-lap")
    if lap == "ceramic-lap":
        return value in ("fresh", "worked-in", "smooth", "glazed")
    if lap in SOFT:
        return value in ("fresh", "worked-in", "caked", "worn-out") or (value == "grooved" and lap != "wood-lap")
    return value in ("fresh", "worked-in", "smooth", "glazed", "caked", "grooved")


def carrier_fits(value: str, bench: Bench) -> bool:
    if bench.oxide or bench.lap in BONDED | {"polishing-film"}:
        return value == "water"
    return value != "none" or bench.lap in METAL | {"ceramic-lap", None}


def wetness_fits(value: str, bench: Bench) -> bool:
    if bench.lap == "polishing-film" or bench.lap in BONDED:
        return value in ("damp", "wet", "flooded")
    if bench.diamond:
        return value != "flooded"
    wet = {"hot-stone", "burnt-compound", "drags"} & set(bench.symptoms)
    return not (wet and value in ("wet", "flooded"))


def since_fits(value: str, bench: Bench) -> bool:
    if value == "recharged":
        return bench.lap not in BONDED | {"polishing-film"} and bench.compound is not None
    return True


def c_axis_fits(_: str, bench: Bench) -> bool:
    return bench.family in HAS_C_AXIS


def cleavage_fits(_: str, bench: Bench) -> bool:
    return bench.family in CLEAVING


def included_fits(value: str, bench: Bench) -> bool:
    return bench.material not in FLAWLESS or value == "no"


FITS: Mapping[str, Callable[[str, Bench], bool]] = {
    "lap_surface": surface_fits, "carrier": carrier_fits, "wetness": wetness_fits, "since": since_fits,
    "c_axis": c_axis_fits, "cleavage_near": cleavage_fits, "included": included_fits,
}  # fmt: skip
SINCE_FITS: Mapping[str, set[str]] = {
    "from-the-start": {"new-lap", "new-stone", "none", "lap-change"},
    "gradual": {"none", "long-break", "recharged"},
    "sudden": {"none", "recharged", "long-break", "lap-change"},
    "after-change": {"new-lap", "lap-change", "new-stone", "recharged", "transfer"},
}


def together(facts: Mapping[str, str]) -> bool:
    """Whether what is told does not contradict itself."""
    onset, since, before = facts.get("onset"), facts.get("since"), facts.get("worked_before")
    if onset and since and since not in SINCE_FITS[onset]:
        return False
    if before == "same-material" and (since == "new-lap" or onset == "from-the-start"):
        return False
    if before == "never" and (onset in ("gradual", "sudden") or since in ("recharged", "long-break")):
        return False
    surface = facts.get("lap_surface")
    if surface == "fresh" and (before in ("same-material", "other-material") or onset == "gradual"):
        return False
    if since == "new-lap" and surface not in (None, "fresh", "smooth", "bubbled", "wrinkled"):
        return False
    if since == "transfer" and facts.get("facet_part") == "girdle":
        return False
    if facts.get("facet_part") == "table" and facts.get("extent") not in (None, "one-facet"):
        return False
    if facts.get("facet_part") == "girdle" and facts.get("facet_size") == "large":
        return False
    if facts.get("carrier") in ("oil", "none") and facts.get("wetness") == "flooded":
        return False
    return facts.get("polished_before") != "yes" or since != "new-stone"


def in_numbers(rng: random.Random, key: str, value: str) -> str:
    """Now and then a speed or a size is told in figures."""
    if key == "speed" and rng.random() < 0.3:
        return f"{rng.choice({'slow': [60, 80, 100], 'medium': [150, 200, 300], 'fast': [700, 1000, 1500]}[value])}rpm"
    if key == "facet_size" and rng.random() < 0.3:
        return rng.choice(
            {"small": ["2x1.5mm", "3x2mm"], "medium": ["5x4mm", "6x3mm"], "large": ["9x6mm", "12x9mm"]}[value]
        )
    return value


def grade(compound: str) -> int:
    tail = compound.rpartition("-")[2]
    return int(tail) if tail.isdigit() else 10**6


def draw_prior(rng: random.Random, bench: Bench) -> str | None:
    limit = grade(bench.compound) if bench.compound else 50000
    if bench.stage == "cut":
        allowed: dict[str, float] = {"diamond-100": 1, "diamond-180": 2, "diamond-260": 3, "diamond-360": 1}
    elif bench.stage == "prepolish":
        allowed = {"diamond-260": 1, "diamond-360": 2, "diamond-600": 6, "diamond-1200": 5}
    else:
        allowed = dict(PRIORS)
    allowed = {name: w for name, w in allowed.items() if grade(name) < limit}
    return str(pick(rng, allowed)) if allowed else None


def draw_facts(rng: random.Random, bench: Bench) -> tuple[dict[str, str], str | None]:
    """Zero to four facts, and the step before if that is one of them (its lap comes with it now and then)."""
    wanted = pick(rng, {0: 10, 1: 20, 2: 30, 3: 26, 4: 14})
    facts: dict[str, str] = {}
    prior: str | None = None
    own: dict[str, dict[str, float]] = {}
    for symptom in bench.symptoms:
        for key, values in SYMPTOMS[symptom].facts.items():
            for value, weight in values.items():
                own.setdefault(key, {})[value] = own.get(key, {}).get(value, 0.0) + weight
    keys = {key: FACT_WEIGHTS.get(key, 1.0) for key in ANY_FACT} | dict.fromkeys(own, 3.0)
    for _ in range(80):
        if len(facts) + (prior is not None) >= wanted:
            break
        key = pick(rng, keys)
        if key in facts or (key == "prior" and prior):
            continue
        if key == "prior":
            prior = draw_prior(rng, bench)
            if prior and len(facts) + 1 < wanted and rng.random() < 0.4:
                facts["prior_lap"] = pick(rng, PRIOR_LAPS[prior])
            continue
        if key.startswith("scratch_") and not SCRATCHES & set(bench.symptoms):
            continue
        value = pick(rng, own.get(key) or ANY_FACT[key])
        fits = FITS.get(key)
        if (fits and not fits(value, bench)) or not together({**facts, key: value}):
            continue
        facts[key] = value
    return {key: in_numbers(rng, key, value) for key, value in facts.items()}, prior


def remedy_fits(remedy: str, bench: Bench, facts: Mapping[str, str]) -> bool:
    lap, known = bench.lap, bench.lap is not None
    charged = lap not in BONDED | {"polishing-film"}
    slurry = bench.oxide and charged
    checks: Mapping[str, bool] = {
        "new-film": lap == "polishing-film",
        "refit-film": lap == "polishing-film",
        "clean-lap": lap != "polishing-film" or facts.get("lap_surface") != "fresh",
        "recharge-lap": charged,
        "more-compound": charged,
        "less-compound": charged,
        "new-compound": charged,
        "fresh-slurry": slurry,
        "acidify-slurry": slurry and known and lap not in METAL and bench.family not in ACID_SHY,
        "change-oxide": slurry,
        "oxide-to-diamond": bench.oxide and charged,
        "diamond-to-oxide": bench.diamond and bench.stage == "polish",
        "finer-compound": bench.diamond,
        "coarser-compound": bench.diamond and bench.stage != "cut",
        "score-lap": lap in METAL | PLASTIC,
        "pick-out-grain": lap in METAL | {"wax-lap", "composite-lap"},
        "recondition-lap": lap in METAL | {"wax-lap", "acrylic-lap", "composite-lap"},
        "break-in-lap": lap in METAL | PLASTIC | {"ceramic-lap"}
        and facts.get("lap_surface") in (None, "fresh", "smooth"),
        "lubricate-lap": lap in METAL | {"ceramic-lap"},
        "harder-lap": known and lap not in {"ceramic-lap"} | BONDED,
        "softer-lap": known and lap not in SOFT | BONDED,
        "shift-off-cleavage": bench.family in CLEAVING,
        "wetter": facts.get("wetness") not in ("wet", "flooded"),
        "drier": facts.get("wetness") not in ("dry", "damp"),
        "press-lighter": facts.get("pressure") != "light",
        "press-harder": facts.get("pressure") != "heavy",
        "slow-down": facts.get("speed") not in ("slow", "60rpm", "80rpm", "100rpm"),
        "speed-up": facts.get("speed") not in ("fast", "700rpm", "1000rpm", "1500rpm"),
        "soft-water": bench.oxide or facts.get("carrier") == "water",
        "add-middle-step": bench.stage == "polish",
        "girdle-first": bench.stage != "cut" and facts.get("facet_part") != "girdle",
        "protect-edges": facts.get("facet_part") != "table",
        "step-back-one": bench.stage != "cut",
        "step-back-two": bench.stage == "polish",
    }
    return checks.get(remedy, True)


OPPOSED = (
    {"wetter", "drier"}, {"press-lighter", "press-harder"}, {"slow-down", "speed-up"}, {"harder-lap", "softer-lap"},
    {"less-compound", "more-compound"}, {"finer-compound", "coarser-compound"}, {"change-oxide", "oxide-to-diamond"},
    {"recharge-lap", "less-compound"}, {"recharge-lap", "more-compound"}, {"finer-compound", "diamond-to-oxide"},
    {"coarser-compound", "diamond-to-oxide"},
)  # fmt: skip


def draw_tried(rng: random.Random, bench: Bench, facts: Mapping[str, str], vain: str | None) -> dict[str, str]:
    tried: dict[str, str] = {vain: "no-change"} if vain else {}
    wanted = max(pick(rng, {1: 45, 2: 38, 3: 17}), len(tried))
    pool = {name: w for name, w in SYMPTOMS[bench.symptoms[0]].tried.items() if remedy_fits(name, bench, facts)}
    for _ in range(40):
        if len(tried) >= wanted or not pool:
            break
        remedy = pick(rng, pool)
        if remedy in tried or any(pair <= {*tried, remedy} for pair in OPPOSED):
            continue
        tried[remedy] = pick(rng, {"no-change": 62, "better": 26, "worse": 12})
    return tried


def draw_saw(rng: random.Random, bench: Bench, facts: Mapping[str, str], map_: str | None) -> dict[str, str]:
    looks = SYMPTOMS[bench.symptoms[0]].looks
    weights = {look: (4.0 if look == "loupe-check" else 2.0) for look in looks}
    if bench.family not in CLEAVING:
        weights.pop("find-cleavage", None)
    look = pick(rng, weights or {"loupe-check": 1.0})
    result = str(pick(rng, looks[look]))
    form = facts.get("scratch_form")
    if look == "loupe-check" and form in ("dotted", "continuous", "crooked"):
        result = form
    if look == "ink-facet" and map_:
        result = map_result(map_)
    return {look: result}


def map_result(map_: str) -> str:
    """What ink would show where the bright part touches."""
    rows = map_.split("/")
    left, right = ("".join(row[i] for row in rows) for i in (0, -1))
    sides = {side.strip(".") for side in (left, right, rows[0], rows[-1])}
    middle = rows[len(rows) // 2][len(rows[0]) // 2]
    if all(set(side) == {"D"} for side in sides):
        return "centre"
    if middle == "D" and all("D" not in side for side in sides):
        return "edges"
    across = abs(left.count("B") - right.count("B"))
    along = abs(rows[0].count("B") - rows[-1].count("B"))
    return "one-side" if across >= along else "one-end"


MAPS: Mapping[str, float] = {
    "BBD/BBD/BBD": 5, "DBB/DBB/DBB": 5, "BDD/BDD/BDD": 3, "DDB/DDB/DDB": 3, "BBB/BBB/DDD": 4, "DDD/BBB/BBB": 4,
    "BBB/DDD/DDD": 3, "DDD/DDD/BBB": 3, "BBB/BBD/BDD": 3, "BBB/DBB/DDB": 3, "BDD/BBD/BBB": 2, "DDB/DBB/BBB": 2,
    "BBB/BBB/BBD": 2, "BBB/BBB/DBB": 2, "DBB/BBB/BBB": 2, "BBD/BBB/BBB": 2, "DDD/DBD/DDD": 1, "BBB/BDB/BBB": 2,
    "BB?/BBD/BBD": 1, "?BB/DBB/DBB": 1, "BBB/B?D/DDD": 1, ".B./BBD/BDD": 2, ".B./DBB/DDB": 2, ".D./BBB/BBB": 2,
    ".B./BBB/DDD": 2, "BBBD/BBBD/BBBD": 1, "BBBB/BBBB/DDDD/DDDD": 1, "BBBBD/BBBDD/BBDDD": 1, "DBBB/DBBB/DBBB": 1,
}  # fmt: skip


def flags(rng: random.Random, shares: Mapping[Any, float]) -> list[Any]:
    """A shuffled list of COUNT values with these shares (percent) as near as whole numbers allow."""
    out: list[Any] = []
    for value, share in shares.items():
        out += [value] * round(COUNT * share / 100)
    first = next(iter(shares))
    out = [*out, *[first] * (COUNT - len(out))][:COUNT]
    rng.shuffle(out)
    return out


def draw() -> list[Drawn]:
    rng = random.Random(SEED)
    materials = read_materials()
    unknown = sorted(set(MATERIAL_WEIGHTS) - set(materials))
    if unknown:
        raise SystemExit(f"no such material: {', '.join(unknown)}")
    stages = flags(rng, {"polish": 85, "prepolish": 12, "cut": 3})
    kinds = flags(rng, {"usual": 75, "unsuited": 15, "unknown": 10})
    twos = flags(rng, {False: 75, True: 25})
    second = flags(rng, {False: 70, True: 30})
    saws = flags(rng, {False: 85, True: 15})
    maps = flags(rng, {False: 92, True: 8})
    third = round(COUNT / 3)
    uses = ["learn"] * (COUNT - third) + ["measure"] * third
    rng.shuffle(uses)
    seen: set[str] = set()
    out: list[Drawn] = []
    for number in range(COUNT):
        while True:
            # a map belongs to a facet that is being made bright
            stage = "polish" if maps[number] else stages[number]
            case = draw_case(
                rng, materials, stage, kinds[number], twos[number], second[number], saws[number], maps[number]
            )
            key = json.dumps(case, sort_keys=True)
            if key not in seen:
                break
        seen.add(key)
        out.append({"id": f"P{number + 1:03d}", "use": uses[number], "case": case})
    return out


def draw_case(
    rng: random.Random,
    materials: Mapping[str, Mapping[str, Any]],
    stage: str,
    kind: str,
    two: bool,
    second: bool,
    saw: bool,
    mapped: bool,
) -> Drawn:
    material = str(pick(rng, MATERIAL_WEIGHTS))
    lap, compound = draw_pair(rng, material, materials, stage, kind)
    bench = Bench(material, line_of(material, materials)[-1], lap, compound, stage, [])
    bench.symptoms = draw_symptoms(rng, bench, "partial-polish" if mapped else None, two)
    facts, prior = draw_facts(rng, bench)
    map_ = str(pick(rng, MAPS)) if mapped else None
    vain = None
    if map_ and second and rng.random() < 0.6:
        vain = "adjust-fine-index" if map_result(map_) == "one-side" else "adjust-angle"
    case: Drawn = {"material": material}
    if lap:
        case["lap"] = lap
    if compound:
        case["compound"] = compound
    case |= {"stage": stage, "symptoms": bench.symptoms}
    if facts:
        case["facts"] = facts
    if prior:
        case["prior"] = prior
    if map_:
        case["map"] = map_
    if second and (tried := draw_tried(rng, bench, facts, vain)):
        case["tried"] = tried
    if saw:
        case["saw"] = draw_saw(rng, bench, facts, map_)
    return case


def main() -> None:
    head = "# Drawn by draw.py in this folder; not to be edited. measure: not to be read while rules are reviewed.\n"
    text = yaml.safe_dump({"cases": draw()}, sort_keys=False, allow_unicode=True, width=120)
    (HERE / "situations.yaml").write_text(head + text, encoding="utf-8")


if __name__ == "__main__":
    main()
