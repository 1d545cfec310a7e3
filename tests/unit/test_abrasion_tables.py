"""Looking grits up: how they are typed, what is refused, and the file they come from."""

from __future__ import annotations

import pytest

from lapwise.engine.abrasion.tables import (
    Grade,
    System,
    convert,
    load_systems,
    nearest_grade,
    nearest_grits,
    read_systems,
    readings,
    spelled,
)
from lapwise.engine.errors import BadInput, Damaged, NothingFound

SYSTEMS = load_systems()


@pytest.mark.parametrize(
    ("typed", "grit", "system"),
    [
        ("1200", "1200", None),
        (" #1200 ", "1200", None),
        ("1,200", "1200", None),
        ("100k", "100000", None),
        ("p800", "800", "fepa-p"),
        ("F220", "220", "fepa-f"),
        ("d46", "D46", "diamond-sieve"),
        ("325/400", "325/400", "diamond-sieve"),
        ("325 mesh", "325", None),
    ],
)
def test_spellings(typed: str, grit: str, system: str | None) -> None:
    assert spelled(typed, SYSTEMS) == (grit, system)


@pytest.mark.parametrize(
    "typed", ["", "   ", "k", "1e9", "-5", "nan", "١٢٠٠", "1200" * 50, "F", "½", "²k", "F²", "9" * 400]
)
def test_nonsense_is_bad_input_with_a_hint(typed: str) -> None:
    with pytest.raises(BadInput) as error:
        readings(typed, SYSTEMS)
    (problem,) = error.value.problems
    assert error.value.exit_code == 2
    assert problem.allowed or problem.nearest


def test_unknown_grit_names_the_nearest_by_size_of_number() -> None:
    with pytest.raises(BadInput) as error:
        convert("1100", "fepa-f", SYSTEMS)
    assert error.value.problems[0].nearest[:2] == ("1200", "1000")
    assert nearest_grits("5000", SYSTEMS["jis"])[0] in ("4000", "6000")


def test_unknown_system_names_the_nearest() -> None:
    with pytest.raises(BadInput) as error:
        convert("1200", "fepa_f ", SYSTEMS)
    assert error.value.problems[0].nearest[0] == "fepa-f"


def test_a_letter_that_names_another_system_is_refused() -> None:
    with pytest.raises(BadInput) as error:
        convert("P800", "fepa-f", SYSTEMS)
    assert error.value.problems[0].nearest == ("fepa-p",)
    assert convert("P800", "fepa-p", SYSTEMS).um == 21.8


def test_every_grade_is_nearest_to_itself_in_size() -> None:
    for system in SYSTEMS.values():
        for grade in system.grades:
            found, ratio = nearest_grade(grade.um, system)
            assert found.um == grade.um
            assert ratio == 1
            if grade.low is not None and grade.high is not None:
                assert grade.low <= grade.um <= grade.high


def test_an_empty_system_has_no_nearest() -> None:
    with pytest.raises(NothingFound):
        nearest_grade(
            1.0,
            System(
                "x",
                "X",
                "",
                "",
                "",
                "",
                False,
                "",
                (),
                (),
            ),
        )


def test_system_ids_are_the_documented_ones() -> None:
    assert set(SYSTEMS) == {
        "fepa-f",
        "fepa-p",
        "jis",
        "ansi-bonded",
        "ansi-coated",
        "us-mesh",
        "diamond-sieve",
        "diamond-trade",
    }


def test_trade_sizes_agree_with_the_compounds() -> None:
    """One fact, two files: the diamond grades among the compounds and the table of the trade."""
    from importlib.resources import files

    import yaml

    text = files("lapwise.knowledge").joinpath("compounds.yaml").read_text(encoding="utf-8")
    compounds = yaml.safe_load(text)["compounds"]
    seen = 0
    for entry in compounds.values():
        if entry["kind"] == "diamond" and entry.get("mesh"):
            grain = convert(str(entry["mesh"]), "diamond-trade", SYSTEMS)
            assert grain.um == entry["typical_um"], entry["label"]
            seen += 1
    assert seen >= 10


def test_sources_are_known() -> None:
    from importlib.resources import files

    import yaml

    text = files("lapwise.knowledge").joinpath("sources.yaml").read_text(encoding="utf-8")
    known = set(yaml.safe_load(text)["sources"])
    assert {s.source for s in SYSTEMS.values()} <= known


GOOD = """abrasives:
  own:
    label: Own
    standard: none
    use: test
    measure: middle
    source: practice
    convention: true
    grades: {100: 12.5, A1: {um: 3, low: 2, high: 4, also: [B1], note: a note}}
"""


def test_a_file_of_the_same_form_is_read() -> None:
    (system,) = read_systems(GOOD.encode(), "own.yaml").values()
    assert system.grades == (Grade("100", 12.5), Grade("A1", 3.0, 2.0, 4.0, "a note", ("B1",)))
    assert system.named("B1") == system.grades[1]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("100: 12.5", "100: coarse", "a number is required"),
        ("100: 12.5", "100: -3", "out of range"),
        ("um: 3", "size: 3", "'um' is missing"),
        ("label: Own", "lable: Own", "'label' is missing"),
        ("convention: true", "convention: maybe", "true or false"),
        ("abrasives:", "abrasive:", "only the list 'abrasives'"),
        ("100: 12.5", "100: 12.5, 100: 13", "already there"),
        ("standard: none", "standard: &a none", "anchors"),
    ],
)
def test_broken_files_say_what_is_wrong_and_where(old: str, new: str, words: str) -> None:
    with pytest.raises(Damaged) as error:
        read_systems(GOOD.replace(old, new).encode(), "own.yaml")
    assert words in str(error.value)
    assert "own.yaml:" in str(error.value)


def test_an_empty_file_is_damaged() -> None:
    with pytest.raises(Damaged):
        read_systems(b"", "own.yaml")
