"""Coordinates: grids against closed forms, zones of the UTM grid, the field's frame anywhere on earth, and errors."""

from __future__ import annotations

import math
import os
import subprocess
import sys

import numpy as np
import pyproj
import pytest
import shapely

from vrx.errors import CrsError
from vrx.geo.area import geodesic_area, grid_areas, true_areas
from vrx.geo.crs import (
    WGS84,
    areal_scale,
    frame_at,
    move_points,
    move_shapes,
    parse_crs,
    shift_accuracy,
    short_name,
    utm_epsg,
)

A_M, FLATTENING = 6_378_137.0, 1 / 298.257_223_563
E2 = FLATTENING * (2 - FLATTENING)
ACRE_M2 = 4046.8564224
FIELD_BOX = shapely.box(-93.60, 42.00, -93.59, 42.01)


def curvature_radii(latitude: float) -> tuple[float, float]:
    """Return the radii of the meridian and of the prime vertical (textbook formulas), in metres."""
    w2 = 1 - E2 * math.sin(math.radians(latitude)) ** 2
    return A_M * (1 - E2) / w2**1.5, A_M / math.sqrt(w2)


# --- grids


@pytest.mark.parametrize(
    ("crs", "longitude", "easting", "northing"),
    [
        pytest.param("EPSG:32615", -93.0, 500_000.000, 4_649_776.2248, id="G17 UTM on its meridian"),
        pytest.param("EPSG:32615", -93.6, 450_309.3304, 4_649_950.3224, id="G18 UTM"),
        pytest.param("EPSG:5070", -93.6, 197_418.0039, 2_113_405.3475, id="G19 Albers of the United States"),
    ],
)
def test_grid_coordinates(crs: str, longitude: float, easting: float, northing: float) -> None:
    """A place at 42 N in the grids of an American field, computed independently; to the millimetre."""
    found = move_points(np.array([[longitude, 42.0]]), WGS84, crs)
    np.testing.assert_allclose(found[0], (easting, northing), rtol=0, atol=1e-3)


@pytest.mark.parametrize(
    ("offset", "latitude", "areal"),
    [
        pytest.param(0.0, 42.0, 0.9996**2, id="G20 on the meridian, by definition"),
        pytest.param(0.5, 42.0, 0.999_242, id="G21 half a degree off"),
        pytest.param(1.0, 42.0, 0.999_369, id="G21 one degree off"),
        pytest.param(2.0, 42.0, 0.999_875, id="G21 two degrees off"),
        pytest.param(3.0, 42.0, 1.000_720, id="G21 three degrees off"),
        pytest.param(3.0, 0.0, 1.000_981**2, id="G23 the zone's edge on the equator"),
    ],
)
def test_utm_areas_are_off_by_the_scale_squared(offset: float, latitude: float, areal: float) -> None:
    """A square of 20 m has the areal scale of its place; values computed independently, to 2e-6."""
    frame = frame_at(-93 + offset - 1e-4, latitude)
    square = np.array([shapely.box(-10, -10, 10, 10)], dtype=object)
    assert grid_areas(square, frame, "EPSG:32615")[0] / 400 == pytest.approx(areal, abs=2e-6)


def test_a_quarter_section_reads_low_in_utm() -> None:
    """160 acres on the central meridian read 159.872 acres in the grid (G20)."""
    side = math.sqrt(160 * ACRE_M2) / 2
    square = np.array([shapely.box(-side, -side, side, side)], dtype=object)
    frame = frame_at(-93, 42)
    assert true_areas(square, frame)[0] / ACRE_M2 == pytest.approx(160, rel=1e-9)
    assert grid_areas(square, frame, "EPSG:32615")[0] / ACRE_M2 == pytest.approx(159.872, abs=5e-4)


