"""What nearly touches is brought together, and the ground keeps its course."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from vrx.geo.coverage import is_coverage
from vrx.geo.inside import points_inside
from vrx.geo.snapping import beside_edges, snap_together

GROUND = shapely.box(0, 0, 100, 100)
WITHIN = 0.02


def snapped(*parts: BaseGeometry, ground: BaseGeometry = GROUND) -> tuple[BaseGeometry, list[BaseGeometry]]:
    given = np.array(parts, dtype=object)
    before = shapely.to_wkb(given).tolist()
    new_ground, found = snap_together(ground, given, shapely.boundary(ground), within=WITHIN)
    assert shapely.to_wkb(given).tolist() == before
    assert new_ground.equals(ground)
    assert shapely.is_valid(found).all()
    return new_ground, found.tolist()


def test_a_zone_a_hair_off_the_boundary_lies_on_it() -> None:
    """Corners go to corners, and other vertices onto the outline, which gets them as vertices."""
    zone = shapely.Polygon([(0.01, -0.01), (60, 0.012), (60, 50), (0.015, 50)])
    ground, (found,) = snapped(zone)
    assert set(found.exterior.coords) == {(0, 0), (60, 0), (60, 50), (0, 50)}
    assert {(60, 0), (0, 50)} <= set(ground.exterior.coords)


def test_what_lies_further_off_stays() -> None:
    """A zone 3 cm inside the boundary is meant so, and so is the inside of a zone."""
    zone = shapely.Polygon([(0.03, 0.03), (60, 0.03), (60, 50), (50, 50.01), (50, 50), (0.03, 50)])
    assert snapped(zone)[1][0].equals(zone)


def test_two_corners_that_land_beside_each_other_are_one() -> None:
    """Neighbours whose corners on the boundary differ by nanometres share it, and leave no needle."""
    left = shapely.Polygon([(0, 0), (50, 1e-9), (50, 100), (0, 100)])
    right = shapely.Polygon([(50 + 3e-9, -1e-9), (100, 0), (100, 100), (50, 100)])
    ground, (a, b) = snapped(left, right)
    assert is_coverage(np.array([a, b], dtype=object))
    assert shapely.union_all([a, b]).equals(ground)
    assert a.area + b.area == pytest.approx(10_000, rel=1e-12)


def test_a_zone_gets_the_boundarys_vertices() -> None:
    """Where the boundary has a vertex on a zone's edge, the zone has it too, and bends along with it."""
    ground = shapely.Polygon([(0, 0), (50, -0.01), (100, 0), (100, 100), (0, 100)])
    _, (found,) = snapped(shapely.box(0, 0, 100, 100), ground=ground)
    assert (50, -0.01) in set(found.exterior.coords)
    assert found.equals(ground)


@pytest.mark.parametrize(
    "zone",
    [
        pytest.param(shapely.box(10, -0.01, 60, 0.01), id="a strip along the boundary"),
        pytest.param(shapely.box(0.001, 0.001, 0.002, 0.002), id="a speck at a corner"),
    ],
)
def test_what_falls_together_becomes_empty(zone: BaseGeometry) -> None:
    """A part thinner than the distance collapses onto the boundary, alone or beside another part."""
    assert snapped(zone)[1][0].is_empty
    _, (gone, stays) = snapped(zone, shapely.box(0, 50, 100, 100))
    assert gone.is_empty
    assert stays.area == 5_000


def test_a_hole_that_comes_to_lie_on_its_outline_stays_a_hole() -> None:
    """A hole whose corner nearly touches the boundary is not filled when it is put there."""
    outline = [(0, 0), (100, 0), (100, 100), (0, 100)]
    zone = shapely.Polygon(outline, [[(0.01, 40), (30, 40), (30, 60), (0.01, 60)]])
    _, (found,) = snapped(zone)
    assert found.area == pytest.approx(10_000 - 30 * 20, abs=1e-9)


def test_beside_edges_are_those_within_the_distance() -> None:
    """Only the edges count, of outline, hole and line: what lies deep inside is not beside them."""
    holed = shapely.difference(GROUND, shapely.box(40, 40, 60, 60))
    points = shapely.points([(50, 0.01), (20, 20), (50, 39.99), (50, 50), (300, 0), (100.01, 100.01)])
    assert beside_edges(points, holed, 0.02).tolist() == [0, 2, 5]
    assert beside_edges(points, shapely.LineString([(50, 0), (300, 0)]), 0.02).tolist() == [0, 4]


NEEDLE_AT_HALF_HEIGHT = shapely.Polygon(
    [
        (130.0, -2.9822865232554157),
        (130.0, -0.181),
        (132.5724792647075, -0.181),
        (130.0, 8.542613255885687),
        (130.0, 8.542613255885707),
        (132.727, -0.705),
    ]
)


def test_a_point_inside_is_inside() -> None:
    """Also where a shape is hair-thin half-way up, where GEOS gives one of its corners."""
    assert not NEEDLE_AT_HALF_HEIGHT.contains_properly(NEEDLE_AT_HALF_HEIGHT.point_on_surface())
    horseshoe = shapely.Polygon([(0, 0), (9, 0), (9, 9), (8, 9), (8, 1), (1, 1), (1, 9), (0, 9)])
    shapes = np.array([NEEDLE_AT_HALF_HEIGHT, horseshoe, shapely.box(0, 0, 1e-9, 1)], dtype=object)
    assert shapely.contains_properly(shapes, points_inside(shapes)).all()


def test_a_coverage_with_a_hole_that_touches_its_outline() -> None:
    """GEOS takes the edge of a third polygon at that point for one inside the first; it is a coverage all the same."""
    first = shapely.Polygon([(0, 0), (9, 0), (9, 9), (6, 9), (5, 5), (4, 9), (0, 9)], [[(4, 9), (3, 3), (2, 3)]])
    inner = shapely.Polygon([(4, 9), (3, 3), (2, 3)])
    third = shapely.Polygon([(6, 9), (5, 5), (4, 9)])
    shapes = np.array([first, inner, third], dtype=object)
    assert shapely.is_valid(shapes).all()
    assert is_coverage(shapes)
    assert not is_coverage(np.array([first, inner, third.buffer(0.01)], dtype=object))
    assert not is_coverage(np.array([first, shapely.box(3, 3, 4, 4)], dtype=object))
    assert not is_coverage(np.array([shapely.box(0, 0, 2, 2), shapely.box(1, 1, 3, 3)], dtype=object))
