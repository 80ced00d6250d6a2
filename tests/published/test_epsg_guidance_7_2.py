"""Worked examples of projections from IOGP Guidance Note 7-2, through the project's own coordinate moves.

The note itself was not at hand: its examples were seen quoted in the EPSG registry and in test files of
projection libraries; the one of method 9801 is from memory.
"""

from __future__ import annotations

import numpy as np
import pytest

from vrx.geo.crs import move_points

pytestmark = pytest.mark.source("GN7-2", "examples of methods 9801 to 9822, 1024")

US_FOOT_M = 1200 / 3937
AIRY, CLARKE_1866, GRS_80 = "+ellps=airy", "+ellps=clrk66", "+ellps=GRS80"

EXAMPLES = [
    # The published scale factor is a rounded one: with all its digits the result is 6 and 8 mm less.
    pytest.param(
        f"+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996013 +x_0=400000 +y_0=-100000 {AIRY}", AIRY,
        (0.5, 50.5), (577_274.99, 69_740.50), 0.01, id="G06 transverse Mercator, 9807",
    ),
    pytest.param(
        f"+proj=lcc +lat_1={28 + 23 / 60} +lat_2={30 + 17 / 60} +lat_0={27 + 50 / 60} +lon_0=-99 "
        f"+x_0={2_000_000 * US_FOOT_M:.10f} +y_0=0 +units=us-ft {CLARKE_1866}", CLARKE_1866,
        (-96, 28.5), (2_963_503.91, 254_759.80), 0.01, id="G07 Lambert conic with two parallels, 9802",
    ),
    pytest.param(
        f"+proj=lcc +lat_1={44 + 11 / 60} +lat_2={45 + 42 / 60} +lat_0={43 + 19 / 60} +lon_0={-84 - 20 / 60} "
        f"+k_0=1.0000382 +x_0=609601.2192024384 +y_0=0 +units=us-ft {CLARKE_1866}", CLARKE_1866,
        (-83 - 10 / 60, 43.75), (2_308_335.75, 160_210.48), 0.005, id="G08 Lambert conic, Michigan, 1051",
    ),
    pytest.param(
        f"+proj=lcc +lat_1=18 +lat_0=18 +lon_0=-77 +k_0=1 +x_0=250000 +y_0=150000 {CLARKE_1866}", CLARKE_1866,
        (-76 - 56 / 60 - 37.26 / 3600, 17 + 55 / 60 + 55.80 / 3600), (255_966.58, 142_493.51), 0.01,
        id="G09 Lambert conic with one parallel, 9801",
    ),
    pytest.param(
        f"+proj=laea +lat_0=52 +lon_0=10 +x_0=4321000 +y_0=3210000 {GRS_80}", GRS_80,
        (5, 50), (3_962_799.45, 2_999_718.85), 0.01, id="G10 Lambert azimuthal equal area, 9820",
    ),
    pytest.param(
        "+proj=aea +lat_1=42.122774 +lat_2=49.01518 +lat_0=45.568977 +lon_0=-84.455955 "
        f"+x_0=1000000 +y_0=1000000 {GRS_80}", GRS_80,
        (-78.75, 42.75), (1_466_493.492, 702_903.006), 0.001, id="G11 Albers equal area, 9822",
    ),
    pytest.param(
        "EPSG:3857", "EPSG:4326", (-100.333_333_33, 24.463_580_28), (-11_169_055.58, 2_810_000.00), 0.01,
        id="G12 Web Mercator, 1024",
    ),
    pytest.param(
        "EPSG:3857", "EPSG:4326", (-100.333_333_33, 24.381_786_94), (-11_169_055.58, 2_800_000.00), 0.01,
        id="G12 Web Mercator, further south",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("grid", "datum", "place", "easting_northing", "within"), EXAMPLES)
def test_worked_examples_there_and_back(
    grid: str, datum: str, place: tuple[float, float], easting_northing: tuple[float, float], within: float
) -> None:
    """A place has the printed easting and northing, and comes back to a tenth of a millimetre."""
    degrees = f"+proj=longlat {datum} +no_defs" if datum.startswith("+") else datum
    system = f"{grid} +no_defs" if grid.startswith("+") else grid
    given = np.array([place], dtype=float)
    moved = move_points(given, degrees, system)
    np.testing.assert_allclose(moved[0], easting_northing, rtol=0, atol=within)
    back = move_points(moved, system, degrees)
    np.testing.assert_allclose(back, given, rtol=0, atol=1e-9)


def test_the_same_by_epsg_code() -> None:
    """EPSG:3035 is method 9820 with the parameters of the example."""
    moved = move_points(np.array([[5.0, 50.0]]), "EPSG:4258", "EPSG:3035")
    np.testing.assert_allclose(moved[0], (3_962_799.45, 2_999_718.85), rtol=0, atol=0.01)
