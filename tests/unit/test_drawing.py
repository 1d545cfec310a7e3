"""The drawings: what is bright, which side must go down, a curve with its points."""

from __future__ import annotations

import pytest

from lapwise.tui.present.drawing import Point, curve_lines, facet_lines, outline, turn_lines


def test_the_facet_with_its_arrow():
    lines = facet_lines("BBD/BBD/BBD", across=-0.1, tip="culet end", dop="girdle end")
    inside = [line for line in lines if "│" in line]
    assert len(inside) == 6
    assert all("█" * 16 + "░" * 8 in line for line in inside)
    assert sum("▼ right side DOWN" in line for line in lines) == 1
    assert "culet end" in lines[0]
    assert "girdle end" in lines[-1]


@pytest.mark.parametrize(
    ("across", "along", "words"),
    [
        (0.1, 0, "▼ left side DOWN"),
        (-0.1, 0, "▼ right side DOWN"),
        (0, 0.1, "dop end ▼ must go DOWN"),
        (0, -0.1, "tip end ▼ must go DOWN"),
    ],
)
def test_one_arrow_for_the_side_that_must_go_down(across, along, words):
    text = "\n".join(facet_lines("BDB/DDD/BDB", across=across, along=along))
    assert text.count("▼") == 1
    assert words in text
    assert "▼" not in "\n".join(facet_lines("BBB/BBB/BBB"))


def test_every_size_fits_sixty_columns():
    for n in (3, 5, 8, 24):
        text = "/".join(["B" * n] * n)
        assert max(len(line) for line in facet_lines(text, across=1, along=-1)) <= 60


def test_the_ring_turns_the_right_way():
    """Clockwise: along the top towards the right, along the bottom towards the left."""
    clockwise, counter = turn_lines(0.2), turn_lines(-0.2)
    assert "►" in clockwise[0]
    assert "◄" in clockwise[-1]
    assert "turns clockwise" in clockwise[2]
    assert "◄" in counter[0]
    assert "turns counter-clockwise" in counter[2]
    assert turn_lines(0) == []


def test_a_curve_with_its_points():
    lines = curve_lines(
        [(0, -1.0), (10, 1.0)], [Point(0, -1.0), Point(10, 1.0, "!")], columns=20, lines=6, x_labels=["0", "10"]
    )
    assert lines[0].startswith(" +1.00┤")
    assert lines[0].rstrip().endswith("!")
    assert "●" in lines[5]
    assert "-1.00" in lines[5]
    assert any(line.lstrip().startswith("0┤") for line in lines)
    assert lines[-1].split() == ["0", "10"]


def test_a_flat_curve_is_drawn():
    assert any("⠤" in line or "⠒" in line or "⣀" in line or "⠉" in line for line in curve_lines([(0, 0.0), (1, 0.0)]))


def test_the_outline_follows_the_stone_where_cells_have_none():
    assert outline(("BD",), 1, 1) == {
        (-1, -1): "⢀",
        (-1, 0): "⣀",
        (-1, 1): "⣀",
        (-1, 2): "⡀",
        (0, -1): "⢸",
        (0, 2): "⡇",
        (1, -1): "⠈",
        (1, 0): "⠉",
        (1, 1): "⠉",
        (1, 2): "⠁",
    }
    assert outline(("...", "..."), 4, 2) == {}
    triangle = ("..B..", ".D?D.", "BBBBB")
    wide, high = 4, 2
    drawn = outline(triangle, wide, high)

    def stone(line, column):
        inside = 0 <= line < len(triangle) * high and 0 <= column < len(triangle[0]) * wide
        return inside and triangle[line // high][column // wide] != "."

    for line in range(-1, len(triangle) * high + 1):
        for column in range(-1, len(triangle[0]) * wide + 1):
            touches = any(stone(line + a, column + b) for a in (-1, 0, 1) for b in (-1, 0, 1))
            assert ((line, column) in drawn) == (touches and not stone(line, column))
