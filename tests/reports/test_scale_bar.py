"""Scale bars in round numbers."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrx.reports.maps.scale_bar import round_length


@given(st.floats(0.01, 1e6))
def test_a_round_length_is_the_largest_that_fits(most: float) -> None:
    """1, 2 or 5 with zeros; not above what fits, and at least two fifths of it."""
    length = round_length(most)
    assert f"{length:e}"[0] in "125"
    assert set(f"{length:e}"[1:].partition("e")[0]) <= set(".0")
    assert 0.399 * most < length <= most * (1 + 1e-8)


@pytest.mark.parametrize(("most", "length"), [(999.9, 500), (1000, 1000), (1999, 1000), (2000, 2000), (0.07, 0.05)])
def test_round_lengths(most: float, length: float) -> None:
    """On either side of the steps."""
    assert round_length(most) == length
