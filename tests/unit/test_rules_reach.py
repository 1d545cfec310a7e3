"""Every remedy has its day: for each a case in which a cutter would turn to it, and it stands in the first three.

The cases are invented; that the remedy fits them is common practice, no source.
"""

from __future__ import annotations

from functools import cache

import pytest
from tests.unit import shipped

from lapwise.engine.case import Case, FacetSetting
from lapwise.engine.diagnosis import Session


@cache
def session() -> Session:
    return shipped.session()


def case(
    material: str | None,
    *symptoms: str,
    lap: str | None = None,
    compound: str | None = None,
    prior: str | None = None,
    stage: str = "polish",
    part: str | None = None,
    **facts: str,
) -> Case:
    return Case(
        material=material,
        lap=lap,
        compound=compound,
        prior=prior,
        stage=stage,
        symptoms=symptoms,
        facts=facts,
        facet=FacetSetting(part=part),
    )


DAYS = {
    "less-compound": case("sapphire", "fine-scratches", lap="ceramic-lap", compound="diamond-50000"),
    "clean-lap": case("topaz", "fine-scratches", lap="copper-lap", compound="diamond-8000", lap_surface="caked"),
    "clean-everything": case("quartz", "surface-film", compound="cerium-oxide"),
    "pick-out-grain": case("spinel", "coarse-scratches", lap="tin-lap", scratch_place="one-zone-of-lap"),
    "recharge-lap": case("garnet", "drags", "stays-dull", lap="tin-lap", compound="diamond-50000"),
    "wetter": case("garnet", "drags", wetness="dry"),
    "drier": case("citrine", "skates", lap="acrylic-lap", compound="cerium-oxide", wetness="flooded"),
    "slow-down": case("topaz", "scratches-with-travel", speed="fast"),
    "speed-up": case("spinel", "slow-polish", speed="slow", prior_clean="yes"),
    "press-lighter": case("spinel", "rounded-edges", pressure="heavy"),
    "press-harder": case("quartz", "slow-polish", facet_size="large", prior_clean="yes"),
    "polish-longer": case("quartz", "slow-polish", facet_size="large", prior="diamond-8000", prior_clean="yes"),
    "change-sweep": case("topaz", "scratches-with-travel", lap="tin-lap", speed="slow"),
    "reverse-direction": case("tourmaline", "one-direction-only"),
    "let-cool": case("sapphire", "hot-stone", speed="slow", pressure="light", wetness="wet"),
    "adjust-fine-index": case("beryl", "partial-polish", scratch_place="one-side", extent="one-facet"),
    "adjust-angle": case("beryl", "partial-polish", scratch_place="dop-end", extent="one-facet"),
    "set-height": case("spinel", "partial-polish", extent="all-facets", since="lap-change"),
    "tighten-machine": case("synthetic-spinel", "uneven-results", "two-planes"),
    "re-dop": case("garnet", "facet-moved", extent="one-side-of-stone", since="transfer"),
    "cold-dop": case("opal", "cracks", since="transfer", stage="cut"),
    "step-back-one": case("quartz", "scratches-cutting-direction"),
    "step-back-two": case("cubic-zirconia", "fine-scratches", scratch_form="crooked"),
    "add-middle-step": case("garnet", "orange-peel", "coarse-scratches", prior="diamond-1200"),
    "recut-surface": case("tourmaline", "skates", part="table", polished_before="yes"),
    "oxide-to-diamond": case("ruby", "stays-dull", lap="phenolic-lap", compound="cerium-oxide", extent="all-facets"),
    "diamond-to-oxide": case("quartz", "stays-dull", lap="tin-lap", compound="diamond-50000", extent="all-facets"),
    "finer-compound": case("labradorite", "chipped-edges", compound="diamond-260", stage="cut"),
    "coarser-compound": case("spinel", "slow-polish", lap="tin-lap", compound="diamond-200000", prior_clean="yes"),
    "softer-lap": case("zircon-high", "chipped-edges", lap="ceramic-lap", compound="diamond-50000"),
    "harder-lap": case("garnet", "rounded-edges", lap="cloth-or-leather-lap", compound="tin-oxide"),
    "to-polishing-film": case("quartz", "stays-dull", lap="ceramic-lap", compound="diamond-50000"),
    "to-composite-lap": case("fluorite", "stays-dull", "fine-scratches", extent="all-facets"),
    "to-wax-or-wood-lap": case("cerussite", "stays-dull", lap="composite-lap"),
    "change-lap-and-compound": case("cubic-zirconia", "stays-dull", extent="all-facets"),
    "acidify-slurry": case("peridot", "stays-dull", lap="tin-lap", compound="aluminium-oxide"),
    "refit-film": case("amethyst", "partial-polish", lap="polishing-film", lap_surface="wrinkled"),
    "new-film": case("quartz", "slow-polish", lap="polishing-film", lap_surface="worn-out"),
    "recondition-lap": case("quartz", "curved-facet", lap="tin-lap", lap_surface="grooved", extent="all-facets"),
    "score-lap": case("citrine", "skates", lap="acrylic-lap", compound="cerium-oxide", lap_surface="smooth"),
    "lubricate-lap": case("sapphire", "drags", lap="ceramic-lap", compound="diamond-50000", since="new-lap"),
    "break-in-lap": case("garnet", "slow-polish", lap="tin-lap", compound="aluminium-oxide", since="new-lap"),
    "protect-edges": case("peridot", "scratches-return", "chipped-edges", scratch_place="edges"),
    "girdle-first": case("kunzite", "chipped-edges", part="girdle"),
    "shift-off-cleavage": case("topaz", "stays-dull", part="table", extent="one-facet", cleavage_near="yes"),
    "dry-out-stone": case("opal", "cracks"),
    "new-cutting-lap": case(
        "quartz", "slow-polish", lap="plated-diamond-lap", compound="diamond-260", stage="cut", lap_surface="worn-out"
    ),
    "neutral-slurry": case("calcite", "haze", "surface-film"),
    "soft-water": case("quartz", "surface-film", compound="diamond-14000", carrier="water"),
}


@pytest.mark.parametrize(("remedy", "told"), DAYS.items(), ids=list(DAYS))
def test_a_remedy_stands_in_the_first_three_where_a_cutter_would_turn_to_it(remedy: str, told: Case) -> None:
    first = [step.remedy for step in session().quick(told).plan[:3]]
    assert remedy in first


@pytest.mark.parametrize(
    ("told", "first"),
    [
        # a stone that is hot and cracks waits for nothing
        (case("tourmaline", "hot-stone", "cracks"), ("let-cool",)),
        # the pair that does not suit before the wash: either way it becomes an oxide on another lap
        (
            case("garnet", "haze", lap="acrylic-lap", compound="diamond-50000"),
            ("change-lap-and-compound", "diamond-to-oxide"),
        ),
        # nothing is cut back while the pair is wrong
        (
            case("cubic-zirconia", "haze", lap="composite-lap", compound="cerium-oxide", prior_clean="no"),
            ("oxide-to-diamond",),
        ),
    ],
)
def test_what_stands_first_has_its_turn(told: Case, first: tuple[str, ...]) -> None:
    assert session().quick(told).plan[0].remedy in first


def test_most_remedies_have_their_day() -> None:
    # those left out are turned to when others have failed
    late = set(shipped.knowledge().remedies) - set(DAYS)
    assert late <= {
        "dedicate-lap",
        "more-compound",
        "fresh-slurry",
        "new-compound",
        "change-carrier",
        "change-oxide",
        "set-aside",
        "change-stone",
        "accept-and-finish",
    }
