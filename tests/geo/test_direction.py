"""Distance and direction between two places on the ellipsoid."""

from __future__ import annotations

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from vrx.geo.direction import distance_and_azimuth, wind_of


@pytest.mark.source("GeographicLib", "documentation of its libraries, JFK to LHR; from memory, reproduced")
def test_an_ocean_wide() -> None:
    """40.6 N 73.8 W to 51.6 N 0.5 W are 5 551 759.400 m."""
    assert distance_and_azimuth((-73.8, 40.6), (-0.5, 51.6))[0] == pytest.approx(5_551_759.400, abs=5e-4)


@pytest.mark.source("GeographicLib", "documentation of its libraries, Wellington to Salamanca; from memory, reproduced")
def test_nearly_around_the_earth() -> None:
    """41.32 S 174.81 E to 40.96 N 5.50 W are 19 959 679.26735 m, setting out at 161.067669986 degrees."""
    distance, azimuth = distance_and_azimuth((174.81, -41.32), (-5.50, 40.96))
    assert distance == pytest.approx(19_959_679.267_35, abs=5e-6)
    assert azimuth == pytest.approx(161.067_669_986, abs=5e-10)


def test_across_a_gulf() -> None:
    """60.171 N 24.938 E to 59.437 N 24.745 E are 82 488.500 m, setting out at -172 degrees 22' 12.772".

    Source: tests of geodesics in the documentation of PROJ, on GRS 80, whose ellipsoid is WGS 84's to 0.1 mm.
    """
    distance, azimuth = distance_and_azimuth((24.938, 60.171), (24.745, 59.437))
    assert distance == pytest.approx(82_488.500, abs=5e-4)
    assert azimuth == pytest.approx(360 - (172 + 22 / 60 + 12.772 / 3600), abs=5e-4 / 3600)


places = st.tuples(st.floats(-180, 180), st.floats(-89, 89))


@pytest.mark.source("GeographicLib", "geographiclib 2, Geodesic.WGS84.Inverse")
@given(start=places, end=places)
def test_any_two_places(start: tuple[float, float], end: tuple[float, float]) -> None:
    """The same distance as GeographicLib to a micrometre, and the same direction where there is one."""
    known = Geodesic.WGS84.Inverse(start[1], start[0], end[1], end[0])
    distance, azimuth = distance_and_azimuth(start, end)
    assert distance == pytest.approx(known["s12"], abs=1e-5)
    assert 0 <= azimuth < 360
    if 1 < distance < 19_000_000:
        apart = (azimuth - known["azi1"] + 180) % 360 - 180
        assert abs(apart) < 1e-6


@pytest.mark.parametrize(
    ("azimuth", "wind"),
    [
        (0, "north"),
        (22.4, "north"),
        (22.6, "north-east"),
        (90, "east"),
        (157.6, "south"),
        (270, "west"),
        (359, "north"),
    ],
)
def test_directions_in_words(azimuth: float, wind: str) -> None:
    """Eight of them, each 45 degrees wide around its own."""
    assert wind_of(azimuth) == wind


def test_a_hair_west_of_north_is_north() -> None:
    """-1e-15 degrees are 360 when they are rounded, and that is written 0."""
    for longitude in (-1e-14, -1e-15, -1e-16, 0.0):
        assert distance_and_azimuth((0.0, 0.0), (longitude, 10.0))[1] < 360
