"""Grain sizes, damage depth and removal against published values. Sources stand beside each check."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from lapwise.engine.abrasion.damage import (
    damage_depth,
)
from lapwise.engine.abrasion.ladder import Rung, check_ladder
from lapwise.engine.abrasion.preston import (
    OXIDE,
    pressure_pa,
    removal_nm_per_s,
    seconds_to_remove,
)
from lapwise.engine.abrasion.price import height_moved_um, outline_moved_um
from lapwise.engine.abrasion.tables import convert, load_systems, nearest_grade, readings


@pytest.mark.parametrize(
    ("grit", "system", "um"),
    [
        # GNU units 2.22, definitions.units: tables grit_P, grit_F, ansibonded, ansicoated (package read)
        ("800", "fepa-p", 21.8),
        ("1200", "fepa-p", 15.3),
        ("800", "fepa-f", 6.5),
        ("1200", "fepa-f", 3.0),
        ("220", "fepa-f", 58.0),
        ("600", "ansi-bonded", 10.55),
        ("800", "ansi-coated", 11.5),
        # JIS R6001:1987, full table (page read)
        ("800", "jis", 14.0),
        ("8000", "jis", 1.2),
        # ASTM E11, sieve No. 325 (package fluids, read)
        ("325", "us-mesh", 45.0),
        ("400", "us-mesh", 38.0),
    ],
)
def test_published_sizes(grit: str, system: str, um: float) -> None:
    assert convert(grit, system).um == um


def test_jis_800_has_its_tolerance() -> None:
    """JIS R6001:1987: 14.0 ± 1.0 µm, no grain over 38 µm (page read)."""
    grain = convert("800", "jis")
    assert (grain.low, grain.high) == (13.0, 15.0)
    assert "38" in grain.note


def test_800_is_not_one_size() -> None:
    """The same number in each system, sizes as above: never convert by number."""
    sizes = {g.system: g.um for g in readings("800")}
    assert sizes["fepa-p"] == 21.8
    assert sizes["fepa-f"] == 6.5
    assert sizes["jis"] == 14.0
    assert max(sizes.values()) / min(sizes.values()) > 3


def test_us_mesh_is_astm_e11() -> None:
    """Every sieve of ours against the ASTM E11 table of the package fluids (to a tenth of a µm or 0.1 %)."""
    sieves = pytest.importorskip("fluids.particle_size_distribution").ASTM_E11_sieves
    openings = {}
    for sieve in sieves.values():
        match = re.fullmatch(r"No\. ([0-9.]+)", (sieve.old_designation or "").replace(" 1/2", ".5").replace("½", ".5"))
        if match:
            openings[float(match[1])] = sieve.opening * 1e6
    ours = {float(g.name): g for g in load_systems()["us-mesh"].grades}
    assert len(set(ours) & set(openings)) == len(ours) >= 30
    for mesh, grade in ours.items():
        assert grade.um == pytest.approx(openings[mesh], rel=1e-3), mesh
        finer = [o for o in openings.values() if o < grade.um - 0.5]
        if finer and grade.low is not None:
            assert grade.low == pytest.approx(max(finer), rel=1e-3), mesh


def test_sieved_diamond_lies_between_two_sieves() -> None:
    """ISO 6106 / FEPA 61: D-number is the upper opening plus one (two toolmakers' tables, read); 325/400 is D46."""
    systems = load_systems()
    openings = {g.um for g in systems["us-mesh"].grades}
    for grade in systems["diamond-sieve"].grades:
        assert grade.low in openings
        assert grade.high in openings
        assert grade.high is not None
        assert int(grade.name[1:]) == grade.high + 1
    assert convert("325/400", "diamond-sieve").grit == "D46"


def test_trade_diamond_is_only_a_convention() -> None:
    """Finer than 400 no sieve stands behind the number (fact of the trade: common practice, no source)."""
    systems = load_systems()
    assert systems["diamond-trade"].convention
    assert not any(s.convention for s in systems.values() if s.id != "diamond-trade")
    assert min(g.um for g in systems["us-mesh"].grades) == 20.0


def test_table_that_turns_back_is_looked_up_by_size() -> None:
    """The table as GNU units prints it, bonded 600 beside coated 800: 600 is 10.55 µm but 800 is 11.5 µm."""
    systems = load_systems()
    bonded = {g.name: g for g in systems["ansi-bonded"].grades}
    mixed = tuple(bonded[g.name] if int(g.name) <= 600 else g for g in systems["ansi-coated"].grades)
    coated = replace(systems["ansi-coated"], grades=mixed)
    assert nearest_grade(10.5, coated)[0].name == "600"
    assert nearest_grade(11.4, coated)[0].name == "800"
    assert nearest_grade(14.0, coated)[0].name == "500"


@pytest.mark.parametrize(("grit", "um"), [("240", 52), ("320", 35), ("400", 22), ("600", 15.5)])
def test_coated_grades_are_not_the_bonded_ones(grit: str, um: float) -> None:
    """ANSI B74.18 (recalled, not opened): an American sheet is coarser than a bonded grain of the same number."""
    assert convert(grit, "ansi-coated").um == pytest.approx(um, abs=0.5)
    assert convert(grit, "ansi-coated").um > convert(grit, "ansi-bonded").um
    sizes = [g.um for g in load_systems()["ansi-coated"].grades]
    assert sizes == sorted(sizes, reverse=True)


def test_preston_on_fused_silica() -> None:
    """Best of twenty pitch conditions: more than 16e-14 cm²/dyn, cerium oxide on fused silica (abstract read).

    16e-14 cm²/dyn = 16e-14 × 1e-4 m² / 1e-5 N = 1.6e-12 1/Pa; at 10 kPa and 0.5 m/s: 8.0 nm/s, 28.8 µm/h; 3 µm: 375 s.
    """
    k = 16e-14 * 1e-4 / 1e-5
    assert OXIDE.high == pytest.approx(k)
    rate = removal_nm_per_s(k, 10_000, 0.5)
    assert rate == pytest.approx(8.0, abs=1e-9)
    assert rate * 3.6 == pytest.approx(28.8, abs=1e-9)
    assert seconds_to_remove(3.0, k, 10_000, 0.5) == pytest.approx(375, abs=1e-6)


def test_twice_as_wide_takes_four_times_as_long() -> None:
    """At constant force the pressure falls with the area (Preston; a lapidary page restates it, read)."""
    k = OXIDE.high
    small, large = (seconds_to_remove(3.0, k, pressure_pa(5.0, d, d), 0.5) for d in (5.0, 10.0))
    assert large / small == pytest.approx(4.0)


def test_pressure_on_a_round_table() -> None:
    """5 N on a round face of 5 mm is 255 kPa (arithmetic); ours is for a rectangle, so scale by pi/4."""
    assert pressure_pa(5.0, 5.0, 5.0) / (math.pi / 4) == pytest.approx(254_648, rel=1e-4)


@pytest.mark.parametrize(
    ("grain", "low", "high"),
    [
        (1, 0.30, 2.00),
        (3, 0.63, 5.09),
        (6, 1.01, 9.17),
        (10, 1.44, 14.16),
        (15, 1.89, 19.99),
        (30, 3.03, 36.02),
        (45, 3.99, 50.85),
        (60, 4.86, 64.93),
    ],
)
def test_damage_of_optical_glass(grain: float, low: float, high: float) -> None:
    """Lambropoulos 1999 (memory): 0.3·L^0.68 < depth < 2·L^0.85, worked by hand."""
    assert damage_depth(grain) == pytest.approx((low, high), abs=0.005)


def test_published_ladder_is_sound() -> None:
    """A published course on grinding (excerpt read): steps of two to three, 30 – 15 – 9 – 3 µm."""
    assert check_ladder([Rung(str(um), um) for um in (30, 15, 9, 3)]) == ()


def test_price_of_twenty_micrometres_at_42_degrees() -> None:
    """Plane geometry: 20/cos 42° = 26.9 µm, 20/sin 42° = 29.9 µm."""
    assert height_moved_um(20, 42) == pytest.approx(26.9, abs=0.05)
    assert outline_moved_um(20, 42) == pytest.approx(29.9, abs=0.05)
