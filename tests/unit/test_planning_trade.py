"""Plans keep to what the trade knows of a stone. Common practice, no source, where none is named."""

from __future__ import annotations

import pytest
from tests.unit.shipped import knowledge

from lapwise.engine.errors import NothingFound
from lapwise.engine.pairs import pair_fit
from lapwise.engine.planning import BODIES, Owned, compound_group, plan


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
    """A bonded 1200 lap glazes corundum or leaves orange peel (sources.yaml: collation_sapphire)."""
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


@pytest.mark.parametrize("stone", ["amber", "cerussite", "calcite", "kyanite", "moonstone", "dioptase"])
def test_very_brittle_stones_are_polished_at_100_rpm_at_the_most(stone: str) -> None:
    """Published for dioptase (sources.yaml: igs_exotic); carried over to stones as weak (judgement)."""
    for step in plan(stone, knowledge()).steps:
        if step.stage != "cut":
            assert step.rpm[1] <= 100
        assert step.pace


def test_a_tough_stone_is_not_slowed_down() -> None:
    steps = plan("sapphire", knowledge()).steps
    assert all(step.rpm == knowledge().laps[step.lap].rpm and not step.pace for step in steps)


def test_every_dangerous_cleavage_is_named_before_the_first_cut() -> None:
    """Perfect and good cleavages, and every one that asks for a distance."""
    counted = 0
    for material in knowledge().materials.values():
        if material.id == "diamond":
            continue
        jobs = {job.id: job for job in plan(material.id, knowledge()).jobs}
        told = " ".join(jobs["orientation"].do)
        for cleavage in material.cleavage:
            if cleavage.quality in ("perfect", "good") or cleavage.keep_off_degrees:
                assert cleavage.plane in told, (material.id, cleavage.plane)
                counted += 1
    assert counted > 40


def test_jobs_stand_in_their_order_round_the_steps() -> None:
    found = plan("topaz", knowledge())
    assert [job.id for job in found.jobs] == ["orientation", "dopping", "girdle", "transfer", "table"]
    places = [job.before for job in found.jobs]
    assert places == sorted(places)
    assert (places[0], places[-1]) == (0, len(found.steps))
    assert found.steps[places[2]].stage == "polish"


@pytest.mark.parametrize("stone", ["opal", "amber", "tanzanite", "kunzite", "apatite", "fluorite", "emerald"])
def test_stones_that_fear_heat_are_dopped_cold(stone: str) -> None:
    """Sudden heat harms apatite, kunzite, opal and tanzanite (sources.yaml: gia_stability)."""
    dopping, transfer = (next(j for j in plan(stone, knowledge()).jobs if j.id == i) for i in ("dopping", "transfer"))
    assert dopping.do[0].startswith("Dop it cold")
    assert any("whole night" in text for text in dopping.do)
    assert any("cold, as before" in text for text in transfer.do)


def test_glass_has_no_axis_and_quartz_may_be_waxed() -> None:
    glass, quartz = ({j.id: j for j in plan(m, knowledge()).jobs} for m in ("glass-soda-lime", "garnet"))
    assert "axis" not in " ".join(glass["orientation"].do)
    assert quartz["dopping"].do[0].startswith("Wax or glue")


def test_other_ways_are_truly_different_and_grouped_by_compound() -> None:
    enough = 0
    for material in knowledge().materials.values():
        if material.id == "diamond":
            continue
        others = plan(material.id, knowledge()).alternatives
        groups = [compound_group(c, knowledge()) for c in others]
        assert len(others) <= 5
        assert groups == [g for g in dict.fromkeys(groups) for _ in range(groups.count(g))], material.id
        ways = {
            (g, frozenset(knowledge().laps[c.lap].traits & set(BODIES)))
            for g, c in zip(groups, others, strict=True)
            if c.lap
        }
        assert len(ways) == len(others), material.id
        enough += len(others) >= 3
    assert enough > 100


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