def test_the_field_box_by_every_method() -> None:
    """A hundredth of a degree each way at 42 N (G33, G34): true area, UTM, Albers, frame, Web Mercator; in m2."""
    assert geodesic_area(FIELD_BOX) == pytest.approx(920_179.3719, abs=0.01)
    frame = frame_at(-93.595, 42.005)
    local = move_shapes(np.array([FIELD_BOX], dtype=object), WGS84, frame.crs)
    assert true_areas(local, frame)[0] == pytest.approx(920_179.3692, abs=0.01)
    assert grid_areas(local, frame, "EPSG:32615")[0] == pytest.approx(919_498.3307, abs=0.01)
    assert grid_areas(local, frame, "EPSG:5070")[0] == pytest.approx(920_179.3710, abs=0.01)
    assert grid_areas(local, frame, "EPSG:3857")[0] == pytest.approx(1_667_643.03, abs=0.1)


@pytest.mark.parametrize("latitude", [0, 30, 40, 42, 45, 49])
def test_web_mercator_inflates_areas(latitude: float) -> None:
    """By a squared over M N cos squared (G36, closed form), which is not the spherical sec squared (G35)."""
    meridian, vertical = curvature_radii(latitude)
    cos2 = math.cos(math.radians(latitude)) ** 2
    square = np.array([shapely.box(-5, -5, 5, 5)], dtype=object)
    found = grid_areas(square, frame_at(-93.6, latitude), "EPSG:3857")[0] / 100
    assert found == pytest.approx(A_M**2 / (meridian * vertical * cos2), rel=2e-6)
    if latitude < 45:
        assert abs(found * cos2 - 1) > 5e-4
    published = {0: 1.006739, 30: 1.337830, 40: 1.706096, 42: 1.812019, 45: 2.000023, 49: 2.321202}
    assert found == pytest.approx(published[latitude], abs=3e-6)


@pytest.mark.parametrize(
    ("easting", "ratio"),
    [
        pytest.param(500_000, 0.999_200, id="on the meridian"),
        pytest.param(300_000, 1.000_184, id="200 km off"),
        pytest.param(166_021, 1.001_947, id="334 km off"),
    ],
)
def test_planar_over_geodesic_of_a_half_mile_square(easting: float, ratio: float) -> None:
    """A UTM square of 804.672 m against its true area (G38), computed independently, to 2e-6."""
    half = 804.672 / 2
    square = shapely.box(easting - half, 4_650_000 - half, easting + half, 4_650_000 + half)
    (degrees,) = move_shapes(np.array([square], dtype=object), "EPSG:32615", WGS84)
    assert square.area / geodesic_area(degrees) == pytest.approx(ratio, abs=2e-6)


@pytest.mark.parametrize(
    ("radius_ft", "acres"),
    [
        pytest.param(1300, 121.8846, id="G42b 1300 ft"),
        pytest.param(1290, 120.0166, id="G42c 1290 ft"),
        pytest.param(660, 31.4159, id="G42d 660 ft"),
    ],
)
def test_pivot_circles(radius_ft: float, acres: float) -> None:
    """A circle under a pivot has pi r squared of ground; one drawn with 720 corners falls short by 1.3e-5."""
    frame = frame_at(-93.6, 42)
    circle = shapely.buffer(shapely.Point(0, 0), radius_ft * 0.3048, quad_segs=180)
    found = true_areas(np.array([circle], dtype=object), frame)[0] / ACRE_M2
    assert found / (720 / (2 * math.pi) * math.sin(2 * math.pi / 720)) == pytest.approx(acres, abs=5.1e-5)
    assert geodesic_area(move_shapes(circle, frame.crs, WGS84)) / ACRE_M2 == pytest.approx(found, rel=1e-7)


@pytest.mark.parametrize(
    ("corners", "ratio"), [(36, 0.994_931), (72, 0.998_731), (90, 0.999_188), (180, 0.999_797), (360, 0.999_949)]
)
def test_a_circle_drawn_with_corners_falls_short(corners: int, ratio: float) -> None:
    """A regular polygon on the circle has n / (2 pi) sin(2 pi / n) of its area (G44)."""
    angles = np.arange(corners) / corners * 2 * np.pi
    ring = shapely.Polygon(np.column_stack((np.cos(angles), np.sin(angles))) * 400)
    (degrees,) = move_shapes(np.array([ring], dtype=object), frame_at(21.4, -31.2).crs, WGS84)
    assert geodesic_area(degrees) / (math.pi * 400**2) == pytest.approx(ratio, abs=6e-7)


