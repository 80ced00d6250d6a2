"""Distinct points are what comparing rows finds, in the same order."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vrx.geo.points import distinct_points

coordinate = st.sampled_from([-1e7, -1.5, -0.0, 0.0, 5e-324, 1.5, 1.5000000000000002, 1e7])


@given(st.lists(st.tuples(coordinate, coordinate), max_size=30))
def test_distinct_points_are_the_distinct_rows(rows: list[tuple[float, float]]) -> None:
    """numpy's own way for rows finds the same ones, and each point is the one that it is said to be."""
    points = np.array(rows, dtype=np.float64).reshape(-1, 2)
    distinct, at = distinct_points(points)
    np.testing.assert_array_equal(distinct, np.unique(points, axis=0))
    np.testing.assert_array_equal(distinct[at], points)


def test_columns_of_another_array_are_points_too() -> None:
    """A view that does not lie in one piece of memory is taken as well."""
    table = np.array([[1.0, 9.0, 2.0], [1.0, 8.0, 2.0], [0.0, 7.0, 3.0]])
    distinct, at = distinct_points(table[:, ::2])
    assert distinct.tolist() == [[0.0, 3.0], [1.0, 2.0]]
    assert at.tolist() == [1, 1, 0]


def test_points_with_heights_are_refused() -> None:
    with pytest.raises(ValueError, match=r"shape \(n, 2\)"):
        distinct_points(np.zeros((4, 3)))
