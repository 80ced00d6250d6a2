"""Noding: long edges get the vertices that neighbours have on them, before anything is projected.

A straight edge in one CRS is bent in another. Where a neighbour has a vertex on a long edge, the two would
part by that bend (11 mm at the middle of 800 m) and leave slivers.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.geo.points import distinct_points


def node_long_edges(
    shapes: NDArray[np.object_], *, longer_than: float, within: float, beside: Iterable[NDArray[np.float64]] = ()
) -> NDArray[np.object_]:
    """Insert the vertices of all shapes, and of what lies beside them, into the long edges that they lie on.

    Parameters
    ----------
    shapes : object array of Polygon, MultiPolygon or None
    longer_than : float
        Edges up to this length (in the units of the coordinates) stay as they are.
    within : float
        A vertex this near to an edge lies on it.
    beside : iterable of float64 arrays, shape (n, 2)
        Vertices of other layers, in the same coordinates; asked for only where there are long edges.
    """
    points, owner = shapely.get_coordinates(shapes, return_index=True)
    if len(points) == 0:
        return shapes
    reach = np.hypot(*np.diff(points, axis=0).T)
    touched = np.unique(owner[:-1][(reach > longer_than) & (owner[1:] == owner[:-1])])
    if len(touched) == 0:
        return shapes
    noded = shapes.copy()
    vertices, _ = distinct_points(np.concatenate((points, *beside)))
    noded[touched] = node_edges(shapes[touched], vertices, within=within, longer_than=longer_than)
    return noded


def node_edges(
    shapes: NDArray[np.object_], vertices: NDArray[np.float64], *, within: float, longer_than: float = 0.0
) -> NDArray[np.object_]:
    """Insert vertices, shape (n, 2), into the edges that they lie on, in order along each edge.

    A vertex that lies within ``within`` of an edge's end is taken for that end and left out. Polygons without
    a new vertex come out as they are.
    """
    if not len(shapes) or not len(vertices):
        return shapes
    kind, points, offsets = shapely.to_ragged_array(shapes)
    start = np.ones(len(points), dtype=bool)
    start[offsets[0][1:] - 1] = False  # the last point of a ring begins no edge
    begin = np.flatnonzero(start)
    course = points[begin + 1] - points[begin]
    length = np.hypot(course[:, 0], course[:, 1])
    kept = length > max(longer_than, 2 * within)
    begin, course, length = begin[kept], course[kept], length[kept]
    edges = shapely.linestrings(np.stack((points[begin], points[begin + 1]), axis=1))
    edge, vertex = shapely.STRtree(shapely.points(vertices)).query(edges, predicate="dwithin", distance=within)
    along = ((vertices[vertex] - points[begin[edge]]) * course[edge]).sum(axis=1) / length[edge]
    inner = (along > within) & (along < length[edge] - within)
    if not inner.any():
        return shapes
    edge, vertex, along = edge[inner], vertex[inner], along[inner]
    order = np.lexsort((along, edge))
    place = begin[edge[order]] + 1
    longer = np.insert(points, place, vertices[vertex[order]], axis=0)
    rings = offsets[0] + np.searchsorted(place, offsets[0])
    rebuilt = shapely.from_ragged_array(kind, longer, (rings, *offsets[1:]))
    grown = shapely.get_num_coordinates(rebuilt) != shapely.get_num_coordinates(shapes)
    return np.where(grown, rebuilt, shapes)
