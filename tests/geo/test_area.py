"""Areas against another implementation of geodesic areas, and against what owners of real fields declare."""

from __future__ import annotations

from math import ulp
from pathlib import Path
from typing import Any

import fiona
import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from vrx.geo.area import geodesic_area, grid_areas, true_areas, width_m
from vrx.geo.crs import WGS84, frame_at, move_shapes, utm_epsg
from vrx.geo.repair import repair

US_SURVEY_FOOT_M = 1200 / 3937

# Karney's area under an edge holds the difference of two numbers of up to a2 e2 / 2 times 2/3 = 9.1e10 m2 (A4 B42 and
# A4 B41 in GeographicLib): a place lost there is 1.5e-5 m2, however small the shape. Of 4,000 random rings of 3 to 8
# edges none was further than 1.7e-5 m2 an edge from its area by the same formula with 200 bits; of 6,000 shapes none
# was further than 5e-6 m2 an edge from the `geographiclib` package, which loses much the same.
WGS84_A_M, WGS84_F = 6_378_137.0, 1 / 298.257223563
LAST_PLACE_M2 = ulp(WGS84_A_M**2 * WGS84_F * (2 - WGS84_F) / 2 * 2 / 3)
PLACES = [
    pytest.param(-93.6, 42.0, id="42 N"),
    pytest.param(25.7, 70.0, id="70 N"),
    pytest.param(21.4, -31.2, id="31 S"),
    pytest.param(37.0, 0.0, id="the equator"),
    pytest.param(-179.9, -17.0, id="near the 180th meridian"),
]


def oracle_ring_area(ring: BaseGeometry) -> float:
    polygon = Geodesic.WGS84.Polygon()
    for longitude, latitude in list(ring.coords)[:-1]:
        polygon.AddPoint(latitude, longitude)
    return abs(float(polygon.Compute(False, True)[2]))


def oracle_area(shape: BaseGeometry) -> float:
    """Return a geodesic area by the `geographiclib` package, the Python port of GeographicLib."""
    return sum(
        oracle_ring_area(part.exterior) - sum(oracle_ring_area(hole) for hole in part.interiors)
        for part in shapely.get_parts(shape)
    )


def edges(shape: BaseGeometry) -> int:
    """Count the edges of all rings."""
    rings = shapely.get_rings(shapely.get_parts(shape))
    return int((shapely.get_num_points(rings) - 1).sum())


@st.composite
def lon_lat_shapes(draw: st.DrawFn, sizes: tuple[float, ...] = (1e-5, 1e-3, 0.01, 0.5)) -> BaseGeometry:
    """One to three fields at a place, some with a hole, rings wound either way; sizes in degrees."""
    longitude, latitude = draw(st.floats(-170, 170)), draw(st.floats(-80, 80))
    size = draw(st.sampled_from(sizes))
    parts = []
    for number in range(draw(st.integers(1, 3))):
        corners = draw(st.lists(st.floats(0.3, 1.0), min_size=3, max_size=8))
        angles = np.arange(len(corners)) / len(corners) * 2 * np.pi
        ring = np.column_stack((np.cos(angles), np.sin(angles))) * np.array(corners)[:, None] * size
        place = (longitude + 2.5 * size * number, latitude)
        hole = [ring * 0.2 + place] if draw(st.booleans()) else []
        part = shapely.Polygon(ring + place, hole)
        parts.append(shapely.reverse(part) if draw(st.booleans()) else part)
    return parts[0] if len(parts) == 1 else shapely.multipolygons(parts)


@settings(deadline=None, max_examples=150)
@given(lon_lat_shapes())
def test_geodesic_area_is_that_of_geographiclib(shape: BaseGeometry) -> None:
    """Parts add up, holes count off, and winding says nothing. Source: the geographiclib package.

    The two agree to 1e-12, or to the last place of each edge: that is 1e-9 from 1.5 ha an edge on.
    """
    expected = oracle_area(shape)
    assert abs(geodesic_area(shape) - expected) <= max(1e-12 * expected, LAST_PLACE_M2 * edges(shape))


@settings(deadline=None, max_examples=100)
@given(lon_lat_shapes((1e-5, 1e-4)))
def test_geodesic_area_of_a_few_square_metres_is_that_of_the_plane(shape: BaseGeometry) -> None:
    """On up to 10 m the earth is flat: the plane is right to 1e-7 m2, and shows what Karney's formula loses.

    Source: the plane, in the local frame; a way to the area without that formula.
    """
    place = shapely.centroid(shape)
    frame = frame_at(place.x, place.y)
    plane = float(shapely.area(move_shapes(np.array([shape], dtype=object), WGS84, frame.crs))[0])
    assert abs(geodesic_area(shape) - plane) <= 2 * LAST_PLACE_M2 * edges(shape)