# --- zones of the UTM grid

ZONES = [
    pytest.param(-93.6, 42.0, 32615, id="zone 15"),
    pytest.param(-96.0, 42.0, 32615, id="a zone begins at its western edge"),
    pytest.param(-96.0001, 42.0, 32614, id="just west of it"),
    pytest.param(-180.0, 10.0, 32601, id="the first zone"),
    pytest.param(179.9999, 10.0, 32660, id="the last zone"),
    pytest.param(180.0, 10.0, 32601, id="the 180th meridian is the first zone's"),
    pytest.param(21.4, -31.2, 32734, id="south"),
    pytest.param(21.4, 0.0, 32634, id="the equator is north"),
    pytest.param(21.4, -0.0001, 32734, id="just south of it"),
    pytest.param(5.3, 60.4, 32632, id="the west coast of Norway"),
    pytest.param(2.9999, 60.4, 32631, id="west of that exception"),
    pytest.param(3.0, 56.0, 32632, id="its corner belongs to it"),
    pytest.param(5.3, 55.9999, 32631, id="south of it"),
    pytest.param(5.3, 64.0, 32631, id="north of it"),
    pytest.param(12.0, 60.0, 32633, id="east of it"),
    pytest.param(0.0, 72.0, 32631, id="Svalbard 31X"),
    pytest.param(8.9999, 78.0, 32631, id="Svalbard 31X, 9 degrees wide"),
    pytest.param(9.0, 78.0, 32633, id="Svalbard 33X"),
    pytest.param(20.9999, 78.0, 32633, id="Svalbard 33X, 12 degrees wide"),
    pytest.param(21.0, 78.0, 32635, id="Svalbard 35X"),
    pytest.param(33.0, 78.0, 32637, id="Svalbard 37X"),
    pytest.param(41.9999, 78.0, 32637, id="Svalbard 37X, to 42 degrees"),
    pytest.param(42.0, 78.0, 32638, id="east of Svalbard"),
    pytest.param(9.0, 71.9999, 32632, id="south of Svalbard"),
]


@pytest.mark.parametrize(("longitude", "latitude", "code"), ZONES)
def test_zones_with_the_exceptions_of_norway_and_svalbard(longitude: float, latitude: float, code: int) -> None:
    """Zones are 6 degrees wide but for 32V and 31X to 37X. Source: the UTM grid as known, bounds from memory."""
    assert utm_epsg(longitude, latitude) == f"EPSG:{code}"


@pytest.mark.parametrize(
    ("longitude", "latitude"), [(-93.6, 42.0), (21.4, -31.2), (-64.1, -31.4), (5.9, 51.0), (178.0, -39.0)]
)
def test_zones_are_those_of_the_registry(longitude: float, latitude: float) -> None:
    """The area of use that the EPSG registry gives for the zone holds the place."""
    area = pyproj.CRS(utm_epsg(longitude, latitude)).area_of_use
    assert area is not None
    assert area.west <= longitude <= area.east
    assert area.south <= latitude <= area.north


# --- the frame


@pytest.mark.parametrize(
    ("longitude", "latitude"),
    [
        pytest.param(-93.6, 42.0, id="42 N"),
        pytest.param(-45.3, -17.4, id="17 S"),
        pytest.param(21.4, -31.2, id="31 S"),
        pytest.param(37.0, 0.0, id="the equator"),
        pytest.param(25.7, 70.0, id="70 N"),
        pytest.param(-179.9, -17.0, id="near the 180th meridian"),
    ],
)
def test_the_frame_there_and_back(longitude: float, latitude: float) -> None:
    """Places come back within 0.1 micrometres, and a metre north or east of the origin is one on the ellipsoid.

    Without correction PROJ's inverse is off by up to 1.6 mm to the south or north.
    """
    frame = frame_at(longitude, latitude)
    xs, ys = np.meshgrid(np.linspace(-2000, 2000, 9), np.linspace(-2000, 2000, 9))
    local = np.column_stack((xs.ravel(), ys.ravel()))
    degrees = move_points(local, frame.crs, WGS84)
    np.testing.assert_allclose(move_points(degrees, WGS84, frame.crs), local, rtol=0, atol=1e-7)
    meridian, vertical = curvature_radii(latitude)
    north, east = move_points(np.array([[0.0, 10.0], [10.0, 0.0]]), frame.crs, WGS84)
    assert math.radians(north[1] - latitude) * meridian == pytest.approx(10, abs=1e-6)
    across = math.radians(east[0] - longitude) * vertical * math.cos(math.radians(latitude))
    assert across == pytest.approx(10, abs=1e-6)


