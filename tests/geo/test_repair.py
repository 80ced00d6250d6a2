"""Repair: what comes out is polygons that are valid, of the area that the drawing means."""

from __future__ import annotations

from pathlib import Path

import fiona
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry
from support_messy_zones import rings

from vrx.geo.repair import repair

SQUARE = [(0, 0), (4, 0), (4, 4), (0, 4)]
POLYGONS = ("Polygon", "MultiPolygon")


def one(shape: BaseGeometry | None) -> BaseGeometry | None:
    found: BaseGeometry | None = repair(np.array([shape], dtype=object)).shapes[0]
    return found


def many(shapes: list[BaseGeometry | None]) -> NDArray[np.object_]:
    return np.array(shapes, dtype=object)


@pytest.mark.parametrize(
    ("shape", "area", "reason"),
    [
        pytest.param(Polygon([(0, 0), (2, 2), (2, 0), (0, 2)]), 2, "self-intersects at 1, 1", id="a bow-tie"),
        pytest.param(
            Polygon([(0, 0), (4, 0), (4, 4), (8, 4), (4, 4), (0, 4)]),
            16,
            "has a ring that self-intersects at 4, 4",
            id="a spike",
        ),
        pytest.param(
            Polygon([(0, 0), (6, 0), (6, 6), (0, 6), (0, 3), (2, 5), (4, 3), (2, 1), (0, 3)]),
            28,
            "has a ring that self-intersects",
            id="a ring that makes its own hole",
        ),
        pytest.param(
            Polygon(SQUARE, [[(5, 5), (6, 5), (6, 6), (5, 6)]]),
            16,
            "has a hole outside its outline",
            id="a hole outside",
        ),
        pytest.param(
            Polygon(SQUARE, [[(3, 1), (6, 1), (6, 3), (3, 3)]]), 14, "self-intersects", id="a hole across the outline"
        ),
        pytest.param(
            Polygon(SQUARE, [[(0, 1), (2, 1), (2, 3), (0, 3)]]), 12, "self-intersects", id="a hole along the outline"
        ),
        pytest.param(
            Polygon(
                [(0, 0), (9, 0), (9, 9), (0, 9)], [[(1, 1), (8, 1), (8, 8), (1, 8)], [(2, 2), (3, 2), (3, 3), (2, 3)]]
            ),
            32,
            "has holes in holes",
            id="a hole in a hole",
        ),
        pytest.param(
            Polygon(
                [(0, 0), (9, 0), (9, 9), (0, 9)], [[(1, 1), (5, 1), (5, 5), (1, 5)], [(4, 4), (7, 4), (7, 7), (4, 7)]]
            ),
            81 - 16 - 9 + 1,
            "self-intersects",
            id="holes that overlap",
        ),
        pytest.param(
            Polygon(SQUARE, [[(1, 1), (2, 2), (1, 1), (1, 1)]]),
            16,
            "has a ring of too few points",
            id="a hole that is a line",
        ),
        pytest.param(
            Polygon([(0, 0), (4, 0), (4, 4), (9, 4), (4, 4), (0, 4)], [[(1, 1), (2, 1), (2, 2), (1, 2)]]),
            15,
            "has a ring that self-intersects",
            id="a spike and a hole",
        ),
        pytest.param(
            shapely.MultiPolygon([Polygon(SQUARE), Polygon([(1, 1), (2, 1), (2, 2), (1, 2)])]),
            16,
            "has a part inside another part",
            id="a part inside another",
        ),
        pytest.param(
            shapely.MultiPolygon([Polygon(SQUARE), Polygon([(3, 0), (7, 0), (7, 4), (3, 4)])]),
            28,
            "self-intersects",
            id="parts that overlap are united",
        ),
        pytest.param(
            shapely.MultiPolygon([Polygon(SQUARE), Polygon([(4, 0), (7, 0), (7, 4), (4, 4)])]),
            28,
            "self-intersects",
            id="parts that share an edge are united",
        ),
        pytest.param(
            shapely.MultiPolygon([Polygon(SQUARE), Polygon([(10, 0), (12, 2), (12, 0), (10, 2)])]),
            18,
            "self-intersects",
            id="one part of two is a bow-tie",
        ),
        pytest.param(
            shapely.GeometryCollection([Polygon(SQUARE), shapely.LineString([(0, 0), (9, 9)]), shapely.Point(1, 1)]),
            16,
            "holds lines or points beside polygons",
            id="lines beside a polygon",
        ),
        pytest.param(
            shapely.GeometryCollection([shapely.MultiPolygon([Polygon(SQUARE), shapely.box(9, 9, 10, 10)])]),
            17,
            "holds lines or points beside polygons",
            id="polygons within a collection",
        ),
    ],
)
def test_what_is_mended(shape: BaseGeometry, area: float, reason: str) -> None:
    """The mended shape is valid, has the area that can be counted on squared paper, and says why."""
    found = repair(many([shape]))
    after = found.shapes[0]
    assert after.is_valid
    assert after.geom_type in POLYGONS
    assert after.area == pytest.approx(area)
    (mend,) = found.repairs
    assert mend.index == 0
    assert mend.reason.startswith(reason)
    assert mend.before.equals_exact(shape, 0)
    assert mend.after is after


