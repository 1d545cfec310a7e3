"""Lengths as a person types them. One inch is 25.4 mm exactly (international inch, 1959)."""

from __future__ import annotations

import pytest

from lapwise.engine.numerals import read_length


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("200", 200.0),
        ("200 mm", 200.0),
        ("8 in", 203.2),
        ('8"', 203.2),
        ("6 inches", 152.4),
        ("1/4 in", 6.35),
        ("1 1/2 inch", 38.1),
        ("0,5 in", 12.7),
        ("eight in", None),
        ("in", None),
    ],
)
def test_lengths_in_mm_and_inches(text: str, mm: float | None) -> None:
    assert read_length(text) == (None if mm is None else pytest.approx(mm))
