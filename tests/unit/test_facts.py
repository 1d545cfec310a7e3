"""From a case to raw facts: ids are checked with the nearest spelling, derived facts follow from what is known."""

from __future__ import annotations

import contextlib
from types import MappingProxyType

import pytest

from lapwise.engine.case import Case, FacetSetting
from lapwise.engine.errors import BadInput
from lapwise.engine.facts import check_case, facts_of
from lapwise.engine.folders import folders
from lapwise.engine.knowledge.loader import load
from lapwise.engine.knowledge.model import Knowledge


@pytest.fixture(scope="module")
def knowledge(tmp_path_factory: pytest.TempPathFactory) -> Knowledge:
    return load(folders(tmp_path_factory.mktemp("own"))).knowledge


def facts(knowledge: Knowledge, **fields: object) -> dict[str, set[object]]:
    stated = fields.pop("facts", {})
    case = Case(**fields, facts=MappingProxyType(stated))  # type: ignore[arg-type]
    out: dict[str, set[object]] = {}
    for fact in facts_of(check_case(case, knowledge), knowledge):
        out.setdefault(fact.slot, set()).add(fact.value)
    return out


def test_a_variety_is_its_species_and_family_too(knowledge: Knowledge) -> None:
    assert {"amethyst", "quartz"} <= facts(knowledge, material="amethyst")["material"]


def test_sizes_and_speeds_become_words_and_numbers(knowledge: Knowledge) -> None:
    found = facts(knowledge, facts={"facet_size": "9x6mm", "speed": "1500rpm"}, lap="tin-lap")
    assert found["facet_mm"] == {9.0}
    assert found["facet_size"] == {"large"}
    assert found["speed"] == {"fast"}
    assert found["speed_rpm"] == {1500.0}


@pytest.mark.parametrize(("degrees", "near"), [("3", "yes"), ("6", "yes"), ("8", "no"), ("20", "no")])
def test_cleavage_angle_says_whether_it_is_near(knowledge: Knowledge, degrees: str, near: str) -> None:
    found = facts(knowledge, material="topaz", facts={"cleavage_angle": degrees})
    assert found["cleavage_angle"] == {float(degrees)}
    assert found["cleavage_near"] == {near}


def test_unknown_is_left_out(knowledge: Knowledge) -> None:
    assert facts(knowledge, material="unknown", lap="unknown", facts={"wetness": "unknown"}) == {"stage": {"polish"}}


def test_step_ratio_is_a_ratio_of_grain_sizes(knowledge: Knowledge) -> None:
    found = facts(knowledge, prior="diamond-3000", compound="diamond-8000")
    sizes = (knowledge.compounds["diamond-3000"].typical_um, knowledge.compounds["diamond-8000"].typical_um)
    assert None not in sizes
    assert found["step_ratio"] == {sizes[0] / sizes[1]}  # type: ignore[operator]


def test_every_wrong_id_is_named_at_once_with_the_nearest(knowledge: Knowledge) -> None:
    case = Case(material="topas", lap="tin-lapp", symptoms=("fine-scratch",), facet=FacetSetting(part="tabel"))
    with pytest.raises(BadInput) as caught:
        check_case(case, knowledge)
    problems = {p.where: p.nearest for p in caught.value.problems}
    assert "topaz" in problems["--material"]
    assert "tin-lap" in problems["--lap"]
    assert "fine-scratches" in problems["--symptom"]
    assert "table" in problems["--part"]


@pytest.mark.parametrize(
    "stated",
    [
        {"wetness": "soggy"},
        {"moisture": "wet"},
        {"cleavage_angle": "steep"},
        {"cleavage_angle": "120"},
        {"speed": "fastish"},
        {"facet_size": "9 by 6"},
        {"prior_lap": "tin"},
    ],
)
def test_wrong_conditions_are_refused(knowledge: Knowledge, stated: dict[str, str]) -> None:
    with pytest.raises(BadInput):
        check_case(Case(facts=MappingProxyType(stated)), knowledge)


def test_a_fixed_remedy_ends_a_case(knowledge: Knowledge) -> None:
    with pytest.raises(BadInput, match="ends the case"):
        check_case(Case(symptoms=("haze",), tried=(("clean-lap", "fixed"),)), knowledge)


def test_a_case_survives_its_json_form() -> None:
    case = Case(
        material="topaz",
        symptoms=("haze",),
        facts=MappingProxyType({"wetness": "dry"}),
        facet=FacetSetting(part="table", angle=1.5, size_mm=(9.0, 6.0)),
        tried=(("clean-lap", "no-change"),),
        saw=(("loupe-check", "dotted"),),
        settled=1,
    )
    assert Case.from_json(case.as_json()) == case


@pytest.mark.parametrize("key", ["facts", "facet", "tried", "saw", "symptoms", "corrections"])
@pytest.mark.parametrize("value", [[1], 5, "ab"])
def test_a_case_of_another_shape_ends_in_what_its_reader_promises(key: str, value: object) -> None:
    with contextlib.suppress(KeyError, TypeError, ValueError):
        Case.from_json({key: value})