@pytest.mark.parametrize(
    "shape",
    [
        pytest.param(shapely.Polygon(), id="empty"),
        pytest.param(shapely.Point(1, 2), id="a point"),
        pytest.param(shapely.LineString([(0, 0), (1, 1)]), id="a line"),
    ],
)
def test_what_has_no_area_has_none(shape: BaseGeometry) -> None:
    """Anything but a polygon has the area 0."""
    assert geodesic_area(shape) == 0


def test_polygons_of_a_collection_count() -> None:
    """Lines beside a polygon add nothing to its area."""
    square = shapely.box(10, 50, 10.01, 50.01)
    mixed = shapely.geometrycollections([square, shapely.LineString([(0, 0), (1, 1)])])
    assert geodesic_area(mixed) == geodesic_area(square)


def field_shapes(reach_m: float, seed: int) -> NDArray[np.object_]:
    """Forty polygons anywhere within a distance of the origin, edges up to a kilometre long."""
    rng = np.random.default_rng(seed)
    shapes = []
    for _ in range(40):
        middle = rng.uniform(-1, 1, 2) * (reach_m - 500)
        angles = np.sort(rng.uniform(0, 2 * np.pi, 9))
        shapes.append(
            shapely.Polygon(np.column_stack((np.cos(angles), np.sin(angles))) * rng.uniform(50, 500) + middle)
        )
    return np.array([one for one in shapes if one.is_valid and one.area > 100], dtype=object)


@pytest.mark.parametrize(("longitude", "latitude"), PLACES)
@pytest.mark.parametrize(
    ("reach_m", "within"),
    [
        pytest.param(1_500, 2e-7, id="a field 3 km across"),
        pytest.param(7_900, 2e-7, id="out to 8 km"),
        pytest.param(40_000, 3e-7, id="beyond 8 km"),
    ],
)
def test_true_areas_are_geodesic_ones(longitude: float, latitude: float, reach_m: float, within: float) -> None:
    """Areas in the frame agree with Karney's on every polygon. Source: the geographiclib package."""
    frame = frame_at(longitude, latitude)
    shapes = field_shapes(reach_m, seed=int(reach_m))
    if longitude < -179:
        shapes = shapes[shapely.bounds(shapes)[:, 0] > -10_000]
    degrees = move_shapes(shapes, frame.crs, WGS84)
    expected = np.array([oracle_area(one) for one in degrees])
    assert len(shapes) > 10
    np.testing.assert_allclose(true_areas(shapes, frame), expected, rtol=within)


def test_far_shapes_are_measured_on_the_ellipsoid() -> None:
    """A shape that reaches further than 8 km from the origin has Karney's area, one within it the planar one."""
    frame = frame_at(-93.6, 42.0)
    near, far = shapely.box(7_000, 0, 7_990, 1_000), shapely.box(7_000, 0, 8_010, 1_000)
    shapes = np.array([near, far, shapely.Polygon()], dtype=object)
    areas = true_areas(shapes, frame)
    assert areas[0] == near.area
    far_degrees = move_shapes(shapes[1:2], frame.crs, WGS84)[0]
    assert areas[1] == pytest.approx(oracle_area(far_degrees), rel=0, abs=LAST_PLACE_M2 * edges(far_degrees))
    assert areas[2] == 0


@pytest.mark.parametrize(
    ("grid", "foot_m"),
    [
        pytest.param("EPSG:26851", US_SURVEY_FOOT_M, id="Minnesota south in survey feet"),
        pytest.param("EPSG:2264", US_SURVEY_FOOT_M, id="North Carolina in survey feet"),
        pytest.param("EPSG:2256", 0.3048, id="Montana in international feet"),
        pytest.param("EPSG:32615", 1.0, id="UTM in metres"),
    ],
)
def test_a_grid_in_feet_gives_square_metres(grid: str, foot_m: float) -> None:
    """The planar area in a grid's own feet, times the square of that foot. Source: 1200/3937 m is the survey foot."""
    place = {"EPSG:26851": (-94.0, 44.5), "EPSG:2264": (-79.5, 35.5), "EPSG:2256": (-109.5, 47.0)}
    frame = frame_at(*place.get(grid, (-93.6, 42.0)))
    square = np.array([affinity.rotate(shapely.box(-400, -400, 400, 400), 20)], dtype=object)
    in_feet = shapely.area(move_shapes(square, frame.crs, grid))[0]
    found = grid_areas(square, frame, grid)[0]
    assert found == pytest.approx(in_feet * foot_m**2, rel=1e-10)
    # Scale factors of such grids stay within 1 in 2,500 or so.
    assert found == pytest.approx(640_000, rel=2e-3)


