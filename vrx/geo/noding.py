"""Noding: long edges get the vertices that neighbours have on them, before anything is projected.

A straight edge in one CRS is bent in another. Where a neighbour has a vertex on a long edge, the two would
part by that bend (11 mm at the middle of 800 m) and leave slivers.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry


def node_long_edges(shapes: NDArray[np.object_], *, longer_than: float, within: float) -> NDArray[np.object_]:
    """Insert the vertices of all shapes into the long edges that they lie on.

    Parameters
    ----------
    shapes : object array of Polygon, MultiPolygon or None
    longer_than : float
        Edges up to this length (in the units of the coordinates) stay as they are.
    within : float
        A vertex this near to an edge lies on it.
    """
    points, owner = shapely.get_coordinates(shapes, return_index=True)
    if len(points) == 0:
        return shapes
    reach = np.hypot(*np.diff(points, axis=0).T)
    long_edge = (reach > longer_than) & (owner[1:] == owner[:-1])
    touched = np.unique(owner[:-1][long_edge])
    if len(touched) == 0:
        return shapes
    tree = shapely.STRtree(shapely.points(np.unique(points, axis=0)))
    noded = shapes.copy()
    for index in touched:
        noded[index] = _noded(shapes[index], tree, longer_than, within)
    return noded


def _noded(shape: BaseGeometry, tree: shapely.STRtree, longer_than: float, within: float) -> BaseGeometry:
    polygons = []
    for polygon in shapely.get_parts(shape):
        rings = [
            _noded_ring(shapely.get_coordinates(ring), tree, longer_than, within)
            for ring in (polygon.exterior, *polygon.interiors)
        ]
        polygons.append(shapely.Polygon(rings[0], rings[1:]))
    return polygons[0] if shape.geom_type == "Polygon" else shapely.MultiPolygon(polygons)


def _noded_ring(
    ring: NDArray[np.float64], tree: shapely.STRtree, longer_than: float, within: float
) -> NDArray[np.float64]:
    pieces, start = [], 0
    for at in np.flatnonzero(np.hypot(*np.diff(ring, axis=0).T) > longer_than).tolist():
        begin, end = ring[at], ring[at + 1]
        near = tree.query(shapely.LineString([begin, end]), predicate="dwithin", distance=within)
        on_edge = shapely.get_coordinates(tree.geometries[near])
        along = (on_edge - begin) @ (end - begin) / np.dot(end - begin, end - begin)
        clear = within / np.hypot(*(end - begin))
        inner = (along > clear) & (along < 1 - clear)
        pieces += [ring[start : at + 1], on_edge[inner][np.argsort(along[inner])]]
        start = at + 1
    return np.vstack([*pieces, ring[start:]])
