"""Coordinate reference systems: reading their names, the field's local frame, and moving shapes between them."""

from __future__ import annotations

from functools import lru_cache
from math import cos, radians, sin

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError
from pyproj.network import set_network_enabled  # type: ignore[attr-defined]  # it is meant to be public

from vrx.errors import CrsError
from vrx.model.zone_map import Frame

WGS84 = "EPSG:4326"
# Shifts from a server would make another map of the same input, and a build needs no network.
set_network_enabled(active=False)
_MARGIN_LONGITUDE = 6.0  # offices use one UTM zone for a farm that reaches into the next
_MARGIN_LATITUDE = 4.0
_SAME_DEGREES = 1e-7  # a centimetre on the ground
_NEAR_DEGREES = 1e-3
# The ellipsoid of WGS 84 (EPSG 7030).
_SEMI_MAJOR_M = 6_378_137.0
_ECCENTRICITY_2 = (2 - 1 / 298.257223563) / 298.257223563
DATUM_DOUBT_M = 1.0
"""A shift of datum that is known no better is told: WGS 84 itself, as maps use it, is known to a metre or two."""


def parse_crs(text: str) -> CRS:
    """Read a CRS from ``EPSG:code``, WKT or a PROJ text.

    Raises
    ------
    CrsError
        Nothing that PROJ knows.
    """
    try:
        return _parsed(text)
    except CRSError:
        shown = text if len(text) <= 60 else text[:57] + "..."
        raise CrsError(
            f"The coordinate reference system {shown!r} is not known.",
            remedy='Give an EPSG code, such as crs = "EPSG:32614".',
        ) from None


@lru_cache(maxsize=64)
def _parsed(text: str) -> CRS:
    return CRS.from_user_input(text)


@lru_cache(maxsize=64)
def _transformer(source: str, target: str) -> Transformer:
    return Transformer.from_crs(parse_crs(source), parse_crs(target), always_xy=True)


def move_points(points: NDArray[np.float64], source: str, target: str) -> NDArray[np.float64]:
    """Transform coordinates, shape (n, 2), x (easting or longitude) first.

    Raises
    ------
    CrsError
        A point lies where one of the two systems is not defined.
    """
    if len(points) == 0:
        return points
    if source != target and _inverse_is_a_series(source) and _inverse_is_a_series(target):
        # The way back that shows what was missed would be inexact as well.
        between = _geographic(source)
        return move_points(move_points(points, source, between), between, target)
    moved = _moved(points, source, target)
    if _inverse_is_a_series(source):
        # Once more from where the way back shows what was missed: exact to a few nanometres.
        moved = _moved(2 * points - _moved(moved, target, source), source, target)
    return moved


@lru_cache(maxsize=64)
def _inverse_is_a_series(text: str) -> bool:
    """Tell whether PROJ inverts a projection by a series of the authalic latitude, which is off by up to 1.6 mm."""
    operation = parse_crs(text).coordinate_operation
    return operation is not None and operation.method_name.startswith(("Lambert Azimuthal", "Lambert Cylindrical"))


@lru_cache(maxsize=64)
def _geographic(text: str) -> str:
    """Return the system of longitude and latitude that a projection stands on."""
    geodetic = parse_crs(text).geodetic_crs
    return WGS84 if geodetic is None else geodetic.to_wkt()


def _moved(points: NDArray[np.float64], source: str, target: str) -> NDArray[np.float64]:
    try:
        x, y = _transformer(source, target).transform(points[:, 0], points[:, 1], errcheck=False)
    except ProjError as err:
        raise CrsError(
            f"Coordinates can't be brought from {short_name(source)} to {short_name(target)}: {err}.",
            remedy="Check that the file's CRS is the one it was made in.",
        ) from None
    moved = np.column_stack((x, y))
    if not np.isfinite(moved).all():
        at = int(np.flatnonzero(~np.isfinite(moved).all(axis=1))[0])
        raise CrsError(
            f"The point {points[at, 0]:.6g}, {points[at, 1]:.6g} lies outside {short_name(source)}.",
            remedy="Check that the file's CRS is the one it was made in, and the order of x and y.",
        )
    return moved


def move_shapes(shapes: NDArray[np.object_], source: str, target: str) -> NDArray[np.object_]:
    """Transform the vertices of shapes (2-D); edges stay straight between them."""
    if source == target:
        return shapes
    moved: NDArray[np.object_] = shapely.transform(shapes, lambda points: move_points(points, source, target))
    return moved


