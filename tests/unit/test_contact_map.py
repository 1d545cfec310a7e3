"""Reading a facet map: either case, clear errors."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwise.engine.contact import read_map
from lapwise.engine.errors import BadInput

shapes = st.integers(3, 7).flatmap(lambda w: st.lists(st.text("BD?.", min_size=w, max_size=w), min_size=3, max_size=7))


@given(shapes)
def test_a_map_reads_back_as_typed(rows):
    text = "/".join(rows)
    if set(text) <= {".", "/"}:
        with pytest.raises(BadInput, match="no stone"):
            read_map(text)
    else:
        assert read_map(text.lower()).text == text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("BB/BB/BB", "at least 3 x 3"),
        ("BBB/BBB", "at least 3 x 3"),
        ("BBB/BB/BBB", "equally long, they hold 3, 2, 3"),
        ("BBX/BBB/BBB", "row 1 of the map holds X"),
        ("BBN/BBB/BBB", "--ink"),
        ("", "at least 3 x 3"),
        ("/".join(["B" * 30] * 30), "at most 24"),
    ],
)
def test_errors_say_what_is_wrong(text, words):
    with pytest.raises(BadInput) as caught:
        read_map(text)
    assert words in str(caught.value)


def test_an_ink_map_has_its_own_letters():
    assert read_map("rrn/r?n/r.n", ink=True).text == "RRN/R?N/R.N"
    with pytest.raises(BadInput, match="letters of a polish map"):
        read_map("BBD/BBD/BBD", ink=True)
