"""A case told in one's own words: read, asked or left out; measured on stories that the words were not written from."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from tests.unit.words_kit import read

from lapwise.engine.case import Case
from lapwise.engine.facts import check_case
from lapwise.engine.knowledge import cache
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.words import LISTED
from lapwise.engine.slots import CONDITIONS
from lapwise.engine.words import kept
from lapwise.engine.words.kept import kept_lexicon
from lapwise.engine.words.lexicon import Lexicon, lexicon
from lapwise.tui.cli.tell import hearing_json
from lapwise.tui.open_case import with_fact
from lapwise.tui.screens.entry import (
    alike,
    entry_of,
    holding,
    matching,
    material_entries,
    symptom_entries,
    value_entries,
)

Run = Callable[..., tuple[int, str, str]]


def test_the_sentence_of_the_issue(knowledge: Knowledge, lex: Lexicon) -> None:
    text = (
        "the table of my topaz stays foggy on the tin lap, alumina, after a 3k pre-polish, "
        "I already cleaned the lap and it did nothing"
    )
    case = read(text, knowledge, lex).case
    assert case.as_json() == {
        "material": "topaz",
        "lap": "tin-lap",
        "compound": "aluminium-oxide",
        "stage": "polish",
        "symptoms": ["haze"],
        "facts": {"facet_part": "table"},
        "prior": "diamond-3000",
        "tried": [["clean-lap", "no-change"]],
    }


@pytest.mark.parametrize(
    ("told", "compound"),
    [
        ("fifty thousand diamond", "diamond-50000"),
        ("50,000 diamond", "diamond-50000"),
        ("half micron diamond", "diamond-50000"),
        ("60/50k diamond", "diamond-50000"),
        ("60k", "diamond-60000"),
        ("eight thousand diamond", "diamond-8000"),
        ("quarter micron diamond", "diamond-100000"),
        ("3 µm diamond", "diamond-8000"),
        ("twelve hundred grit", "diamond-1200"),
        ("aluminum oxide", "aluminium-oxide"),
        ("0.05 micron alumina", "aluminium-oxide-fine"),
        ("ceria", "cerium-oxide"),
        ("chrome oxide", "chromium-oxide"),
    ],
)
def test_grain_sizes_and_names(told: str, compound: str, knowledge: Knowledge, lex: Lexicon) -> None:
    case = read(f"garnet on the tin lap with {told}, orange peel", knowledge, lex).case
    assert (case.material, case.lap, case.compound) == ("garnet", "tin-lap", compound)


@pytest.mark.parametrize(
    ("text", "material", "lap"),
    [
        ("topas on the coper lap is hazy", "topaz", "copper-lap"),
        ("my tourmalines on acryllic are hazy", "tourmaline", "acrylic-lap"),
        ("an emerald cut citrine on a ceramic disc is hazy", "citrine", "ceramic-lap"),
        ("paraiba, tin-lead plate, hazy", "tourmaline-elbaite", "tin-lead-lap"),
        ("lab-grown ruby on ceramic, hazy", "synthetic-corundum", "ceramic-lap"),
    ],
)
def test_misspelt_and_other_names(text: str, material: str, lap: str, knowledge: Knowledge, lex: Lexicon) -> None:
    case = read(text, knowledge, lex).case
    assert (case.material, case.lap, case.symptoms) == (material, lap, ("haze",))


@pytest.mark.parametrize(
    ("text", "symptoms"),
    [
        ("quartz, no scratches, but cloudy", ("haze",)),
        ("quartz, not hot, orange peel", ("orange-peel",)),
        ("quartz, the stone is never hot; it has pits", ("pits",)),
        ("quartz, I can't get rid of the haze", ("haze",)),
        ("rainbow moonstone with chipped edges", ("chipped-edges",)),
    ],
)
def test_what_is_denied_is_not_taken(text: str, symptoms: tuple[str, ...], knowledge: Knowledge, lex: Lexicon) -> None:
    assert read(text, knowledge, lex).case.symptoms == symptoms


def test_what_is_not_clear_is_asked_and_not_taken(knowledge: Knowledge, lex: Lexicon) -> None:
    hearing = read("tourmaline on tin or on zinc with streaks", knowledge, lex)
    assert hearing.case.lap is None
    assert hearing.case.symptoms == ()
    asked = {choice for doubt in hearing.unsure for choice in doubt.could_be}
    assert {"tin-lap", "zinc-lap", "scratches-with-travel", "surface-film"} <= asked
    assert all(len(doubt.could_be) in (2, 3) for doubt in hearing.unsure)


@pytest.mark.parametrize(
    ("told", "symptom"),
    [
        ("scratches, whatever I do", "fine-scratches"),
        ("my slurry leaves it scratchy", "fine-scratches"),
        ("it is dull", "stays-dull"),
    ],
)
def test_a_bare_word_is_taken_plainly_but_marked(told: str, symptom: str, knowledge: Knowledge, lex: Lexicon) -> None:
    hearing = read(f"quartz, {told}", knowledge, lex)
    assert [(h.id, h.sure) for h in hearing.heard if h.id in knowledge.symptoms] == [(symptom, False)]


@pytest.mark.parametrize(
    ("told", "symptoms"),
    [
        ("one crown facet has a dull strip", ("partial-polish",)),  # once "crowned facet": domed
        ("the tip end is still frosted, the other end mirror", ("partial-polish",)),
        ("scratches that I see with the naked eye", ("coarse-scratches",)),
        ("scratches, parallel to the rotation", ("scratches-with-travel",)),
        ("polishing at slow speed, pitted", ("pits",)),
        ("I tried running slower, no change, pockmarks", ("pits",)),
        ("the scratches went away, but it is foggy", ("haze",)),
    ],
)
def test_troubles_in_other_words(told: str, symptoms: tuple[str, ...], knowledge: Knowledge, lex: Lexicon) -> None:
    assert read(f"quartz, {told}", knowledge, lex).case.symptoms == symptoms


@pytest.mark.parametrize(
    ("told", "outcome"),
    [("it did nothing", "no-change"), ("that made it worse", "worse"), ("it helped a bit", "better")],
)
def test_how_a_try_ended(told: str, outcome: str, knowledge: Knowledge, lex: Lexicon) -> None:
    hearing = read(f"hazy quartz, I slowed the lap down and {told}", knowledge, lex)
    assert hearing.case.tried == (("slow-down", outcome),)


def test_a_question_is_no_try(knowledge: Knowledge, lex: Lexicon) -> None:
    hearing = read("hazy quartz. Should I clean the lap? It did nothing for my friend.", knowledge, lex)
    assert hearing.case.tried == ()


def test_what_the_lap_throws_is_no_try_of_scoring_it(knowledge: Knowledge, lex: Lexicon) -> None:
    told = "topaz on a tin lap with alumina, keeps throwing scratches and the lap feels draggy, it was fine yesterday"
    hearing = read(told, knowledge, lex)
    assert hearing.case.tried == ()
    assert hearing.case.facts["onset"] == "sudden"


def test_a_stone_that_has_scratches_on_a_lap_is_no_try(knowledge: Knowledge, lex: Lexicon) -> None:
    hearing = read("my garnets have scratches on the tin lap with 60k", knowledge, lex)
    assert [doubt.could_be for doubt in hearing.unsure if doubt.key == "tried"] == []


@pytest.mark.parametrize(
    "told",
    [
        "the grey metal lap",
        "a cracked old lap",
        "a slow water drip",
        "the compound is grainy",
        "the lap had dents",
        "I jumped from 1200 straight to 60k",
        "I skipped the 3k step",
        "a dark red stone",
        "I bumped the angle",
        "running the lap clockwise",
        "the prepolish was a nice even satin",
        "it has an old chip from the jeweller",
    ],
)
def test_what_is_said_of_lap_slurry_or_an_old_flaw_is_no_trouble(told: str, knowledge: Knowledge, lex: Lexicon) -> None:
    hearing = read(f"my garnet on the tin lap, {told}.", knowledge, lex)
    assert hearing.case.symptoms == ()


@pytest.mark.parametrize(
    ("told", "symptoms"),
    [
        ("the facet on the tin lap is hazy", ("haze",)),
        ("a grey film wipes off the table", ("surface-film",)),
        ("the facets are grey", ("haze",)),
        ("each hole has a tail behind it", ("comet-tails",)),
        ("a scratch I can see without a lens", ("coarse-scratches",)),
        ("I can still see the 1200 scratches", ("scratches-cutting-direction",)),
    ],
)
def test_what_is_said_of_the_facet_is_its_trouble(
    told: str, symptoms: tuple[str, ...], knowledge: Knowledge, lex: Lexicon
) -> None:
    assert read(f"my garnet, {told}", knowledge, lex).case.symptoms == symptoms


def test_another_stone_that_did_well_is_not_the_stone(knowledge: Knowledge, lex: Lexicon) -> None:
    assert read("quartz polished fine on this lap, my feldspar has pits", knowledge, lex).case.material == "feldspar"


def test_the_words_are_kept_for_the_next_start(
    knowledge: Knowledge, lex: Lexicon, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert kept_lexicon(knowledge, tmp_path) == lex
    monkeypatch.setattr(kept, "lexicon", lambda _: pytest.fail("it was kept"))
    assert kept_lexicon(knowledge, tmp_path) == lex


@pytest.mark.parametrize("spoil", ["other knowledge", "other shape", "cut off", "no folder"])
def test_kept_words_that_do_not_fit_are_made_anew(
    spoil: str, knowledge: Knowledge, lex: Lexicon, tmp_path: Path
) -> None:
    folder = tmp_path / "cache"
    kept_lexicon(knowledge, folder)
    file = folder / kept.NAME
    if spoil == "other knowledge":
        less = replace(knowledge, symptoms={}, digest="0" * 32)
        assert kept_lexicon(less, folder) == lexicon(less)
    elif spoil == "other shape":
        stamp = file.read_bytes().split(b" ")[0].decode()
        cache.put(folder, kept.NAME, stamp, {"setup": {"topaz": 999}, "meant": []})
    elif spoil == "cut off":
        file.write_bytes(file.read_bytes()[:-9])
    else:
        folder = tmp_path / "a file"
        folder.write_text("")
    assert kept_lexicon(knowledge, folder) == lex


def test_every_word_list_is_there_and_asked_for(knowledge: Knowledge, lex: Lexicon) -> None:
    code = "\n".join(path.read_text("utf-8") for path in sorted(Path(kept.__file__).parent.glob("*.py")))
    asked = {
        *re.findall(r'lists\["([a-z-]+)"\]|self\["([a-z-]+)"\]|means\["([a-z-]+)"\]|, "(articles|filling)"\)', code)
    }
    named = {name for found in asked for name in found if name}
    patterns = (p for look in knowledge.looks.values() if look.told for way in look.told.results.values() for p in way)
    told = {name for pattern in patterns for name in LISTED.findall(pattern)}
    assert named | told == {*knowledge.word_lists}
    assert {*lex.lists.means} == {name for name, words in knowledge.word_lists.items() if words.means}


def test_the_results_of_a_look_are_told_in_any_form_of_the_words(knowledge: Knowledge, lex: Lexicon) -> None:
    told = "my garnet is hazy. I inked it and the ink {} at the culet end"
    for rubs in ("rubs", "rubbed", "is rubbing", "wears", "touched"):
        assert dict(read(told.format(rubs), knowledge, lex).case.saw) == {"ink-facet": "one-end"}


TOLD = "the table of my topaz stays foggy on the tin lap with alumina, streaks too"


def test_the_command_shows_what_was_heard_asked_and_advised(run: Run) -> None:
    code, out, _ = run("tell", TOLD)
    assert code == 0
    assert "“foggy” as Bright but milky or grey" in out
    assert "NOT CLEAR" in out
    assert "surface-film" in out
    assert "TRY IN THIS ORDER" in out
    code, out, _ = run("tell", "xyzzy")
    assert code == 1
    assert "Not understood: xyzzy" in out


def test_the_command_in_json_and_diagnose_in_words_agree(run: Run) -> None:
    code, out, _ = run("tell", TOLD, "--json")
    told = json.loads(out)
    assert code == 0
    assert set(told) == {"case", "heard", "unsure", "unheard"}
    code, out, err = run("diagnose", "--in-words", TOLD, "--compound", "diamond-50000", "--json")
    assert code == 0
    case = json.loads(out)["case"]
    assert (case["material"], case["lap"]) == (told["case"]["material"], told["case"]["lap"]) == ("topaz", "tin-lap")
    assert case["compound"] == "diamond-50000"  # what an option states outright counts
    assert "not taken" in err.lower()


def test_json_form(knowledge: Knowledge, lex: Lexicon) -> None:
    form = json.loads(json.dumps(hearing_json(read("foggy topaz, scratches", knowledge, lex))))
    assert set(form) == {"case", "heard", "unsure", "unheard"}
    assert all(set(part) == {"words", "start", "end", "means", "id", "sure"} for part in form["heard"])
    assert all(set(doubt) == {"words", "could_be"} for doubt in form["unsure"])


@pytest.mark.parametrize(
    ("option", "typed", "meant"),
    [
        ("--symptom", "foggy", "haze"),
        ("--symptom", "greasy", "skates"),
        ("--compound", "ceria", "cerium-oxide"),
        ("--compound", "50k", "diamond-50000"),
        ("--compound", "aluminum", "aluminium-oxide"),
        ("--material", "CZ", "cubic-zirconia"),
        ("--material", "paraiba", "tourmaline-elbaite"),
    ],
)
def test_did_you_mean_knows_other_names(option: str, typed: str, meant: str, run: Run) -> None:
    code, _, err = (
        run("diagnose", "--material", "quartz", option, typed)
        if option != "--material"
        else run("diagnose", option, typed)
    )
    assert code == 2
    assert "did you mean" in err
    assert meant in err


@pytest.mark.parametrize(
    ("typed", "key", "meant"),
    [
        ("bone dry", "wetness", "dry"),
        ("swimming", "wetness", "flooded"),
        ("pressing hard", "pressure", "heavy"),
        ("bezel", "facet_part", "crown"),
        ("mesh", "stage", None),
        ("roughing", "stage", "cut"),
    ],
)
def test_values_of_facts_are_found_by_their_plain_words(
    typed: str, key: str, meant: str | None, knowledge: Knowledge
) -> None:
    assert [e.id for e in holding(value_entries(knowledge, key), typed)][:1] == ([meant] if meant else [])


@pytest.mark.parametrize("typed", ["3k", "8k", "14k", "50k", "60k", "100k", "200k", "1.2k", "60000", "60,000"])
def test_a_grit_in_thousands_finds_that_grit_first(typed: str, knowledge: Knowledge) -> None:
    """60k marked the 50000 first, which goes by "60/50k" too."""
    number = float(typed.replace(",", "").removesuffix("k")) * (1000 if typed.endswith("k") else 1)
    for key in ("compound", "prior"):
        assert holding(value_entries(knowledge, key), typed)[0].id == f"diamond-{number:.0f}"
    assert [e.id for e in holding(value_entries(knowledge, "compound"), "60/50k")] == ["diamond-50000"]


@pytest.mark.parametrize(("typed", "meant"), [("fogy", "haze"), ("scrachy", "fine-scratches"), ("sqeal", "drags")])
def test_the_nearest_is_found_where_nothing_holds_it(typed: str, meant: str, knowledge: Knowledge) -> None:
    entries = symptom_entries(knowledge)
    assert holding(entries, typed) == []
    assert meant in [entry.id for entry in alike(entries, typed)]


def test_every_symptom_has_one_place_by_what_it_looks_or_feels_like(knowledge: Knowledge) -> None:
    placed = [name for group in knowledge.appearances.values() for name in group.symptoms]
    assert sorted(placed) == sorted(knowledge.symptoms)
    felt = [e.id for e in holding(symptom_entries(knowledge), "feels like")]
    assert {"drags", "skates", "hot-stone", "fumes"} <= set(felt)
    assert not {"haze", "fine-scratches", "pits"} & set(felt)


@pytest.mark.parametrize("key", ["material", "lap", "compound", "prior", "stage", *CONDITIONS])
def test_i_do_not_know_is_the_same_as_unknown_and_as_nothing_said(key: str, knowledge: Knowledge) -> None:
    value = "6" if key == "cleavage_angle" else value_entries(knowledge, key)[0].id
    known = with_fact(Case(), key, value)
    open_ = with_fact(known, key, None)
    machine = ("material", "lap", "compound", "stage", "prior")
    said = replace(Case(), **{key: "unknown"}) if key in machine else replace(Case(), facts={key: "unknown"})
    assert check_case(open_, knowledge) == check_case(said, knowledge) == check_case(Case(), knowledge)


@pytest.mark.parametrize(
    ("typed", "kind", "meant"),
    [
        ("foggy", "symptoms", "haze"),
        ("cloudy", "symptoms", "haze"),
        ("gray", "symptoms", "haze"),
        ("wavy", "symptoms", "orange-peel"),
        ("swirl", "symptoms", "scratches-with-travel"),
        ("greasy", "symptoms", "skates"),
        ("ceria", "compounds", "cerium-oxide"),
        ("aluminum", "compounds", "aluminium-oxide"),
        ("50k", "compounds", "diamond-50000"),
        ("50,000", "compounds", "diamond-50000"),
        ("CZ", "materials", "cubic-zirconia"),
        ("paraiba", "materials", "tourmaline-elbaite"),
        ("tormaline", "materials", "tourmaline"),
        ("mushy", "symptoms", "soft-meets"),
        ("squeals", "symptoms", "drags"),
        ("nibbling", "symptoms", "chipped-edges"),
        ("belly", "symptoms", "curved-facet"),
        ("floats", "symptoms", "skates"),
        ("crawling", "symptoms", "slow-polish"),
        ("lottery", "symptoms", "uneven-results"),
        ("lumpy", "symptoms", "orange-peel"),
        ("chunks", "symptoms", "torn-facet"),
        ("smear", "symptoms", "surface-film"),
        ("like ice", "symptoms", "skates"),
        ("edges gone round", "symptoms", "rounded-edges"),
        ("sapph", "materials", "sapphire"),
        ("lab ruby", "materials", "synthetic-corundum"),
        ("tsav", "materials", "garnet-tsavorite"),
        ("jade", "materials", "nephrite"),
        ("pine", "laps", "wood-lap"),
        ("pewter", "laps", "tin-lead-lap"),
        ("plate", "laps", "plated-diamond-lap"),
        ("fifty thousand", "compounds", "diamond-50000"),
        (".05 alumina", "compounds", "aluminium-oxide-fine"),
        ("distilled", "remedies", "soft-water"),
        ("vinegar", "remedies", "acidify-slurry"),
    ],
)
def test_lists_are_found_by_other_names(typed: str, kind: str, meant: str, knowledge: Knowledge) -> None:
    table = getattr(knowledge, kind)
    entries = material_entries(knowledge) if kind == "materials" else [entry_of(item) for item in table.values()]
    assert meant in [entry.id for entry in matching(entries, typed)]


@pytest.mark.parametrize(
    ("typed", "first"), [("no shine", "stays-dull"), ("golf ball", "orange-peel"), ("bites", "chipped-edges")]
)
def test_whole_words_come_first_in_a_list(typed: str, first: str, knowledge: Knowledge) -> None:
    assert matching(symptom_entries(knowledge), typed)[0].id == first
