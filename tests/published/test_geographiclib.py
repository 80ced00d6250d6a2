"""Geodesic areas published with GeographicLib (C. F. F. Karney).

The planimeter rings stand in the library's test suite, as its Python port carries it; the degree square and
Antarctica are examples of its documentation. Antarctica's vertices are from memory, and give the published area.
"""

from __future__ import annotations

import pytest
import shapely

from vrx.geo.area import geodesic_area

pytestmark = pytest.mark.source("GeographicLib", "test suite, Planimeter0 and 15; polygon area examples")

Ring = list[tuple[float, float]]
EARTH_M2 = 510_065_621_724_088.4

ANTARCTICA: Ring = [
    (-63.1, -58), (-72.9, -74), (-71.9, -102), (-74.9, -102), (-74.3, -131), (-77.5, -163), (-77.4, 163), (-71.7, 172),
    (-65.9, 140), (-65.7, 113), (-66.6, 88), (-66.9, 59), (-69.8, 25), (-70.0, -4), (-71.0, -14), (-77.3, -33),
    (-77.9, -46), (-74.7, -61),
]  # fmt: skip

RINGS = [
    pytest.param([(89, 0), (89, 90), (89, 180), (89, 270)], 24_952_305_678.0, 1, id="G24 around the north pole"),
    pytest.param([(-89, 0), (-89, 90), (-89, 180), (-89, 270)], 24_952_305_678.0, 1, id="G25 around the south pole"),
    pytest.param([(0, -1), (-1, 0), (0, 1), (1, 0)], 24_619_419_146.0, 1, id="G26 a diamond on the equator"),
    pytest.param([(90, 0), (0, 0), (0, 90)], 63_758_202_715_511.06, 1, id="G27 an eighth of the earth"),
    pytest.param([(0, 0), (0, 1), (1, 1), (1, 0)], 12_308_778_361.469452, 0.001, id="G28 a degree square"),
    pytest.param(ANTARCTICA, 13_662_703_680_020.1, 1, id="G29 Antarctica"),
    pytest.param([(2, 1), (1, 2), (3, 3)], 18_454_562_325.45119, 0.5, id="Planimeter15"),
]


def polygon(ring: Ring, *holes: Ring) -> shapely.Polygon:
    """Turn (latitude, longitude), as the library lists them, into a polygon in longitude and latitude."""
    outline, *inner = ([(longitude, latitude) for latitude, longitude in one] for one in (ring, *holes))
    return shapely.Polygon(outline, inner)


@pytest.mark.parametrize(("ring", "area_m2", "within_m2"), RINGS)
def test_rings_wound_either_way(ring: Ring, area_m2: float, within_m2: float) -> None:
    """A ring has its published area, clockwise or not: the library's sign for the winding is left out."""
    assert geodesic_area(polygon(ring)) == pytest.approx(area_m2, abs=within_m2)
    assert geodesic_area(polygon(ring[::-1])) == pytest.approx(area_m2, abs=within_m2)


@pytest.mark.parametrize("turned", [pytest.param(1, id="wound alike"), pytest.param(-1, id="wound against each other")])
def test_a_published_ring_as_a_hole(turned: int) -> None:
    """The diamond counts off as a hole of a larger one, and on as a part beside it, whichever way it is wound."""
    diamond: Ring = [(0, -1), (-1, 0), (0, 1), (1, 0)]
    large: Ring = [(0, -4), (-4, 0), (0, 4), (4, 0)]
    whole = geodesic_area(polygon(large))
    assert geodesic_area(polygon(large, diamond[::turned])) == pytest.approx(whole - 24_619_419_146.0, abs=1)
    beside = [(latitude, longitude + 20) for latitude, longitude in diamond]
    both = shapely.MultiPolygon([polygon(large), polygon(beside[::turned])])
    assert geodesic_area(both) == pytest.approx(whole + 24_619_419_146.0, abs=1)


def test_an_eighth_of_the_earth_is_one() -> None:
    """Eight times the octant is the area of the ellipsoid (closed form)."""
    assert 8 * geodesic_area(polygon([(90, 0), (0, 0), (0, 90)])) == pytest.approx(EARTH_M2, abs=8)
