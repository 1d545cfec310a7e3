"""Rating a pair on a material and choosing where a remedy goes to."""

from __future__ import annotations

import pytest

from lapwise.engine.case import Case
from lapwise.engine.folders import folders
from lapwise.engine.knowledge.loader import load
from lapwise.engine.knowledge.model import Knowledge, Target
from lapwise.engine.pairs import candidates, compound_fit, pair_fit


@pytest.fixture(scope="module")
def knowledge(tmp_path_factory: pytest.TempPathFactory) -> Knowledge:
    return load(folders(tmp_path_factory.mktemp("own"))).knowledge


def test_every_material_has_somewhere_to_go(knowledge: Knowledge) -> None:
    for material in knowledge.materials:
        assert candidates(Target(), Case(material=material), knowledge), material


def test_a_pair_published_as_failing_is_never_a_target(knowledge: Knowledge) -> None:
    for material in knowledge.materials.values():
        for choice in candidates(Target(), Case(material=material.id), knowledge):
            if choice.lap and choice.compound:
                assert pair_fit(material, choice.lap, choice.compound) != "avoided", (material.id, choice)


def test_own_laps_come_first(knowledge: Knowledge) -> None:
    case = Case(material="quartz")
    plain = candidates(Target(), case, knowledge)
    last = plain[-1].lap
    assert last is not None
    assert last != plain[0].lap
    assert candidates(Target(), case, knowledge, {last})[0].lap == last


def test_finer_stays_of_the_same_kind_and_is_finer(knowledge: Knowledge) -> None:
    case = Case(material="sapphire", lap="tin-lap", compound="diamond-8000")
    for choice in candidates(Target(relation="finer", keep="lap"), case, knowledge):
        assert choice.lap == "tin-lap"
        to = knowledge.compounds[choice.compound or ""]
        assert to.kind == "diamond"
        assert to.typical_um is not None
        assert to.typical_um < (knowledge.compounds["diamond-8000"].typical_um or 0)


def test_softer_and_harder_go_the_right_way(knowledge: Knowledge) -> None:
    case = Case(material="garnet-almandine", lap="tin-lap", compound="diamond-50000")
    now = knowledge.laps["tin-lap"].hardness
    for choice in candidates(Target(relation="softer"), case, knowledge):
        assert knowledge.laps[choice.lap or ""].hardness < now
    for choice in candidates(Target(relation="harder"), case, knowledge):
        assert knowledge.laps[choice.lap or ""].hardness > now


def test_quartz_takes_cerium_oxide(knowledge: Knowledge) -> None:
    """Published by several cutters' societies; see the sources of the pair in knowledge/materials/quartz.yaml."""
    assert compound_fit(knowledge.materials["amethyst"], "cerium-oxide") == "listed"


def test_no_lead_lap_is_advised_to_someone_who_has_none(knowledge: Knowledge) -> None:
    """A lap of tin and lead puts lead into the slurry (OSHA, 29 CFR 1910.1025): nobody buys one on our word."""
    for material in (None, "topaz", "peridot", "spinel", "quartz"):
        case = Case(material=material, lap="tin-lap", compound="aluminium-oxide")
        for target in (Target(), Target(relation="softer", keep="compound")):
            laps = {c.lap for c in candidates(target, case, knowledge)}
            assert "tin-lead-lap" not in laps
    case = Case(material="topaz", lap="tin-lap", compound="aluminium-oxide")
    assert "tin-lead-lap" in {c.lap for c in candidates(Target(), case, knowledge, {"tin-lead-lap"})}


def test_finer_and_coarser_change_the_grain_alone(knowledge: Knowledge) -> None:
    """Another oxide is no coarser grain of the same one; a finer diamond stays on the same lap, about twice as fine."""
    case = Case(material="peridot", lap="tin-lap", compound="aluminium-oxide")
    assert {c.compound for c in candidates(Target(relation="finer"), case, knowledge)} == {"aluminium-oxide-fine"}
    assert candidates(Target(relation="coarser"), case, knowledge) == []
    case = Case(material="garnet", lap="ceramic-lap", compound="diamond-60000")
    best = candidates(Target(relation="finer"), case, knowledge)[0]
    assert best.lap == "ceramic-lap"


def test_an_own_lap_is_offered_for_what_it_carries(knowledge: Knowledge) -> None:
    """One lap, one compound: a lap that holds diamond is no lap for an oxide (common practice, no source)."""
    case = Case(material="quartz")
    diamond_tin = candidates(Target(), case, knowledge, {"tin-lap": {"diamond-50000"}})
    assert not any(c.own for c in diamond_tin if c.compound == "cerium-oxide")
    oxide_tin = candidates(Target(), case, knowledge, {"tin-lap": {"cerium-oxide"}})
    assert (oxide_tin[0].lap, oxide_tin[0].compound) == ("tin-lap", "cerium-oxide")
    assert candidates(Target(), case, knowledge, {"tin-lap": ()})[0].lap == "tin-lap"
