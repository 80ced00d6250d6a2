"""Noding: long edges get the vertices that neighbours have on them, before anything is projected.

A straight edge in one CRS is bent in another. Where a neighbour has a vertex on a long edge, the two would
part by that bend (11 mm at the middle of 800 m) and leave slivers. Where an edge has to stay as it is, since its
area is what everything is measured by, the neighbours' vertices are put onto it instead.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.geo.crs import move_points, move_shapes
from vrx.geo.points import distinct_points

# Edges that bend less than this are as good as straight.
_BENT = 1e-3
_MOST_SEGMENTS = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class BentEdges:
    """Edges that are straight in one CRS and bent in another one, in coordinates of the other.

    Attributes
    ----------
    courses : object array of LineString, shape (n,)
        As they run.
    ends : float64 array, shape (n, 2, 2)
        Where each one begins and ends.
    """

    courses: NDArray[np.object_]
    ends: NDArray[np.float64]


def bent_edges(shapes: NDArray[np.object_], source: str, target: str, *, longer_than: float) -> BentEdges:
    """Find the edges of shapes that are longer than a length, in units of ``source``, and bent in ``target``."""
    points, ring = shapely.get_coordinates(shapely.get_rings(shapes), return_index=True)
    at = np.flatnonzero((ring[1:] == ring[:-1]) & (np.hypot(*np.diff(points, axis=0).T) > longer_than))
    begin, end = points[at], points[at + 1]
    ends = np.stack((move_points(begin, source, target), move_points(end, source, target)), axis=1)
    bend = np.hypot(*(move_points((begin + end) / 2, source, target) - ends.mean(axis=1)).T)
    bent = bend > _BENT
    courses = shapely.linestrings(np.stack((begin[bent], end[bent]), axis=1))
    # In n segments each bends by the square of n less.
    segments = np.minimum(np.ceil(np.sqrt(bend[bent] / _BENT)), _MOST_SEGMENTS)
    finer = shapely.segmentize(courses, shapely.length(courses) / segments)
    return BentEdges(courses=move_shapes(finer, source, target), ends=ends[bent])


def straighten(shapes: NDArray[np.object_], edges: BentEdges, *, within: float) -> NDArray[np.object_]:
    """Put vertices that lie on the course of a bent edge onto the straight line between its ends."""
    points = shapely.get_coordinates(shapes)
    if not len(points) or not len(edges.ends):
        return shapes
    vertices = shapely.points(points)
    edge, vertex = shapely.STRtree(vertices).query(edges.courses, predicate="dwithin", distance=within)
    along = shapely.line_locate_point(edges.courses[edge], vertices[vertex], normalized=True)[:, None]
    points[vertex] = (1 - along) * edges.ends[edge, 0] + along * edges.ends[edge, 1]
    straight: NDArray[np.object_] = shapely.set_coordinates(shapes.copy(), points)
    return straight


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