def shift_accuracy(text: str, longitude: float, latitude: float) -> float:
    """Return to how many metres the shift from a CRS's datum to WGS 84 is known at a place.

    Returns
    -------
    float
        0 where nothing is shifted, as with NAD83 and ETRS89, whose coordinates are taken for those of WGS 84; and
        where PROJ does not know it.

    Notes
    -----
    Source: the accuracy that the EPSG dataset gives for the operation that PROJ takes there.
    """
    crs = parse_crs(text)
    base = crs.geodetic_crs
    shift = Transformer.from_crs(parse_crs(WGS84), crs if base is None else base, always_xy=True)
    moved = np.subtract(shift.transform(longitude, latitude), (longitude, latitude))
    if np.abs(moved).max() < _SAME_DEGREES:
        return 0.0
    try:
        return max(float(shift.get_last_used_operation().accuracy), 0.0)
    except ProjError:
        return 0.0


def region_of(text: str) -> str:
    """Return what a CRS is made for, as its registry words it; empty where that is not said."""
    region = parse_crs(text).area_of_use
    return region.name if region else ""


def is_made_for(text: str, longitude: float, latitude: float) -> bool:
    """Tell whether a place lies in the region of a CRS or in a generous margin around it; any where none is said."""
    region = parse_crs(text).area_of_use
    if region is None:
        return True
    west, south, east, north = region.bounds  # it may cross the date line
    width = (east - west) % 360 or 360.0
    east_of_edge = (longitude - west + _MARGIN_LONGITUDE) % 360
    level = south - _MARGIN_LATITUDE <= latitude <= north + _MARGIN_LATITUDE
    return bool(level and (east_of_edge <= width + 2 * _MARGIN_LONGITUDE or width + 2 * _MARGIN_LONGITUDE >= 360))


def areal_scale(projected: str, longitude: float, latitude: float) -> float:
    """Return how many times larger a small piece of ground comes out on a projected map than it is, in m2.

    Notes
    -----
    From how the map moves places a hundred metres around, beside the lengths of a degree on the ellipsoid. The factor
    that PROJ gives for Web Mercator is the one of a sphere, 0.13 % too small at 40 degrees.
    """
    d = _NEAR_DEGREES
    around = np.array([[longitude + x, latitude + y] for x, y in ((d, 0), (-d, 0), (0, d), (0, -d))])
    east, west, north, south = move_points(around, WGS84, projected)
    (a, b), (c, e) = (east - west) / radians(2 * d), (north - south) / radians(2 * d)
    metres = float(parse_crs(projected).axis_info[0].unit_conversion_factor or 1.0)
    # A radian of latitude is one radius of curvature, of longitude the other one times the cosine of the latitude.
    flat = 1 - _ECCENTRICITY_2 * sin(radians(latitude)) ** 2
    ground = _SEMI_MAJOR_M**2 * (1 - _ECCENTRICITY_2) / flat**2 * cos(radians(latitude))
    return float(abs(a * e - b * c)) * metres**2 / ground


def frame_at(longitude: float, latitude: float) -> Frame:
    """Return the local frame around a place, its origin rounded to 1e-4 degrees (about 10 m)."""
    return Frame(round(longitude, 4), round(latitude, 4))


def utm_epsg(longitude: float, latitude: float) -> str:
    """Return the UTM zone of a place on WGS 84, as ``EPSG:code``; the exceptions of Norway and Svalbard included.

    Source: the zones of the Universal Transverse Mercator grid; EPSG codes 32601-32660 and 32701-32760.
    """
    zone = int((longitude + 180) // 6) % 60 + 1
    if 56 <= latitude < 64 and 3 <= longitude < 12:
        zone = 32
    elif 72 <= latitude < 84 and 0 <= longitude < 42:
        zone = 31 + 2 * int((longitude + 3) // 12)
    return f"EPSG:{(32600 if latitude >= 0 else 32700) + zone}"


def short_name(text: str) -> str:
    """Return a CRS as people are told it: ``EPSG:32614``, or its name where it has no code."""
    if len(text) <= 12:
        return text
    try:
        crs = _parsed(text)
    except CRSError:
        return text[:40]
    authority = crs.to_authority(min_confidence=70)
    return ":".join(authority) if authority else crs.name