@pytest.mark.parametrize(("longitude", "latitude"), PLACES)
def test_a_utm_area_is_off_by_its_scale(longitude: float, latitude: float) -> None:
    """Planar area in UTM differs from true area by 0.9996 squared on the central meridian, and never by 2e-3."""
    frame = frame_at(longitude, latitude)
    square = np.array([shapely.box(-400, -400, 400, 400)], dtype=object)
    ratio = grid_areas(square, frame, utm_epsg(longitude, latitude))[0] / true_areas(square, frame)[0]
    assert 0.99919 < ratio < 1.002


def test_width_of_a_strip_and_a_square() -> None:
    """A strip 1 cm wide has that width, a square half its side, and nothing has none."""
    shapes = np.array([shapely.box(0, 0, 1000, 0.01), shapely.box(0, 0, 4, 4), shapely.Polygon()], dtype=object)
    np.testing.assert_allclose(width_m(shapes), [0.01 / 1.00001, 2.0, 0.0], rtol=1e-9)


# --- open data: fields with the area that their owner declares


def records(path: Path) -> tuple[NDArray[np.object_], list[dict[str, Any]], str]:
    with fiona.open(path) as source:
        rows = list(source)
        code = f"EPSG:{source.crs.to_epsg()}"
    shapes = np.array([shapely.geometry.shape(row.geometry) for row in rows], dtype=object)
    return shapely.force_2d(shapes), [dict(row.properties) for row in rows], code


def areas_in_own_grid(shapes: NDArray[np.object_], code: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return geodesic and grid areas of fields, brought into one frame."""
    middle = shapely.centroid(move_shapes(shapes[:1], code, WGS84)[0])
    frame = frame_at(middle.x, middle.y)
    local = move_shapes(repair(shapes).shapes, code, frame.crs)
    return true_areas(local, frame), grid_areas(local, frame, code)


@pytest.mark.parametrize(
    ("file", "column", "within", "geodesic_over_grid"),
    [
        pytest.param("fields_at_ccby", "SL_FLAECHE_BRUTTO_HA", 1e-6, 5.0e-4, id="Austria, EPSG:31287"),
        pytest.param("fields_nz_ccby", "area_ha", 1e-4, -1.7e-3, id="New Zealand, EPSG:2193"),
    ],
)
def test_grid_area_is_the_declared_one(
    shared: Path, file: str, column: str, within: float, geodesic_over_grid: float
) -> None:
    """Planar in the owner's own grid is what the owner declares; true area differs by that grid's scale.

    Source: field parcels of AMA Austria and of the Ministry for the Environment, New Zealand (CC BY 4.0).
    """
    shapes, rows, code = records(shared / "data" / f"{file}.gpkg")
    declared = np.array([float(row[column]) for row in rows]) * 1e4
    true, grid = areas_in_own_grid(shapes, code)
    known = declared > 1000
    assert known.sum() >= 60
    assert abs(np.median(grid[known] / declared[known]) - 1) < within
    # The grid's scale varies over a country; the sign and size stay.
    assert np.median(true / grid) - 1 == pytest.approx(geodesic_over_grid, rel=1.0)
    assert abs(np.median(true / grid) - 1) > 1e-5


def test_danish_fields_are_declared_in_floored_hundredths(shared: Path) -> None:
    """Grid area less declared area lies in 0 to 0.01 ha for all 100. Source: Landbrugsstyrelsen (CC0)."""
    shapes, rows, code = records(shared / "data" / "fields_dk_cc0.gpkg")
    _, grid = areas_in_own_grid(shapes, code)
    over = grid / 1e4 - np.array([float(row["IMK_areal"]) for row in rows])
    assert len(over) == 100
    assert over.min() >= -1e-6
    assert over.max() < 0.01


def test_californian_fields_are_declared_in_true_acres(shared: Path) -> None:
    """Geodesic area over 4046.8564224 is the declared acreage. Source: California DWR statewide crop map (CC0)."""
    shapes, rows, _ = records(shared / "data" / "fields_usca_3d_cc0.gpkg")
    found = np.array([geodesic_area(one) for one in repair(shapes).shapes]) / 4046.8564224
    declared = np.array([float(row["ACRES"]) for row in rows])
    assert abs(np.median(found / declared) - 1) < 5e-6


def test_colorado_counties_add_up_to_the_census_area(shared: Path) -> None:
    """All counties together have land plus water area within 1e-4, their lines being generalised. Source: Census."""
    shapes, rows, _ = records(shared / "data" / "colorado-counties.geojson")
    declared = np.array([float(row["aland"]) + float(row["awater"]) for row in rows])
    found = np.array([geodesic_area(one) for one in repair(shapes).shapes])
    assert len(found) == 64
    assert found.sum() / declared.sum() - 1 == pytest.approx(-8.5e-5, abs=2e-6)
    assert (np.abs(found / declared - 1) < 0.005).sum() == 43
