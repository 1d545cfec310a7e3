"""Every material says all that advice needs, with its source, and inherits sanely."""

from __future__ import annotations

from tests.unit.each import each
from tests.unit.materials_shelf import shelf

from lapwise.engine.knowledge.model import Material

K = shelf()
MATERIALS = sorted(K.materials)
NAMED_AT_THE_START = [
    "quartz-rock-crystal",
    "amethyst",
    "citrine",
    "smoky-quartz",
    "rose-quartz",
    "ametrine",
    "aquamarine",
    "morganite",
    "heliodor",
    "goshenite",
    "emerald",
    "sapphire",
    "ruby",
    "synthetic-corundum",
    "topaz",
    "tourmaline-elbaite",
    "tourmaline-schorl",
    "tourmaline-dravite",
    "garnet-almandine",
    "garnet-pyrope",
    "garnet-rhodolite",
    "garnet-spessartine",
    "garnet-grossular",
    "garnet-tsavorite",
    "garnet-demantoid",
    "garnet-colour-change",
    "spinel",
    "synthetic-spinel",
    "peridot",
    "zircon-high",
    "zircon-low",
    "chrysoberyl",
    "labradorite",
    "sunstone",
    "orthoclase",
    "oligoclase",
    "moonstone",
    "sanidine",
    "fluorite",
    "apatite",
    "opal",
    "tanzanite",
    "iolite",
    "kunzite",
    "hiddenite",
    "danburite",
    "diopside",
    "scapolite",
    "sphene",
    "sphalerite",
    "calcite",
    "cubic-zirconia",
    "yag",
    "ggg",
    "synthetic-rutile",
    "strontium-titanate",
    "moissanite",
    "glass-soda-lime",
    "obsidian",
    "moldavite",
    "amblygonite",
    "benitoite",
    "andalusite",
    "kyanite",
    "rhodochrosite",
    "sinhalite",
    "taaffeite",
    "epidote",
    "idocrase",
    "phenakite",
    "scheelite",
    "cuprite",
    "cerussite",
    "dioptase",
    "barite",
    "diamond",
]
GROUPS = [
    "quartz",
    "beryl",
    "corundum",
    "tourmaline",
    "garnet",
    "spodumene",
    "feldspar",
    "plagioclase",
    "zircon",
    "opal",
    "glass",
    "zoisite",
    "rutile",
]

STATED = ("mohs", "sg", "ri", "cleavage", "toughness", "heat", "acid", "water", "directional", "polishes_with")


def material(name: str) -> Material:
    return K.materials[name]


def middle(name: str) -> float:
    span = material(name).mohs
    assert span is not None
    return span.middle


def test_no_material_is_missing() -> None:
    assert len(NAMED_AT_THE_START) == 76
    assert not set(NAMED_AT_THE_START) - set(MATERIALS)
    assert not set(GROUPS) - set(MATERIALS)
    assert {"red-beryl", "garnet-hessonite", "enstatite", "kornerupine", "axinite", "euclase"} <= set(MATERIALS)


@each(MATERIALS)
def test_values_carry_unit_and_source(name: str) -> None:
    stone = material(name)
    for span, unit in ((stone.mohs, "Mohs"), (stone.sg, "1"), (stone.ri, "1")):
        assert span is not None
        assert span.unit == unit
        assert span.source
        recalled = K.sources[span.source].status == "memory"
        assert span.memory == recalled, f"{span.source}: what is recalled says so"
        assert span.low <= span.high


@each(MATERIALS)
def test_every_level_has_its_reason(name: str) -> None:
    stone = material(name)
    for level in (stone.toughness, stone.heat, stone.acid, stone.water, stone.directional):
        assert level is not None
        assert level.because[0].isupper()
        assert level.because.endswith(".")
        assert level.source
    assert stone.cleavage
    assert stone.formula
    assert stone.crystal_system
    assert stone.cautions, "every stone makes dust"


@each(MATERIALS)
def test_there_is_a_way_to_polish_and_to_prepare_it(name: str) -> None:
    stone = material(name)
    polish = [p for p in stone.polishes_with if p.stage == "polish"]
    assert polish
    assert all(p.laps and p.compounds and p.because and p.source for p in stone.polishes_with)
    assert all(p.because and p.source for p in stone.avoid)
    if "diamond" not in stone.line:
        assert any(p.stage == "prepolish" for p in stone.polishes_with)


@each(MATERIALS)
def test_recommended_laps_carry_the_compound(name: str) -> None:
    for pair in material(name).polishes_with:
        for lap in pair.laps:
            for compound in pair.compounds:
                carries = K.laps[lap].carries
                assert compound in carries or K.compounds[compound].kind in carries, (lap, compound)


@each(MATERIALS)
def test_no_coarse_grain_among_the_polishes(name: str) -> None:
    for pair in material(name).polishes_with:
        for compound in pair.compounds:
            mesh = K.compounds[compound].mesh
            assert K.compounds[compound].kind in ("oxide", "diamond")
            assert mesh is None or mesh >= (8000 if pair.stage == "polish" else 1200)


