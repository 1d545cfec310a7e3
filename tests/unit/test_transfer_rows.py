"""Reading and writing the rows of a transfer: what spreadsheets write, and a clear message for each bad row."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwise.engine.errors import BadInput
from lapwise.engine.transfer import Row, parse_table, read_table, write_table

HEAD = "index,angle,index_change,angle_change\n"


def rows_of(text, gear=96):
    return parse_table(text, gear).rows


def test_plain_rows_and_facets_to_predict():
    rows = rows_of(HEAD + "12,42,0.03,-0.1\n84,42,,\n30,41.5,,0.2\n")
    assert rows == (Row(1, 12, 42, 0.03, -0.1), Row(2, 84, 42), Row(3, 30, 41.5, None, 0.2))
    assert [r.measured for r in rows] == [True, False, True]


@pytest.mark.parametrize(
    "text",
    [
        "index;angle;index_change;angle_change\n12,5;42;0,03;-0,1\n",
        "\ufeffIndex; Angle; Index change; Angle-change\n12,5;42°;+0,03;\N{MINUS SIGN}0,1\n",
        "angle_change\tindex_change\tnote\tangle\tindex\n-0.1\t0.03\tmain\t42\t12 1/2\n",
        '"index","angle","index_change","angle_change"\n"12.5","42","0.03","-0.1"\n',
        "12.5,42,0.03,-0.1\n",
        "\n\nindex,angle,index_change,angle_change\r\n12.5,42,0.03,-0.1\r\n\r\n",
    ],
)
def test_what_spreadsheets_write(text):
    assert rows_of(text) == (Row(1, 12.5, 42.0, 0.03, -0.1),)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_encodings(tmp_path, encoding):
    path = tmp_path / "t.csv"
    path.write_bytes((HEAD + "12,42°,0.03,-0.1\n").encode(encoding))
    assert read_table(path, 96).rows == (Row(1, 12, 42, 0.03, -0.1),)


def test_bad_rows_are_named_and_the_good_ones_kept():
    table = parse_table(
        HEAD + "12,42,0,0.1\nx,42,0,0\n97,42,0,0\n\n30,-1,0,0\n40,,0,0\n50,42,nan,0\n66,42,0,1e9\n84,42,,\n", 96
    )
    assert [r.number for r in table.rows] == [1, 9], "skipped rows are counted"
    said = "\n".join(str(p) for p in table.problems)
    for part in (
        "row 2: index: is not a number; found 'x'",
        "row 3: index: out of range; found '97'; allowed: 0 to 96",
        "row 5: angle: out of range",
        "row 6: angle: is missing",
        "row 7: index_change: is not a number; found 'nan'",
        "row 8: angle_change: out of range",
    ):
        assert part in said


def test_index_zero_is_the_gear_number():
    assert rows_of(HEAD + "0,42,,\n")[0].index == 96
    assert rows_of(HEAD + "80,42,,\n", 80)[0].index == 80


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("\n \n", "empty"),
        ("indx,angle\n1,42\n", "missing: index"),
        ("index,index,angle\n1,1,42\n", "same column twice"),
        (HEAD, "no facet"),
        (HEAD + "x,y,,\n", "row 1: index"),
        (HEAD + "1,42,,\n" * 6000, "more than 5000 rows"),
        (HEAD + "1" * 200_000 + ",42,,\n", "not a table"),
    ],
    ids=range(8),
)
def test_a_file_that_cannot_be_used(text, words):
    with pytest.raises(BadInput) as caught:
        parse_table(text, 96)
    assert words in str(caught.value)


good = st.builds(
    Row,
    st.just(1),
    st.floats(0.01, 96),
    st.floats(0, 90),
    st.none() | st.floats(-5, 5),
    st.none() | st.floats(-5, 5),
)


@given(st.lists(good, min_size=1, max_size=8))
def test_what_is_written_reads_back(rows):
    numbered = tuple(Row(n, r.index, r.angle, r.index_change, r.angle_change) for n, r in enumerate(rows, 1))
    assert rows_of(write_table(numbered)) == numbered


@given(st.text(max_size=200))
def test_any_text_gives_rows_or_a_message(text):
    try:
        found = parse_table(text, 96).rows
    except BadInput as error:
        found = error.problems
    assert found


@pytest.mark.parametrize("text", ["secret: hunter2\nmore\n", "12,30\nsecret,31\n", "4711,1234\n", "12\nsecret\n"])
def test_of_a_file_that_is_not_in_our_form_nothing_is_quoted(text: str) -> None:
    try:
        problems = parse_table(text, 96, "file").problems
    except BadInput as error:
        problems = error.problems
    assert problems
    told = " ".join(map(str, problems))
    assert not any(word in told for word in ("secret", "hunter", "more", "4711", "1234"))
