"""Wholes in an amount."""

from __future__ import annotations

from fractions import Fraction
from math import fsum

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrx.dosing.counts import wholes_and_rest, wholes_needed

AMOUNTS = st.fractions(min_value=0, max_value=10**7, max_denominator=10**6)
SIZES = st.fractions(min_value=Fraction(1, 100), max_value=10**5, max_denominator=10**4)


@pytest.mark.parametrize(
    ("amount", "each", "whole", "rest"),
    [
        pytest.param("0", "40", 0, "0", id="nothing"),
        pytest.param("40", "40", 1, "0", id="exactly one"),
        pytest.param("39.99", "40", 0, "39.99", id="a part"),
        pytest.param("120.01", "40", 3, "0.01", id="a little more than three"),
        pytest.param("120.0000001", "40", 3, "0", id="the rounding of a sum"),
        pytest.param("119.9999999", "40", 3, "0", id="the rounding of a sum, below"),
        pytest.param("0.0000000001", "40", 0, "0.0000000001", id="a trace is not nothing"),
    ],
)
def test_wholes_and_rest(amount: str, each: str, whole: int, rest: str) -> None:
    """As with pencil and paper; what differs from whole by a billionth is whole."""
    assert wholes_and_rest(Fraction(amount), Fraction(each)) == (whole, Fraction(rest))


@given(amount=AMOUNTS, each=SIZES)
def test_they_make_up_the_amount(amount: Fraction, each: Fraction) -> None:
    """Wholes and rest are the amount within a billionth; the rest is less than a whole; one less would not do."""
    whole, rest = wholes_and_rest(amount, each)
    assert abs(whole * each + rest - amount) <= amount / 10**9
    assert 0 <= rest < each
    count = wholes_needed(amount, each)
    assert count == whole + (rest > 0)
    assert count * each >= amount * (1 - Fraction(1, 10**9))
    assert (count - 1) * each < amount or count == 0


@given(count=st.integers(1, 5000), each=st.floats(0.01, 1e4), parts=st.integers(1, 40))
def test_a_sum_of_floats_that_is_whole_is_exactly_so_many(count: int, each: float, parts: int) -> None:
    """A total added up from zones in floating point is no load or package more than it is."""
    total = fsum([count * each / parts] * parts)
    assert wholes_needed(Fraction(total), Fraction(each)) == count
