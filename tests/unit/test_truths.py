"""Facts of the trade that once stood wrong: each said here with where it comes from, so that none slips back.

Sizes: American coated grades (ANSI B74.18) recalled; half a micrometre of diamond is sold under several mesh numbers (a
page on pastes, read); alumina of about 3 µm is the tumbling grade (a supplier's page, read). What a domed lap touches
is plain geometry. Acids and what they etch: textbook chemistry, recalled. The rest: common practice, no source.
"""

from __future__ import annotations

import re

import pytest
from tests.unit.shipped import knowledge, session

from lapwise.engine.case import Case
from lapwise.engine.diagnosis.jsonform import as_json
from lapwise.engine.diagnosis.model import Diagnosis
from lapwise.engine.pairs import compound_fit
from lapwise.tui.present.answer import wait_sentence

KNOWN = knowledge()


def answer(**case: object) -> Diagnosis:
    return session().quick(Case(**case))  # type: ignore[arg-type]


def chance(cause: str, **case: object) -> float:
    return next((c.probability for c in answer(**case).causes if c.id == cause), 0.0)


def place(remedy: str, **case: object) -> int:
    return [s.remedy for s in answer(**case).plan].index(remedy)


# --- grains --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("grade", "um"), [("diamond-14000", 1.0), ("diamond-60000", 0.5)])
def test_fine_diamond_has_the_size_it_is_sold_by(grade: str, um: float) -> None:
    compound = KNOWN.compounds[grade]
    assert compound.typical_um == um
    assert compound.um
    assert compound.um.low < um < compound.um.high


def test_tumbling_alumina_is_a_compound_of_its_own() -> None:
    coarse, usual, fine = (KNOWN.compounds[f"aluminium-oxide{x}"] for x in ("-coarse", "", "-fine"))
    assert coarse.typical_um == 3
    assert usual.typical_um
    assert fine.typical_um
    assert coarse.typical_um > usual.typical_um > fine.typical_um
    assert {"tumbler polish", "3 micron alumina"} <= set(coarse.also)


def test_coarse_alumina_is_no_polish_on_a_flat_lap_but_is_one_on_felt_for_agate() -> None:
    told = {"material": "peridot", "compound": "aluminium-oxide-coarse", "symptoms": ("haze",), "stage": "polish"}
    on_tin, on_felt = (chance("compound-too-coarse", lap=lap, **told) for lap in ("tin-lap", "cloth-or-leather-lap"))
    assert on_tin > 3 * on_felt
    assert min(place(r, lap="tin-lap", **told) for r in ("finer-compound", "change-oxide")) == 0
    assert compound_fit(KNOWN.materials["chalcedony"], "aluminium-oxide-coarse") == "listed"


@pytest.mark.parametrize("stone", ["corundum", "chrysoberyl"])
def test_no_alumina_brings_up_the_hardest_stones(stone: str) -> None:
    assert compound_fit(KNOWN.materials[stone], "aluminium-oxide-coarse") == "avoided"


# --- what shows what -----------------------------------------------------------------------------------------


def test_a_domed_lap_touches_the_middle() -> None:
    """A lap that is domed now leaves a bright middle; a hollow one a bright border (geometry)."""
    assert "hollow now" in KNOWN.rules["centre-stays-dull"].because
    assert "domed now" in " ".join(KNOWN.rules["edges-stay-dull"].because.split())


def test_cerium_on_tin_is_an_old_pair() -> None:
    told = {"material": "tourmaline", "compound": "cerium-oxide", "symptoms": ("stays-dull",), "stage": "polish"}
    fired = {lap: _fired(lap=lap, **told) for lap in ("tin-lap", "copper-lap", "ceramic-lap")}
    assert "hard-lap-on-fine-oxide" not in fired["tin-lap"]
    assert "hard-lap-on-fine-oxide" in fired["copper-lap"] & fired["ceramic-lap"]


def _fired(**case: object) -> set[str]:
    found = session().prepare(Case(**case)).conclusions  # type: ignore[arg-type]
    return {fired.rule for fired in found.trace}


def test_one_way_only_on_glass_is_play_or_the_setting() -> None:
    told = {"material": "glass-soda-lime", "symptoms": ("one-direction-only",), "stage": "polish"}
    assert chance("machine-play", **told) < 0.9
    assert chance("index-off", **told) + chance("angle-off", **told) > 0.01
    assert {"ink-facet", "identify-stone"} <= set(KNOWN.rules["one-way-on-glassy-stone-is-play"].then.looks)


def test_being_near_a_cleavage_is_no_trouble_until_something_shows() -> None:
    near = {"material": "topaz", "facts": {"cleavage_near": "yes"}, "stage": "polish"}
    assert chance("cleavage-plane", symptoms=("stays-dull",), **near) > 0.25
    assert chance("cleavage-plane", symptoms=("rounded-edges",), **near) < 0.1


# --- acid ----------------------------------------------------------------------------------------------------

ETCHED = {"material": "apatite", "symptoms": ("haze",), "tried": (("acidify-slurry", "no-change"),), "lap": "tin-lap"}


def test_vinegar_on_a_stone_that_fears_it_raises_chemical_attack() -> None:
    assert chance("chemical-attack", **ETCHED) > 2 * chance("chemical-attack", **{**ETCHED, "tried": ()})


