"""A point inside a shape, to ask of it what holds for the whole shape."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry


def points_inside(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    """Return a point inside each polygon, not on its border.

    A polygon whose width is about a rounding of its coordinates may hold no such point: a vertex stands for it.
    """
    points: NDArray[np.object_] = shapely.point_on_surface(shapes)
    # GEOS looks along one line, half-way up. Where a shape is hair-thin just there, it gives a vertex instead.
    for at in np.flatnonzero(~shapely.contains_properly(shapes, points)).tolist():
        points[at] = _middle_of_largest_triangle(shapes[at]) or points[at]
    return points


def _middle_of_largest_triangle(shape: BaseGeometry) -> BaseGeometry | None:
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(shape))
    if not len(triangles):
        return None
    return shapely.centroid(triangles[np.argmax(shapely.area(triangles))])
