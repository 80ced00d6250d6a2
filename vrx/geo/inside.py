"""A point inside a shape, to ask of it what holds for the whole shape."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

# A point nearer to the border than this share of the shape's width says nothing for certain: it may lie in a spike
# as wide as a rounding, which belongs to the shape and, within that rounding, to its neighbour as well.
_CLEAR_SHARE = 1e-3


def points_inside(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    """Return a point inside each polygon, well away from its border.

    A polygon whose width is about a rounding of its coordinates may hold no such point: a vertex stands for it.
    """
    points: NDArray[np.object_] = shapely.point_on_surface(shapes)
    # GEOS looks along one line, half-way up. Where a shape is hair-thin just there, another place is better.
    width = 2 * shapely.area(shapes) / shapely.length(shapes)
    clear = shapely.distance(points, shapely.boundary(shapes)) > _CLEAR_SHARE * width
    for at in np.flatnonzero(~(clear & shapely.contains_properly(shapes, points))).tolist():
        points[at] = _middle_of_largest_triangle(shapes[at]) or points[at]
    return points


def _middle_of_largest_triangle(shape: BaseGeometry) -> BaseGeometry | None:
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(shape))
    if not len(triangles):
        return None
    return shapely.centroid(triangles[np.argmax(shapely.area(triangles))])
