"""A point inside a shape, to ask of it what holds for the whole shape."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

# A point nearer to the border than this share of the shape's width says nothing for certain: it may lie in a spike
# as wide as a rounding, which belongs to the shape and, within that rounding, to its neighbour as well.
_CLEAR_SHARE = 1e-3
_MOST_LEVELS = 32


def points_inside(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    """Return a point inside each polygon, well away from its border.

    A polygon whose width is about a rounding of its coordinates may hold no such point: a vertex stands for it.
    """
    points: NDArray[np.object_] = shapely.point_on_surface(shapes)
    # GEOS looks along one line, half-way up. Where a shape is hair-thin just there, another place is better.
    width = 2 * shapely.area(shapes) / shapely.length(shapes)
    clear = shapely.distance(points, shapely.boundary(shapes)) > _CLEAR_SHARE * width
    for at in np.flatnonzero(~(clear & shapely.contains_properly(shapes, points))).tolist():
        points[at] = _clearest(shapes[at]) or points[at]
    return points


def _clearest(shape: BaseGeometry) -> BaseGeometry | None:
    """Return the point farthest from the border among the middles of the widest stretch at some levels."""
    points, ring = shapely.get_coordinates(shapely.get_rings(shape), return_index=True)
    same = ring[1:] == ring[:-1]
    begin, end = points[:-1][same], points[1:][same]
    heights = np.unique(points[:, 1])
    gaps = np.diff(heights)
    # Between vertices, where most room is from one to the next.
    roomy = np.sort(np.argsort(-gaps, kind="stable")[:_MOST_LEVELS])
    found = []
    for level in (heights[roomy] + gaps[roomy] / 2).tolist():
        crossed = (begin[:, 1] > level) != (end[:, 1] > level)
        (x0, y0), (x1, y1) = begin[crossed].T, end[crossed].T
        stretches = np.sort(x0 + (level - y0) / (y1 - y0) * (x1 - x0)).reshape(-1, 2)
        if len(stretches):
            found.append((stretches[np.argmax(np.diff(stretches, axis=1))].mean(), level))
    if not found:
        return None
    middles = shapely.points(np.array(found))
    best: BaseGeometry = middles[np.argmax(shapely.distance(middles, shapely.boundary(shape)))]
    return best
