"""Where a remedy sends the cutter, on the materials as shipped."""

from __future__ import annotations

from tests.unit.each import each
from tests.unit.materials_shelf import shelf

from lapwise.engine.case import Case
from lapwise.engine.knowledge.model import Target
from lapwise.engine.pairs import candidates, pair_fit

K = shelf()


@each(sorted(K.materials))
def test_another_pair_is_the_preferred_one(name: str) -> None:
    """From no lap at all the first pair is the material's first, and none offered is known to fail."""
    stone = K.materials[name]
    first = next(p for p in stone.polishes_with if p.stage == "polish")
    choices = candidates(Target(), Case(material=name), K)
    assert (choices[0].lap, choices[0].compound) == (first.laps[0], first.compounds[0])
    assert choices[0].because
    for choice in choices:
        assert choice.lap
        assert choice.compound
        assert pair_fit(stone, choice.lap, choice.compound) in ("preferred", "listed", "disputed")


@each(sorted(set(K.materials) - {"diamond"}))
def test_a_middle_step_is_known_for_every_stone(name: str) -> None:
    choices = candidates(Target(kinds=("diamond",)), Case(material=name), K, stage="prepolish")
    assert choices
    assert all(c.known for c in choices)


def test_a_softer_lap_for_flawed_beryl_keeps_diamond_and_is_no_hard_metal() -> None:
    """A softer lap than ceramic, the diamond's grade not told: a published pair and not the next hard body."""
    case = Case(material="aquamarine", lap="ceramic-lap", compound="diamond-unknown")
    first = candidates(Target(keep="compound", relation="softer"), case, K)[0]
    assert first.known
    assert first.lap in ("tin-lap", "tin-alloy-lap", "composite-lap")
    assert first.compound
    assert K.compounds[first.compound].kind == "diamond"


def test_own_laps_come_first() -> None:
    choices = candidates(Target(), Case(material="topaz"), K, own=["ceramic-lap"])
    assert choices[0].lap == "ceramic-lap"
    assert choices[0].own
    assert choices[1].compound in ("diamond-60000", "diamond-100000")


def test_cerussite_leaves_the_composite_for_wax() -> None:
    case = Case(material="cerussite", lap="composite-lap", compound="tin-oxide")
    assert candidates(Target(keep="compound", relation="other"), case, K)[0].lap == "wax-lap"
