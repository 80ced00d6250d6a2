"""A point inside a shape, well away from its border."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from vrx.geo.inside import points_inside

HAIR = 1e-9


@pytest.mark.parametrize(
    ("shape", "body"),
    [
        pytest.param(shapely.box(0, 0, 10, 10), shapely.box(0, 0, 10, 10), id="a square"),
        pytest.param(
            # Half-way up, at y = 60, only the spike is there, as wide as a rounding.
            shapely.Polygon([(0, 0), (10, 0), (10, 10), (5 + HAIR, 10), (5, 120), (5 - HAIR, 10), (0, 10)]),
            shapely.box(0, 0, 10, 10), id="a spike",
        ),
        pytest.param(
            shapely.Polygon([(0, 0), (4, 0), (4, 50 - HAIR), (60, 50), (4, 50 + HAIR), (4, 100), (0, 100)]),
            shapely.box(0, 0, 4, 100), id="a spike at half its height",
        ),
        pytest.param(
            shapely.Polygon([(0, 0), (10, 0), (10, 10), (0, 10)], [[(1, 1), (9, 1), (9, 9), (1, 9)]]),
            shapely.box(0, 0, 10, 10), id="a frame",
        ),
    ],
)  # fmt: skip
def test_the_point_lies_in_the_body_of_the_shape(shape: shapely.Polygon, body: shapely.Polygon) -> None:
    """Not in a spike that a rounding left: what holds there holds for the neighbour as well."""
    (point,) = points_inside(np.array([shape], dtype=object))
    assert shapely.contains_properly(shape, point)
    assert shapely.contains(body, point)
    assert shapely.distance(point, shape.boundary) > 0.1


def test_a_needle_has_a_point_of_its_own() -> None:
    """Something stands for a shape as wide as a rounding, and nothing fails."""
    needle = shapely.Polygon([(0, 0), (100, 1e-12), (100, 0)])
    (point,) = points_inside(np.array([needle], dtype=object))
    assert shapely.distance(point, needle) < 1e-9
