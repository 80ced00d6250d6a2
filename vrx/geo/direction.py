"""How far away a place is, and in which direction.

Source: geodesics on the WGS 84 ellipsoid by [Karney2013]_, through pyproj.
"""

from __future__ import annotations

from typing import Final

from pyproj import Geod

_WGS84: Final = Geod(ellps="WGS84")
_WINDS: Final = (
    "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west",
)  # fmt: skip


def distance_and_azimuth(start: tuple[float, float], end: tuple[float, float]) -> tuple[float, float]:
    """Return the shortest distance between two places in metres, and the direction at the start.

    Parameters
    ----------
    start, end : tuple of float
        Longitude and latitude in degrees on WGS 84.

    Returns
    -------
    distance_m : float
    azimuth : float
        In degrees clockwise from true north, 0 <= azimuth < 360; 0 where the places are one.
    """
    azimuth, _, distance = _WGS84.inv(*start, *end)
    # A hair west of north is 360 once it is rounded.
    turned = float(azimuth) % 360 % 360
    return float(distance), turned if distance else 0.0


def wind_of(azimuth: float) -> str:
    """Return a direction as people say it: ``north-east`` for 30 to 60 degrees or so.

    Examples
    --------
    >>> [wind_of(azimuth) for azimuth in (0, 22.4, 22.6, 180, 350)]
    ['north', 'north', 'north-east', 'south', 'north']
    """
    return _WINDS[round(azimuth / 45) % 8]