@each(MATERIALS)
def test_traits_follow_the_values(name: str) -> None:
    stone = material(name)
    traits = stone.traits
    assert stone.heat
    assert stone.acid
    assert stone.directional
    assert ("soft" in traits) == (middle(name) < 6 and "kyanite" not in stone.line)  # 4 one way, 7 the other
    assert ("hard" in traits) == (middle(name) >= 8)
    assert ("very-hard" in traits) == (middle(name) >= 9)
    assert ("heat-sensitive" in traits) == (stone.heat.level in ("high", "extreme"))
    assert ("acid-sensitive" in traits) == (stone.acid.level in ("high", "extreme"))
    assert ("directional-hardness" in traits) == (stone.directional.level in ("marked", "extreme"))
    assert ("cleaves-easily" in traits) == any(c.quality == "perfect" for c in stone.cleavage)
    if "acid-sensitive" in traits:
        assert {"no-acid", "sulphide-gas", "lead"} & set(stone.cautions)
    if "radioactive-possible" in traits:
        assert "radioactive" in stone.cautions
    if "filled-or-oiled" in traits and "corundum" not in stone.line:
        assert "filled-stone" in stone.cautions
    for works, fails in (("ceria-works", "ceria-fails"), ("diamond-works", "diamond-troublesome")):
        assert not {works, fails} <= traits


@each(MATERIALS)
def test_working_compounds_agree_with_the_pairs(name: str) -> None:
    stone = material(name)
    listed = {c for p in stone.polishes_with if p.stage == "polish" for c in p.compounds}
    for trait, compound in (("ceria-works", "cerium-oxide"), ("alumina-works", "aluminium-oxide")):
        if trait in stone.traits:
            assert compound in listed
    if "diamond-works" in stone.traits:
        assert any(K.compounds[c].kind == "diamond" for c in listed)
    if "ceria-fails" in stone.traits:
        assert "cerium-oxide" not in listed
        assert any("cerium-oxide" in p.compounds and not p.laps for p in stone.avoid)


@each(MATERIALS)
def test_a_perfect_cleavage_says_how_near_is_dangerous(name: str) -> None:
    for plane in material(name).cleavage:
        if plane.quality == "perfect":
            assert plane.keep_off_degrees is not None
            assert 5 <= plane.keep_off_degrees <= 10


@each(MATERIALS)
def test_inheritance_is_sane(name: str) -> None:
    stone = material(name)
    assert stone.line[0] == name
    top = material(stone.line[-1])
    assert top.rank == "family"
    order = [("variety", "species", "family").index(material(n).rank) for n in stone.line]
    assert order == sorted(set(order)), "each step up is a higher rank"
    for above in stone.line[1:]:
        parent = material(above)
        assert parent.traits <= stone.traits
        assert set(parent.cautions) <= set(stone.cautions)
        # A variety lies within its group: a little play for values from another source.
        for mine, theirs, play in (
            (stone.mohs, parent.mohs, 0.5),
            (stone.sg, parent.sg, 0.06),
            (stone.ri, parent.ri, 0.012),
        ):
            assert mine
            assert theirs
            if name != "chalcedony":  # porous, so lighter than the crystal
                assert mine.low >= theirs.low - play
                assert mine.high <= theirs.high + play


def test_nothing_is_written_twice() -> None:
    for name in MATERIALS:
        stone = material(name)
        if len(stone.line) == 1:
            continue
        parent = material(stone.line[1])
        for key in STATED:
            mine, theirs = getattr(stone, key), getattr(parent, key)
            assert mine is theirs or mine != theirs, f"{name}.{key} repeats {parent.id}"


def test_every_trait_is_used() -> None:
    used = frozenset[str]().union(*(m.traits for m in K.materials.values()))
    assert set(K.traits) == used
    used_by_laps = frozenset[str]().union(*(lap.traits for lap in K.laps.values()))
    assert set(K.lap_traits) == used_by_laps


def test_other_names_are_not_ids_of_other_stones() -> None:
    seen: dict[str, str] = {}
    for name in MATERIALS:
        for other in material(name).also:
            assert other not in K.materials
            assert seen.setdefault(other.casefold(), name) == name


def test_quartz_says_what_quartz_cutters_say() -> None:
    amethyst = material("amethyst")
    assert amethyst.line == ("amethyst", "quartz")
    assert amethyst.polishes_with[0].compounds == ("cerium-oxide",)
    assert any(p.laps == ("ceramic-lap",) for p in amethyst.avoid)
    assert "silica-dust" in amethyst.cautions
    assert "often-twinned" in amethyst.traits
    assert "often-twinned" not in material("quartz-rock-crystal").traits


def test_hard_oxides_are_not_sent_to_cerium() -> None:
    for name in ("sapphire", "chrysoberyl", "cubic-zirconia", "spinel", "topaz", "moissanite"):
        assert any("cerium-oxide" in p.compounds and not p.laps for p in material(name).avoid), name


def test_experts_who_disagree_both_stand() -> None:
    zirconia = material("cubic-zirconia")
    good = {lap for p in zirconia.polishes_with for lap in p.laps}
    bad = {lap for p in zirconia.avoid for lap in p.laps}
    assert "ceramic-lap" in good & bad
    degrees = " ".join(n.text for n in material("topaz").notes)
    assert "5 degrees" in degrees
    assert "7 degrees" in degrees
    assert "7 to 10 degrees" in degrees
