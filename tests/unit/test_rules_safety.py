"""What the rules forbid and warn of. The dangers: chemistry of acids with carbonates, sulphides, fluorides, copper and
lead (textbook knowledge, from memory); force on cracks, cleavages and hot stones (common practice, no source); distance
of a topaz table from its basal cleavage 3 degrees refuse, 6 warn, 8 fine (published minima 5, 7 and 7 to 10 degrees).
"""

from __future__ import annotations

from functools import cache
from itertools import product

import pytest
from tests.unit import shipped

from lapwise.engine.case import Case, FacetSetting
from lapwise.engine.diagnosis import Session
from lapwise.engine.diagnosis.model import Diagnosis


@cache
def session() -> Session:
    return shipped.session()


def answer(case: Case) -> Diagnosis:
    return session().quick(case)


def vetoed(case: Case) -> set[str]:
    return {veto.remedy for veto in answer(case).vetoed}


ACID_FEARING = [m for m, x in shipped.knowledge().materials.items() if x.traits & {"carbonate", "sulphide", "halide"}]


@pytest.mark.parametrize("material", ACID_FEARING)
def test_no_acid_on_carbonates_sulphides_and_fluorite(material: str) -> None:
    case = Case(material=material, lap="phenolic-lap", compound="tin-oxide", symptoms=("slow-polish",))
    assert "acidify-slurry" in vetoed(case)


def test_there_are_acid_fearing_stones_to_test() -> None:
    assert {"calcite", "rhodochrosite", "cerussite", "sphalerite", "fluorite"} <= set(ACID_FEARING)


@pytest.mark.parametrize("lap", ["copper-lap", "tin-lead-lap"])
def test_no_acid_on_copper_and_lead(lap: str) -> None:
    case = Case(material="quartz-rock-crystal", lap=lap, compound="aluminium-oxide", symptoms=("slow-polish",))
    assert "acidify-slurry" in vetoed(case)


@pytest.mark.parametrize(("material", "lap"), [(None, "acrylic-lap"), ("quartz", None), (None, None)])
def test_an_unknown_stone_or_lap_counts_as_the_dangerous_case(material: str | None, lap: str | None) -> None:
    case = Case(material=material, lap=lap, compound="cerium-oxide", symptoms=("slow-polish",))
    assert "acidify-slurry" in vetoed(case)


def test_acid_is_allowed_where_stone_and_lap_stand_it() -> None:
    case = Case(material="quartz", lap="acrylic-lap", compound="cerium-oxide", symptoms=("slow-polish",))
    assert "acidify-slurry" not in vetoed(case)


def topaz_table(degrees: str) -> Case:
    return Case(
        material="topaz",
        symptoms=("stays-dull",),
        facts={"cleavage_angle": degrees},
        facet=FacetSetting(part="table"),
    )


def test_topaz_table_three_degrees_off_its_cleavage_is_refused() -> None:
    assert {"polish-longer", "press-harder"} <= vetoed(topaz_table("3"))
    assert "shift-off-cleavage" in {step.remedy for step in answer(topaz_table("3")).plan[:3]}


def test_topaz_table_six_degrees_off_its_cleavage_is_warned_of() -> None:
    told = answer(topaz_table("6"))
    assert "polish-longer" not in {veto.remedy for veto in told.vetoed}
    assert "press-harder" in {veto.remedy for veto in told.vetoed}
    assert any("5, 7" in text for text in told.disagreements)


def test_topaz_table_eight_degrees_off_its_cleavage_is_fine() -> None:
    assert not {"polish-longer", "press-harder"} & vetoed(topaz_table("8"))
    causes = {cause.id: cause.probability for cause in answer(topaz_table("8")).causes}
    assert causes["cleavage-plane"] < 0.15


@pytest.mark.parametrize("symptom", ["cracks", "flaking", "hot-stone"])
@pytest.mark.parametrize("material", [None, "topaz", "opal", "quartz", "fluorite"])
def test_no_more_force_or_speed_on_cracks_flakes_and_heat(symptom: str, material: str | None) -> None:
    assert {"press-harder", "speed-up"} <= vetoed(Case(material=material, symptoms=(symptom,)))


def test_what_is_forbidden_stands_nowhere_in_the_plan() -> None:
    symptoms = ("fine-scratches", "stays-dull", "chipped-edges", "cracks", "burnt-compound", "rounded-edges")
    for material, symptom in product((None, "quartz", "topaz", "calcite", "emerald", "kunzite", "opal"), symptoms):
        told = answer(Case(material=material, symptoms=(symptom,)))
        assert not {v.remedy for v in told.vetoed} & {s.remedy for s in told.plan}


def test_running_the_lap_the_other_way_is_warned_of() -> None:
    told = answer(Case(material="sapphire", symptoms=("one-direction-only",)))
    assert "reverse-direction" in {step.remedy for step in told.plan[:3]}
    assert "rotating-lap" in {caution.id for caution in told.cautions}
    assert any("other way" in risk for risk in shipped.knowledge().remedies["reverse-direction"].risks)


def test_a_dry_lap_warns_of_dust() -> None:
    told = answer(Case(material="quartz", symptoms=("drags",), facts={"wetness": "dry"}))
    assert "silica-dust" in {caution.id for caution in told.cautions}


@pytest.mark.parametrize(
    ("case", "remedies"),
    [
        (Case(material="quartz", lap="tin-lap", symptoms=("stays-dull",)), {"refit-film", "new-film"}),
        (Case(material="sapphire", lap="ceramic-lap", symptoms=("skates",)), {"score-lap", "harder-lap"}),
        (Case(material="sapphire", compound="diamond-50000", symptoms=("haze",)), {"oxide-to-diamond", "fresh-slurry"}),
        (Case(material="quartz", compound="cerium-oxide", symptoms=("haze",)), {"diamond-to-oxide"}),
        (Case(material="quartz", stage="cut", symptoms=("chipped-edges",)), {"polish-longer", "to-wax-or-wood-lap"}),
        (Case(material="glass-soda-lime", symptoms=("stays-dull",)), {"shift-off-cleavage"}),
    ],
)
def test_what_makes_no_sense_here_is_left_out_quietly(case: Case, remedies: set[str]) -> None:
    told = answer(case)
    assert not remedies & {step.remedy for step in told.plan}