def test_where_vinegar_made_it_worse_it_is_rinsed_off() -> None:
    told = {**ETCHED, "tried": (("acidify-slurry", "worse"),)}
    assert chance("chemical-attack", **told) > 0.1
    assert "neutral-slurry" in {s.remedy for s in answer(**told).plan[:3]}


def test_a_stone_that_stands_acid_is_not_suspected_of_it() -> None:
    told = {**ETCHED, "material": "quartz"}
    assert chance("chemical-attack", **told) < 0.02


def test_a_drop_left_on_the_stone_tells() -> None:
    look = KNOWN.looks["drop-test"]
    assert set(look.results) == {"clouded", "unchanged"}
    told = {"material": "calcite", "symptoms": ("haze",), "stage": "polish"}
    before = chance("chemical-attack", **told)
    assert chance("chemical-attack", saw=(("drop-test", "clouded"),), **told) > 0.9 > 2 * before
    assert chance("chemical-attack", saw=(("drop-test", "unchanged"),), **told) < before


# --- giving up, waiting, a new lap ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("remedy", "way_back"),
    [
        ("acidify-slurry", "put it back as it was"),
        ("step-back-one", "What it took off stays off"),
        ("softer-lap", "go back to the lap and compound you had"),
    ],
)
def test_a_try_that_made_it_worse_is_stopped_and_taken_back(remedy: str, way_back: str) -> None:
    told = answer(material="tourmaline", symptoms=("haze",), tried=((remedy, "worse"),))
    assert KNOWN.remedies[remedy].label in told.gone_worse[0]
    assert way_back in told.gone_worse[0]
    assert as_json(told)["gone_worse"] == list(told.gone_worse)
    assert remedy not in {s.remedy for s in told.plan}
    assert not answer(material="tourmaline", symptoms=("haze",), tried=((remedy, "better"),)).gone_worse


@pytest.mark.parametrize(
    ("remedy", "least", "words"), [("cold-dop", 8 * 60, "12 hours"), ("dry-out-stone", 14 * 1440, "4 weeks")]
)
def test_what_has_to_stand_says_how_long(remedy: str, least: float, words: str) -> None:
    """Epoxy wants the night, a wet opal weeks (common practice, no source); the wait is in no other figure."""
    told = answer(material="opal", symptoms=("cracks",), stage="cut", facts={"since": "transfer"})
    step = next(s for s in told.plan if s.remedy == remedy)
    assert step.wait_minutes >= least
    assert step.minutes < 60
    assert words in wait_sentence(step)
    row = next(s for s in as_json(told)["plan"] if s["remedy"] == remedy)
    assert row["wait_minutes"] == step.wait_minutes
    assert row["wait_for"] == step.wait_for


def test_a_worn_plated_lap_is_replaced_and_a_tin_lap_is_not() -> None:
    worn = {"material": "quartz", "symptoms": ("slow-polish",), "stage": "cut", "facts": {"lap_surface": "worn-out"}}
    assert place("new-cutting-lap", lap="plated-diamond-lap", compound="diamond-260", **worn) < 3
    assert "new-cutting-lap" not in {s.remedy for s in answer(lap="tin-lap", **worn).plan}


# --- sources -------------------------------------------------------------------------------------------------


PLAIN = {"wiki", "guild", "gems", "tourmaline", "glass", "optics", "unit", "fluids", "osti"}
"""Words of the trade, a public laboratory and a free package, which may stand in an id and in an address."""


def test_one_source_per_address() -> None:
    addresses = [s.address for s in KNOWN.sources.values() if s.address]
    assert len(addresses) == len(set(addresses))


def test_the_id_of_a_source_names_no_person_and_no_seller() -> None:
    """What a person sees is the id; names stand in the citation alone. Initials before a name mark a person there."""
    named = re.compile(r"(?:\b[A-Z]\.[ -]?)+([A-Z][a-z]{2,})")
    for source in KNOWN.sources.values():
        parts = {part for part in re.split(r"[_\d]+", source.id) if len(part) > 3} - PLAIN
        people = {name.lower() for name in named.findall(source.cite)}
        assert not parts & people, source.id
        host = source.address.split("//")[-1].split("/")[0].lower()
        assert not any(part in host for part in parts), (source.id, host)


def test_a_stone_found_to_be_another_is_said_before_all_else() -> None:
    told = answer(material="citrine", symptoms=("haze",), saw=(("identify-stone", "other"),))
    assert told.not_as_named.startswith("It is not citrine: say what it is.")
    assert as_json(told)["not_as_named"] == told.not_as_named
    assert not answer(material="citrine", symptoms=("haze",), saw=(("identify-stone", "as-named"),)).not_as_named
    assert not answer(symptoms=("haze",), saw=(("identify-stone", "other"),)).not_as_named


def test_what_helped_is_gone_on_with_for_that() -> None:
    """Oxide on quartz is a plain cure as well; that it helped is the better reason."""
    told = answer(
        material="quartz",
        lap="tin-lap",
        compound="diamond-50000",
        symptoms=("haze",),
        tried=(("diamond-to-oxide", "better"),),
    )
    step = next(s for s in told.plan if s.remedy == "diamond-to-oxide")
    assert step.because[0].startswith("It helped before")