def test_an_equal_area_grid_as_a_source_is_exact_too() -> None:
    """Data in EPSG:3035, the same projection, comes back within a micrometre."""
    given = np.array([[4_321_000.0, 3_210_000.0], [3_600_000.0, 2_400_000.0]])
    back = move_points(move_points(given, "EPSG:3035", WGS84), WGS84, "EPSG:3035")
    np.testing.assert_allclose(back, given, rtol=0, atol=1e-6)


def test_a_field_beside_the_180th_meridian() -> None:
    """A field of 1 km that ends 100 m west of the meridian has its true area, in its frame and in degrees."""
    frame = frame_at(179.99, -17.0)
    local = np.array([shapely.box(-1000, -500, 900, 500)], dtype=object)
    degrees = move_shapes(local, frame.crs, WGS84)
    assert shapely.bounds(degrees)[0, 2] < 180
    assert geodesic_area(degrees[0]) == pytest.approx(1_900_000, rel=1e-7)
    assert grid_areas(local, frame, utm_epsg(179.99, -17.0))[0] == pytest.approx(1_900_000, rel=2e-3)


def test_a_frame_is_rounded_to_ten_metres() -> None:
    """The origin has four decimals, so that a vertex more does not move everything."""
    frame = frame_at(-93.123_456, 42.000_04)
    assert (frame.longitude, frame.latitude) == (-93.1235, 42.0)


# --- errors


@pytest.mark.parametrize("text", [pytest.param("EPSG:1", id="no code"), pytest.param("my grid " * 20, id="words")])
def test_an_unknown_crs(text: str) -> None:
    """The error shows what was given, shortened, and an example."""
    with pytest.raises(CrsError, match="is not known") as caught:
        parse_crs(text)
    assert len(caught.value.problem) < 130
    assert "EPSG:32614" in caught.value.remedy


def test_coordinates_that_are_in_another_crs() -> None:
    """Metres taken for degrees are no place; the error shows the point and names the CRS."""
    with pytest.raises(CrsError, match=r"450309, 4\.64995e\+06 lies outside EPSG:4326"):
        move_points(np.array([[-93.6, 42.0], [450_309.3, 4_649_950.3]]), WGS84, "EPSG:32615")


def test_no_points_and_the_same_crs() -> None:
    """Nothing to do gives back what was given."""
    none = np.zeros((0, 2))
    assert move_points(none, WGS84, "EPSG:32615") is none
    shapes = np.array([shapely.Point(1, 2)], dtype=object)
    assert move_shapes(shapes, WGS84, WGS84) is shapes


def test_a_missing_shape_stays_missing() -> None:
    """Heights are dropped, and None stays None."""
    moved = move_shapes(np.array([None, shapely.Point(21.4, -31.2, 9)], dtype=object), WGS84, "EPSG:32734")
    assert moved[0] is None
    assert not moved[1].has_z


@pytest.mark.parametrize(
    ("text", "name"),
    [
        pytest.param("EPSG:32615", "EPSG:32615", id="a code"),
        pytest.param(pyproj.CRS("EPSG:32615").to_wkt(), "EPSG:32615", id="WKT of a code"),
        pytest.param(frame_at(1, 2).crs, "unknown", id="a frame"),
        pytest.param(
            "not a reference system at all, but a long text", "not a reference system at all, but a lon", id="text"
        ),
    ],
)
def test_the_short_name(text: str, name: str) -> None:
    """People are told a code where there is one."""
    assert short_name(text) == name


