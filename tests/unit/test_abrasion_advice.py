"""The verdict, the ladder, the price: laws they must obey, whatever the constants."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwise.engine.abrasion import Rung, check_ladder, price_of, step_back_price, verdict
from lapwise.engine.abrasion.damage import damage_depth
from lapwise.engine.abrasion.ladder import reach_um
from lapwise.engine.abrasion.numbers import short, spread
from lapwise.engine.abrasion.preston import pressure_pa

grain = st.floats(0.05, 200, allow_nan=False)
RANK = {"polish-on": 0, "back-one": 1, "back-two": 2}


@pytest.mark.parametrize(
    ("prior", "now", "kind", "wanted"),
    [
        # common practice, no source: an oxide follows a pre-polish of 3 or 6 µm; 8000 (3 µm) leads to 50000 (0.5 µm)
        (3, 0.3, "oxide", "polish-on"),
        (6, 1.5, "oxide", "polish-on"),
        (15, 0.3, "oxide", "back-one"),
        (75, 0.3, "oxide", "back-two"),
        (3, 0.5, "diamond", "polish-on"),
        (6, 0.5, "diamond", "back-one"),
        (15, 0.5, "diamond", "back-two"),
        (15, 6, "diamond", "polish-on"),
        (3, 3, "diamond", "polish-on"),
    ],
)
def test_verdict(prior: float, now: float, kind: str, wanted: str) -> None:
    assert verdict(prior, now, kind) == wanted


@given(grain, grain, grain, st.sampled_from(["oxide", "diamond", "carbide", "none"]))
def test_a_coarser_step_before_never_makes_it_easier(one: float, other: float, now: float, kind: str) -> None:
    fine, coarse = sorted((one, other))
    assert RANK[verdict(fine, now, kind)] <= RANK[verdict(coarse, now, kind)]


@pytest.mark.parametrize("bad", [(0, 1), (1, 0), (-3, 1), (float("nan"), 1)])
def test_sizes_must_be_above_zero(bad: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="above 0"):
        verdict(*bad, "oxide")


def test_pressure_needs_a_real_face() -> None:
    with pytest.raises(ValueError, match="0 mm"):
        pressure_pa(1.0, 0.0, 5.0)


def rungs(*sizes: float) -> list[Rung]:
    return [Rung(f"{s:g} µm", s) for s in sizes]


def test_ladder_names_the_step_that_leaves_damage() -> None:
    (said,) = check_ladder(rungs(58, 30, 15, 0.5))
    assert said.startswith("0.5 µm leaves the damage of 15 µm behind:")


def test_ladder_long_idle_and_coarser_steps() -> None:
    (long,) = check_ladder(rungs(30, 6, 2.5))
    assert long.startswith("From 30 µm to 6 µm is a long step")
    (coarser,) = check_ladder(rungs(15, 45, 15))
    assert coarser.startswith("45 µm is coarser than 15 µm before it")
    assert check_ladder(rungs(30, 28, 12)) == check_ladder(rungs(28, 30, 12)) == ()
    assert check_ladder(rungs(30)) == ()
    assert check_ladder([]) == ()


def test_oxide_at_the_end_of_a_ladder() -> None:
    oxide = Rung("an oxide", 1.0, "oxide")
    assert check_ladder([*rungs(15, 6, 3), oxide]) == ()
    (said,) = check_ladder([*rungs(60, 30), oxide])
    assert "more than an oxide takes off" in said
    assert check_ladder([Rung("first", 1.0, "oxide"), Rung("second", 0.3, "oxide")]) == ()


@given(st.lists(grain, min_size=2, max_size=5))
def test_a_sound_ladder_reaches_the_damage_of_each_step(sizes: list[float]) -> None:
    pairs = list(itertools.pairwise([Rung(str(i), s) for i, s in enumerate(sizes)]))
    assert check_ladder([*(a for a, _ in pairs), pairs[-1][1]]) == tuple(s for p in pairs for s in check_ladder(p))
    for before, after in pairs:
        if not check_ladder((before, after)):
            assert reach_um(after.um) * 1.1 >= damage_depth(before.um)[1]


@given(st.floats(0, 90), st.integers(1, 3))
def test_price_grows_with_steps_and_is_never_less_than_the_depth(angle: float, steps: int) -> None:
    price = price_of((2.0, 20.0), steps, angle)
    assert price.remove_um[0] >= 2.0
    for moved in (price.height_um, price.outline_um):
        if moved is not None:
            assert moved[0] >= price.remove_um[0] - 1e-9
    assert price_of((2.0, 20.0), steps + 1, angle).remove_um[1] > price.remove_um[1]


def test_table_and_girdle_move_only_one_way() -> None:
    table, girdle = price_of((2, 20), 1, 0), price_of((2, 20), 1, 90)
    assert table.outline_um is None
    assert table.height_um == (2, 20)
    assert girdle.height_um is None
    assert girdle.outline_um == pytest.approx((2, 20))
    assert price_of((2, 20), 1).height_um is None


@pytest.mark.parametrize(("steps", "angle"), [(0, 42.0), (1, -1.0), (1, 91.0)])
def test_price_refuses_what_makes_no_sense(steps: int, angle: float) -> None:
    with pytest.raises(ValueError, match="required"):
        price_of((1, 2), steps, angle)


def test_price_as_plain_values() -> None:
    out = step_back_price((2.0, 20.0), 42.0, (5.0, 3.0), 2)
    assert out["share_of_facet"] == pytest.approx(out["remove_um"][1] / 3000)
    assert "µm" in out["text"]
    assert "e+" not in out["text"]
    bare = step_back_price((2.0, 20.0))
    assert bare["height_um"] is None


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (0.0, "0"),
        (0.254, "0.25"),
        (1.89, "1.9"),
        (9.96, "10"),
        (14.16, "14"),
        (15, "15"),
        (99.6, "100"),
        (4890, "4890"),
    ],
)
def test_numbers_as_shown(value: float, shown: str) -> None:
    assert short(value) == shown
    assert spread(value, value) == f"{shown} to {shown}"