@pytest.mark.parametrize(
    ("decimals", "place"),
    [
        pytest.param(8, "-97.12345688, 40.00000006", id="degrees"),
        pytest.param(3, "-97.123, 40", id="metres, without needless zeros"),
        pytest.param(0, "-97, 40", id="whole"),
    ],
)
def test_a_place_has_no_more_digits_than_it_is_worth(decimals: int, place: str) -> None:
    """A bow-tie crosses half-way between its corners; a billionth of a degree is a tenth of a millimetre."""
    x, y, side = -97.123456878, 40.000000064, 0.001
    bow = Polygon([(x - side, y - side), (x + side, y + side), (x + side, y - side), (x - side, y + side)])
    (mend,) = repair(many([bow]), decimals=decimals).repairs
    assert mend.reason == f"self-intersects at {place}"


@pytest.mark.parametrize(
    ("shape", "reason"),
    [
        pytest.param(None, "no shape", id="null"),
        pytest.param(Polygon(), "no shape", id="empty"),
        pytest.param(shapely.Point(1, 2), "not a polygon", id="a point"),
        pytest.param(shapely.LineString([(0, 0), (1, 1)]), "not a polygon", id="a line"),
        pytest.param(shapely.LinearRing(SQUARE), "not a polygon", id="a ring that is only a line"),
        pytest.param(Polygon([(0, 0), (1, 1), (2, 2)]), "", id="a polygon on a line"),
        pytest.param(Polygon([(1, 1), (1, 1), (1, 1), (1, 1)]), "has a ring of too few points", id="all in one point"),
        pytest.param(shapely.GeometryCollection([shapely.Point(1, 1)]), "holds lines", id="a collection of points"),
        pytest.param(Polygon(SQUARE, [SQUARE]), "", id="the hole is the outline"),
    ],
)
def test_what_has_no_ground_is_none(shape: BaseGeometry | None, reason: str) -> None:
    """Where nothing with an area is left there is no shape, and a reason."""
    found = repair(many([shape]))
    assert found.shapes[0] is None
    assert found.repairs[0].after is None
    assert found.repairs[0].reason.startswith(reason)


def test_a_valid_shape_stays_vertex_for_vertex() -> None:
    """Nothing is done, and nothing said, about valid shapes; heights and measures are dropped without a word."""
    flat = Polygon(SQUARE, [[(1, 1), (1, 2), (2, 2), (2, 1)]])
    shapes = many([flat, shapely.force_3d(flat, 7.0), shapely.from_wkt("POLYGON M ((0 0 1, 4 0 2, 4 4 3, 0 0 1))")])
    found = repair(shapes)
    assert found.repairs == ()
    assert found.shapes[0].equals_exact(flat, 0)
    assert found.shapes[1].equals_exact(flat, 0)
    assert not shapely.has_z(found.shapes).any()
    assert not shapely.has_m(found.shapes).any()
    assert found.shapes[2].area == 8
    assert shapely.has_z(shapes[1])


@settings(deadline=None, max_examples=150)
@given(rings(), st.lists(rings(), max_size=2))
def test_repair_follows_the_even_odd_rule(outline: BaseGeometry, holes: list[BaseGeometry]) -> None:
    """Ground is inside where a line from it crosses the outline an odd number of times, and no hole so."""
    shape = Polygon(outline.exterior, [hole.exterior for hole in holes])
    found = one(shape)
    xs, ys = np.meshgrid(np.arange(-495.3, 500, 57.13), np.arange(-493.7, 500, 61.17))
    places = np.column_stack((xs.ravel(), ys.ravel()))
    expected = odd(places, outline)
    for hole in holes:
        expected &= ~odd(places, hole)
    points = shapely.points(places)
    # Within a millimetre of a line both answers are right.
    edges = shapely.union_all([shapely.LineString(ring.exterior) for ring in (outline, *holes)])
    clear = ~shapely.dwithin(points, edges, 1e-3)
    inside = shapely.contains_xy(found, places) if found is not None else np.zeros(len(places), dtype=bool)
    np.testing.assert_array_equal(inside[clear], expected[clear])
    if found is not None:
        assert found.is_valid
        again = repair(many([found]))
        assert again.repairs == ()


def odd(places: NDArray[np.float64], ring: BaseGeometry) -> NDArray[np.bool_]:
    """Count the edges that cross the ray to the east, in plain arithmetic."""
    points = np.array(ring.exterior.coords)
    x, y = places[:, 0, None], places[:, 1, None]
    (x0, y0), (x1, y1) = points[:-1].T, points[1:].T
    spans = (y0 > y) != (y1 > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        crosses = spans & (x < (x1 - x0) * (y - y0) / (y1 - y0) + x0)
    odd_times: NDArray[np.bool_] = crosses.sum(axis=1) % 2 == 1
    return odd_times


def test_tracts_of_new_york_with_five_invalid_ones(shared: Path) -> None:
    """Of 281 census tracts five cross themselves; they are mended, within 1 % of their drawn area. Source: spData."""
    with fiona.open(shared / "data" / "ny8_utm18_5invalid.gpkg") as source:
        shapes = many([shapely.geometry.shape(row.geometry) for row in source])
    found = repair(shapes)
    assert len(found.repairs) == 5
    assert all("self-intersect" in one.reason for one in found.repairs)
    assert shapely.is_valid(found.shapes).all()
    assert shapely.area(found.shapes).sum() == pytest.approx(shapely.area(shapes).sum(), rel=1e-4)