# --- datums


@pytest.mark.filterwarnings("ignore:Best transformation is not available")
@pytest.mark.parametrize(
    ("code", "base", "longitude", "latitude"),
    [
        pytest.param("EPSG:26715", "EPSG:4267", -93.0, 42.0, id="NAD27"),
        pytest.param("EPSG:27700", "EPSG:4277", -1.0, 52.0, id="OSGB36"),
        pytest.param("EPSG:31467", "EPSG:4314", 10.0, 50.0, id="DHDN"),
        pytest.param("EPSG:22234", "EPSG:4222", 20.5, -33.2, id="Cape"),
    ],
)
def test_the_shift_from_an_old_datum_is_as_good_as_its_operation(
    code: str, base: str, longitude: float, latitude: float
) -> None:
    """PROJ takes one of the published shifts for that place, and the EPSG dataset says how good each one is.

    Source: the EPSG dataset in PROJ, asked through pyproj's list of the operations for that place.
    """
    place = pyproj.aoi.AreaOfInterest(longitude - 0.01, latitude - 0.01, longitude + 0.01, latitude + 0.01)
    listed = pyproj.transformer.TransformerGroup(base, WGS84, area_of_interest=place).transformers
    found = shift_accuracy(code, longitude, latitude)
    assert found > 1
    assert found in {one.accuracy for one in listed}


@pytest.mark.parametrize(
    ("code", "longitude", "latitude"),
    [
        pytest.param(WGS84, -93.0, 42.0, id="WGS 84"),
        pytest.param("EPSG:32615", -93.0, 42.0, id="WGS 84 in a grid"),
        pytest.param("EPSG:26915", -93.0, 42.0, id="NAD83"),
        pytest.param("EPSG:25832", 10.0, 50.0, id="ETRS89"),
        pytest.param("EPSG:7855", 147.0, -36.0, id="GDA2020"),
        pytest.param("EPSG:3857", 147.0, -36.0, id="Web Mercator"),
    ],
)
def test_what_is_taken_for_wgs84_is_not_shifted(code: str, longitude: float, latitude: float) -> None:
    """The coordinates are the same to a centimetre: there is no shift to doubt."""
    assert shift_accuracy(code, longitude, latitude) == 0


def test_no_grid_comes_from_a_server() -> None:
    """PROJ would fetch them where its environment says so, and make another map of the same input."""
    script = "import vrx.geo.crs, pyproj.network; print(pyproj.network.is_network_enabled())"
    with_network = os.environ | {"PROJ_NETWORK": "ON"}
    ran = subprocess.run([sys.executable, "-c", script], env=with_network, capture_output=True, check=True)
    assert ran.stdout.split() == [b"False"]


@pytest.mark.parametrize(
    ("latitude", "published"),
    [(0, 1.006739), (30, 1.337830), (40, 1.706096), (42, 1.812019), (45, 2.000023), (49, 2.321202)],
)
def test_web_mercator_inflates_areas_as_on_the_ellipsoid(latitude: float, published: float) -> None:
    """a^2 / (M N cos^2 phi), to the last digit printed; the sphere's sec^2 phi is up to 0.7 % off.

    Source: computed from the ellipsoid for the project's table of reference values.
    """
    assert areal_scale("EPSG:3857", -96.0, latitude) == pytest.approx(published, abs=5e-7)


@pytest.mark.parametrize(
    ("code", "longitude", "latitude"),
    [
        ("EPSG:32614", -96.0, 42.0),
        ("EPSG:26852", -96.0, 42.0),
        ("EPSG:5070", -96.0, 42.0),
        ("EPSG:25833", 12.5, 55.3),
        ("EPSG:3035", 12.5, 55.3),
    ],
)
def test_areal_scales_are_those_of_proj(code: str, longitude: float, latitude: float) -> None:
    """Grids in metres and feet, on their own ellipsoids: the factor that PROJ differentiates, where it is near."""
    known = pyproj.Proj(code).get_factors(longitude, latitude).areal_scale
    assert areal_scale(code, longitude, latitude) == pytest.approx(known, rel=1e-8)
