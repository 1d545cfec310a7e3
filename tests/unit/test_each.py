"""A check made one test of many things names each that fails, and never passes on nothing."""

from __future__ import annotations

import pytest
from tests.unit.each import each


def test_all_that_fail_are_named_and_an_error_is_one_of_them() -> None:
    @each([4, 0, 6, 7])
    def even(number: int) -> None:
        assert 12 // number % 2 == 1, "not an odd part of twelve"

    with pytest.raises(AssertionError) as failed:
        even()
    text = str(failed.value)
    assert "2 of 4:\n0: ZeroDivisionError" in text
    assert "\n6: AssertionError: not an odd part of twelve" in text
    assert "\n4: " not in text
    assert "\n7: " not in text


def test_nothing_to_check_is_a_failure() -> None:
    with pytest.raises(AssertionError, match="something to check"):
        each([])(lambda thing: None)()
