"""Areas and lengths: geodesic on the WGS 84 ellipsoid, and planar in a frame or grid.

Sources: geodesic areas by [Karney2013]_ through pyproj; the local frame is the Lambert azimuthal equal-area
projection, [GN7-2]_ method 9820.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import Geod
from shapely.geometry.base import BaseGeometry

from vrx.geo.crs import WGS84, move_shapes, parse_crs
from vrx.model.zone_map import Frame

_WGS84_GEOD = Geod(ellps="WGS84")

# Up to here from the frame's origin planar area differs from geodesic area by less than 2e-7.
_FAR_M = 8_000.0


def geodesic_area(shape: BaseGeometry) -> float:
    """Return the geodesic area of a polygon or multipolygon in longitude and latitude, in m2.

    Edges are geodesics. Rings may wind either way; holes count off. Anything without area gives 0.

    Notes
    -----
    Rounding costs up to 2e-5 m2 an edge, whatever the size of the shape: less than 1e-9 of a field of 10 ha with
    five edges, and much of a sliver. Source: [Karney2013]_, through pyproj; measured against the same formula with
    200 bits.
    """
    total = 0.0
    for part in shapely.get_parts(shape):
        if part.geom_type != "Polygon" or part.is_empty:
            continue
        total += _ring_area(part.exterior) - sum(_ring_area(hole) for hole in part.interiors)
    return total


def _ring_area(ring: BaseGeometry) -> float:
    # The sign tells the winding, which says nothing here: what is a hole is known.
    points = shapely.get_coordinates(ring)
    area, _ = _WGS84_GEOD.polygon_area_perimeter(points[:, 0], points[:, 1])
    return abs(float(area))


def line_length(line: BaseGeometry) -> float:
    """Return the geodesic length of a line in longitude and latitude, in m."""
    points = shapely.get_coordinates(line)
    return float(_WGS84_GEOD.line_length(points[:, 0], points[:, 1]))


def true_areas(shapes: NDArray[np.object_], frame: Frame) -> NDArray[np.float64]:
    """Return the areas of shapes in a local frame, in m2, within 2e-7 of their geodesic areas.

    Planar area in the frame near its origin; Karney's algorithm for shapes that reach further than 8 km.
    """
    areas: NDArray[np.float64] = shapely.area(shapes)
    bounds = shapely.bounds(shapes)
    with np.errstate(invalid="ignore"):
        far = np.abs(bounds).max(axis=1) > _FAR_M
    if far.any():
        moved = move_shapes(shapes[far], frame.crs, WGS84)
        areas = areas.copy()
        areas[far] = [geodesic_area(shape) for shape in moved]
    return areas


def grid_areas(shapes: NDArray[np.object_], frame: Frame, grid_crs: str) -> NDArray[np.float64]:
    """Return the planar areas of shapes in a local frame, measured in a projected CRS, in m2.

    A grid in feet is measured in its own feet: they are turned into metres by the exact length of that foot.
    """
    metres = float(parse_crs(grid_crs).axis_info[0].unit_conversion_factor or 1.0)
    # Through WGS 84, on which the frame stands: PROJ takes longer to search for a direct way than to go this one.
    on_grid = move_shapes(move_shapes(shapes, frame.crs, WGS84), WGS84, grid_crs)
    areas: NDArray[np.float64] = shapely.area(on_grid) * metres**2
    return areas


def width_m(shapes: NDArray[np.object_]) -> NDArray[np.float64]:
    """Return twice area over perimeter: the width of a long thin shape, and half the side of a square."""
    perimeter = shapely.length(shapes)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(perimeter > 0, 2 * shapely.area(shapes) / perimeter, 0.0)


def rectangle_width_m(shapes: NDArray[np.object_]) -> NDArray[np.float64]:
    """Return the width of the rectangle with the area and perimeter of a shape; of a square where none has them.

    Examples
    --------
    >>> rectangle_width_m(np.array([shapely.box(0, 0, 8, 11), shapely.box(0, 0, 0.5, 200)])).round(9).tolist()
    [8.0, 0.5]
    """
    # Width and length are half of the perimeter together, and the area multiplied.
    quarter, area = shapely.length(shapes) / 4, shapely.area(shapes)
    width: NDArray[np.float64] = quarter - np.sqrt(np.maximum(quarter**2 - area, 0))
    return np.where(quarter**2 > area, width, np.sqrt(area))
