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
