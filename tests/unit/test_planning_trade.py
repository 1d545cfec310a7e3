"""Plans keep to what the trade knows of a stone. Common practice, no source, where none is named."""

from __future__ import annotations

from functools import cache

import pytest

from lapwise.engine.errors import NothingFound
from lapwise.engine.knowledge.loader import load
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.pairs import pair_fit
from lapwise.engine.planning import Owned, plan


@cache
def knowledge() -> Knowledge:
    return load().knowledge


@pytest.mark.parametrize("owned", [False, True], ids=["usual laps", "one lap of every type"])
def test_no_step_goes_on_a_pair_that_the_stone_is_known_to_suffer_from(owned: bool) -> None:
    own = [Owned(lap) for lap in knowledge().laps] if owned else []
    for material in knowledge().materials.values():
        if material.id == "diamond":
            continue
        for step in plan(material.id, knowledge(), own).steps:
            assert pair_fit(material, step.lap, step.compound, step.stage) != "avoided", (material.id, step.compound)


@pytest.mark.parametrize("stone", ["sapphire", "ruby", "synthetic-corundum"])
def test_corundum_goes_from_600_to_3000(stone: str) -> None:
    """A bonded 1200 lap glazes corundum or leaves orange peel (sources.yaml: sgl_sapphire)."""
    grains = [step.compound for step in plan(stone, knowledge()).steps]
    assert grains[grains.index("diamond-600") + 1] == "diamond-3000"


@pytest.mark.parametrize("stone", ["amber", "cerussite", "calcite", "kyanite", "topaz", "moonstone"])
def test_frail_and_cleaving_stones_run_slowly_and_start_fine(stone: str) -> None:
    """Slow laps and a fine start for stones that split (sources.yaml: igs_exotic)."""
    steps = plan(stone, knowledge()).steps
    for step in steps:
        low, high = knowledge().laps[step.lap].rpm
        assert step.rpm[1] <= (low + high) // 2
    assert steps[0].compound != "diamond-260"


def test_diamond_has_no_plan_here() -> None:
    """Only a scaife polishes diamond: common practice, no source."""
    with pytest.raises(NothingFound, match="scaife"):
        plan("diamond", knowledge())


def test_safety_truths_stand_where_they_are_read() -> None:
    """Toxicology and shop safety: common practice, no source; limits from memory, as the cautions say."""
    known = knowledge()
    assert "lead-chromate" in known.materials["crocoite"].cautions
    assert "silica-dust" not in known.compounds["colloidal-silica"].cautions
    assert "lip" not in known.symptoms["hot-stone"].about
    for caution in known.cautions.values():
        if "gloves" in caution.action.lower() and caution.id != "rotating-lap":
            assert "nitrile" in caution.action, caution.id
