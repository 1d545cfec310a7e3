"""Laps, compounds and cautions: complete, in order, and honest about what is recalled."""

from __future__ import annotations

import pytest
from tests.unit.materials_shelf import shelf

K = shelf()
LAP_IDS = [
    "plated-diamond-lap",
    "sintered-diamond-lap",
    "resin-diamond-lap",
    "copper-lap",
    "zinc-lap",
    "tin-lap",
    "tin-alloy-lap",
    "tin-lead-lap",
    "cast-iron-lap",
    "ceramic-lap",
    "composite-lap",
    "oxide-composite-lap",
    "acrylic-lap",
    "phenolic-lap",
    "polishing-film",
    "wax-lap",
    "wood-lap",
    "pitch-lap",
    "cloth-or-leather-lap",
]
CAUTION_IDS = [
    "silica-dust",
    "asbestos-possible",
    "beryllium",
    "lead",
    "copper-dust",
    "manganese-dust",
    "rare-earth-dust",
    "chromium",
    "radioactive",
    "solvent",
    "adhesive",
    "heat",
    "acid",
    "rotating-lap",
    "blade",
    "electricity",
    "eyes",
    "oil-mist",
    "standing-water",
]
MESHES = [100, 180, 260, 325, 360, 600, 1200, 3000, 8000, 14000, 50000, 60000, 100000, 200000]


def test_all_laps_are_there() -> None:
    assert sorted(K.laps) == sorted(LAP_IDS)


@pytest.mark.parametrize("name", LAP_IDS)
def test_a_lap_is_complete(name: str) -> None:
    lap = K.laps[name]
    assert lap.about.endswith(".")
    assert 1 <= lap.hardness <= 10
    assert lap.carries
    assert 0 < lap.rpm[0] < lap.rpm[1] <= 1500
    assert lap.care
    assert "rotating-lap" in lap.cautions
    assert ("contains-lead" in lap.traits) == ("lead" in lap.cautions)
    if "copper-bearing" in lap.traits:
        assert "copper-dust" in lap.cautions


def test_laps_stand_in_order_of_hardness() -> None:
    order = [
        "cloth-or-leather-lap",
        "wax-lap",
        "acrylic-lap",
        "tin-lap",
        "tin-alloy-lap",
        "composite-lap",
        "zinc-lap",
        "copper-lap",
        "cast-iron-lap",
        "ceramic-lap",
    ]
    ranks = [K.laps[name].hardness for name in order]
    assert ranks == sorted(ranks)
    assert len(set(ranks)) == len(ranks)


def test_bonded_laps_name_their_own_grade_and_take_no_oxide() -> None:
    for lap in K.laps.values():
        if "bonded-diamond" in lap.traits:
            assert "none" in lap.carries
            assert not {"oxide", "cerium-oxide", "aluminium-oxide"} & set(lap.carries)
        if "wax" in lap.traits:
            assert not any(c.startswith("diamond") for c in lap.carries)


def test_diamond_grades_fall_in_size_as_the_mesh_rises() -> None:
    grades = [K.compounds[f"diamond-{mesh}"] for mesh in MESHES]
    sizes = [g.typical_um for g in grades]
    assert all(s is not None for s in sizes)
    assert sizes == sorted(sizes, key=lambda s: -(s or 0))
    for grade in grades:
        assert grade.um
        assert grade.typical_um
        assert grade.um.low <= grade.typical_um <= grade.um.high
        assert grade.um.memory or grade.id == "diamond-60000", "a convention of the trade, recalled"
        assert grade.mesh == int(grade.id.removeprefix("diamond-"))


def test_a_grade_that_is_not_known_has_no_size() -> None:
    assert K.compounds["diamond-unknown"].um is None
    assert K.compounds["none"].kind == "none"
    assert K.compounds["silicon-carbide"].kind == "carbide"


@pytest.mark.parametrize("name", sorted(K.compounds))
def test_a_compound_is_complete(name: str) -> None:
    compound = K.compounds[name]
    assert compound.about.endswith(".")
    assert compound.cautions or compound.kind == "none"
    if compound.kind == "oxide":
        assert compound.um
        assert compound.typical_um
        assert compound.um.low <= compound.typical_um <= compound.um.high


def test_all_cautions_are_there() -> None:
    assert not set(CAUTION_IDS) - set(K.cautions)


@pytest.mark.parametrize("name", sorted(K.cautions))
def test_a_caution_says_hazard_action_and_who_decides(name: str) -> None:
    caution = K.cautions[name]
    assert caution.hazard.endswith(".")
    assert caution.action.endswith(".")
    assert "employers" not in caution.standard, "who decides is said once, below all cautions"
    read = caution.source.endswith("_limits") and K.sources[caution.source].status in ("read", "abstract")
    if "CFR" in caution.standard and "1910.1053" not in caution.standard and "751" not in caution.standard:
        assert read != ("from memory" in caution.standard), "a limit is read in its source, or said to be recalled"
    assert "safe exposure" not in caution.hazard + caution.action


def test_general_cautions_show_without_a_material() -> None:
    general = {c.id for c in K.cautions.values() if c.general}
    assert {"dust-general", "silica-dust", "rotating-lap", "electricity", "eyes"} <= general
    assert "lead" not in general


def test_every_caution_of_a_stone_lap_or_compound_exists() -> None:
    named = {c for m in K.materials.values() for c in m.cautions}
    named |= {c for lap in K.laps.values() for c in lap.cautions}
    named |= {c for x in K.compounds.values() for c in x.cautions}
    assert named <= set(K.cautions)
    assert {"beryllium", "lead", "copper-dust", "manganese-dust", "rare-earth-dust", "chromium"} <= named


def test_no_brand_stands_in_the_sources() -> None:
    for source in K.sources.values():
        assert source.cite
        assert source.status in ("read", "abstract", "package", "memory")
        assert (
            source.status == "memory"
            or source.address
            or "International Gem Society" in source.cite
            or "operating manual" in source.cite
        ), source.id
