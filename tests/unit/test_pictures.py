"""The drawings: one for all that is told by sight, the same each time, told apart at every size without colour."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from importlib.resources import files as files_of
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from lapwise.engine.errors import BadInput, LapwiseError, NothingFound
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.slots import SLOTS
from lapwise.tui.cli.pictures import draw
from lapwise.tui.pictures.catalog import CELLS, DRAWINGS, fitted, marks, svg, text
from lapwise.tui.pictures.ink import Fill, Marks, Stroke
from lapwise.tui.pictures.looks import LOOKS, RESULTS, SEEN
from lapwise.tui.pictures.motions import MOTIONS
from lapwise.tui.pictures.raster import braille, paint
from lapwise.tui.pictures.rings import FACES
from lapwise.tui.pictures.symptoms import SYMPTOMS
from lapwise.tui.pictures.vector import INK, PAPER

KEPT = Path(__file__).with_name("drawings.txt")
Drawn = Callable[..., str]
SIZES = (CELLS, (60, 24), (80, 32))


def test_every_symptom_has_a_drawing(knowledge: Knowledge) -> None:
    assert set(SYMPTOMS) == set(knowledge.symptoms)


def test_every_look_result_and_lap_has_a_drawing_and_no_drawing_is_of_nothing(knowledge: Knowledge) -> None:
    results = {f"{look.id}={result}" for look in knowledge.looks.values() for result in look.results}
    assert set(RESULTS) == results
    assert set(LOOKS) == set(knowledge.looks) - {"identify-stone"}
    assert set(FACES) == set(knowledge.laps)
    assert set(MOTIONS) <= set(knowledge.remedies)
    assert set(SEEN) == {
        f"{key}={value}" for key in ("scratch_form", "scratch_place", "lap_surface") for value in SLOTS[key].values
    }


@pytest.mark.parametrize("group", [RESULTS, SEEN], ids=["looks", "facts"])
def test_no_two_answers_to_one_question_look_alike(group: Mapping[str, object]) -> None:
    for one, other in combinations(group, 2):
        if one.partition("=")[0] == other.partition("=")[0]:
            a, b = (paint(marks(name), 80, 64) for name in (one, other))
            assert (a ^ b).sum() / (a | b).sum() > 0.1, (one, other)


@pytest.mark.parametrize(("columns", "lines"), SIZES)
def test_no_two_symptoms_look_alike(columns: int, lines: int) -> None:
    """Of the dots that either has, at least three in ten stand at a place where the other has none."""
    seen = {name: paint(marks(name), columns * 2, lines * 4) for name in SYMPTOMS}
    for one, other in combinations(seen, 2):
        a, b = seen[one], seen[other]
        apart = (a ^ b).sum() / (a | b).sum()
        assert apart > (0.1 if {one, other} == {"stays-dull", "slow-polish"} else 0.3), (one, other, apart)


def test_a_drawing_is_made_the_same_each_time_and_is_neither_empty_nor_black() -> None:
    for name, drawing in DRAWINGS.items():
        assert drawing() == marks(name), name
        shown = text(name, *CELLS)
        assert [len(line) for line in shown] == [CELLS[0]] * CELLS[1], name
        ink = sum((ord(c) - 0x2800).bit_count() for line in shown for c in line)
        assert 0.03 < ink / (CELLS[0] * CELLS[1] * 8) < 0.6, name


def test_a_drawing_is_the_same_at_three_sizes() -> None:
    """Ink in each of 10 by 8 fields of the sheet is as much at every size, but for what a finest line takes."""
    for name in DRAWINGS:
        fields = []
        for columns, lines in SIZES:
            dots = paint(marks(name), columns * 2, lines * 4)
            fields.append(dots.reshape(8, lines // 2, 10, columns // 5).mean(axis=(1, 3)))
        for larger in fields[1:]:
            assert np.corrcoef(fields[0].ravel(), larger.ravel())[0, 1] > 0.7, name


def test_the_symptoms_are_drawn_as_they_were_looked_at_last() -> None:
    """Look at what changed, then: python -m tests.tui.take_pictures. A dot in 200 may be rounded otherwise."""
    kept = {block.partition("\n")[0]: block.splitlines()[1:] for block in KEPT.read_text("utf-8").split("\n\n")}
    assert list(kept) == list(SYMPTOMS)
    for name, lines in kept.items():
        pairs = zip("".join(lines), "".join(text(name, *CELLS)), strict=True)
        differ = sum((ord(a) ^ ord(b)).bit_count() for a, b in pairs)
        assert differ <= CELLS[0] * CELLS[1] * 8 / 200, f"{name} is drawn otherwise: {differ} dots"


def test_an_svg_is_well_formed_titled_and_has_no_colour_but_ink_and_paper() -> None:
    for name in DRAWINGS:
        written = svg(name, 'A "title" <& more>')
        assert ElementTree.fromstring(written).get("aria-label") == 'A "title" <& more>', name
        assert set(re.findall(r"#[0-9a-f]{6}", written)) <= {INK, PAPER}, name
        assert len(written) < 20_000, name


def test_the_drawings_in_the_readme_are_those_of_the_program(knowledge: Knowledge) -> None:
    files = list((files_of("lapwise.tui") / "help" / "pictures").iterdir())
    assert len(files) == 3
    for file in files:
        name = file.name.removesuffix(".svg")
        assert file.read_text("utf-8") == svg(name, knowledge.label(name))


def test_what_has_no_drawing_is_nothing() -> None:
    assert marks("no-such-thing") == text("no-such-thing", 40, 16) == ()
    assert svg("no-such-thing", "x") == ""
    assert text("haze", 0, 5) == ()


# --- the canvas ----------------------------------------------------------------------------------------------

FULL: Marks = (Fill(((0, 0), (100, 0), (100, 80), (0, 80))),)


def test_braille_holds_the_dots() -> None:
    assert braille(FULL, 5, 2) == ["⣿" * 5] * 2
    line: Marks = (Stroke(((0, 0), (100, 0))),)
    assert braille(line, 5, 2) == ["⠉" * 5, "⠀" * 5]


def test_a_tone_covers_its_share_and_what_is_rubbed_out_is_paper() -> None:
    for tone in (0.25, 0.5, 0.75):
        assert paint((Fill(FULL[0].points, tone),), 80, 64).mean() == pytest.approx(tone, abs=0.02)
    assert not paint((*FULL, Fill(FULL[0].points, 0.0)), 80, 64).any()
    rubbed = paint((*FULL, Stroke(((0, 40), (100, 40)), 10, ink=False)), 80, 64)
    assert not rubbed[32].any()
    assert rubbed[0].all()


def test_a_polygon_is_filled_as_its_area_says() -> None:
    diamond = ((50, 0), (100, 40), (50, 80), (0, 40))
    assert paint((Fill(diamond),), 200, 160).mean() == pytest.approx(0.5, abs=0.01)
    hollow = (*diamond, diamond[0], (50, 20), (25, 40), (50, 60), (75, 40), (50, 20), diamond[0])
    assert paint((Fill(hollow),), 200, 160).mean() == pytest.approx(0.375, abs=0.01)


@pytest.mark.parametrize(("columns", "lines"), [(100, 10), (30, 40), (41, 17), (1, 1)])
def test_a_drawing_keeps_its_shape_in_any_place(columns: int, lines: int) -> None:
    wide, high = fitted(columns, lines)
    assert 0 < wide <= columns
    assert 0 < high <= lines
    shown = braille(FULL, columns, lines)
    assert len(shown) == lines
    assert {len(line) for line in shown} == {columns}


# --- in the shell --------------------------------------------------------------------------------------------

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def drawn(knowledge: Knowledge, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Drawn:
    """``drawn(names)`` gives what the shell prints at 80 columns."""
    monkeypatch.setenv("COLUMNS", "80")

    def call(names: str, *, as_svg: bool = False, as_json: bool = False) -> str:
        draw(names, knowledge, svg=as_svg, as_json=as_json)
        return capsys.readouterr().out

    return call


def test_the_shell_draws(run: Run) -> None:
    code, out, _ = run("knowledge", "show", "haze", "--picture")
    assert code == 0
    assert list(text("haze", 60, 24)) == out.splitlines()[1:25]


def test_two_stand_side_by_side_with_what_tells_them_apart(drawn: Drawn) -> None:
    out = drawn("haze,surface-film")
    assert out.splitlines()[-1] == "A smear or stain on the surface: A film wipes or soaks off.", "which is meant"
    assert {len(line) for line in out.splitlines()[1:-1]} == {38 + 3 + 38}
    assert "the ring a grain sits in" in drawn("Tin lap")


def test_a_drawing_as_svg_and_as_json(drawn: Drawn) -> None:
    assert drawn("haze", as_svg=True) == svg("haze", "Bright but milky or grey")
    (told,) = json.loads(drawn("loupe-check=dotted", as_json=True))["pictures"]
    assert told["label"] == "Dry the facet and look at 10x: dotted lines in one direction"
    assert told["picture"] == list(text("loupe-check=dotted", *CELLS))


@pytest.mark.parametrize(
    ("names", "error", "says"),
    [
        ("hase", BadInput, "did you mean haze"),
        ("loupe-check=dottet", BadInput, "did you mean loupe-check=dotted"),
        ("cerium-oxide", NothingFound, "there is no drawing of this"),
        ("haze,pits,cracks", BadInput, "one or two in dots"),
    ],
)
def test_what_cannot_be_drawn_is_said(names: str, error: type[LapwiseError], says: str, knowledge: Knowledge) -> None:
    with pytest.raises(error, match=says):
        draw(names, knowledge, svg=False, as_json=False)
