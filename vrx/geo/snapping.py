"""Snapping: vertices and edges that lie within a hair of each other are brought together.

Zones and boundary drawn in different CRS, or rounded to different decimals, run beside each other a millimetre
apart. Cutting along both would leave slivers as long as the field.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.geo.noding import node_edges
from vrx.geo.points import distinct_points
from vrx.geo.repair import repair

_ON_OUTLINE = 1e-6


def snap_together(
    ground: BaseGeometry, parts: NDArray[np.object_], near: BaseGeometry, *, within: float
) -> tuple[BaseGeometry, NDArray[np.object_]]:
    """Bring polygons and ground together where they nearly touch.

    Vertices of polygons move onto a vertex of the ground, else onto its outline and together there, else onto the
    first vertex of another polygon: each time by at most ``within``. The ground keeps its course and only gets
    vertices on its edges.

    Parameters
    ----------
    parts : object array, shape (n,)
        Valid polygons.
    near : shapely geometry
        Only vertices near it move.
    within : float
        In the units of the coordinates.

    Returns
    -------
    ground, parts
        Both valid; a part that vanishes becomes an empty polygon.
    """
    points, at = distinct_points(shapely.get_coordinates(parts))
    movable = np.zeros(len(points), dtype=bool)
    movable[beside_edges(shapely.points(points), near, 2 * within)] = True
    moved = points.copy()
    moved[movable], landed = _onto_ground(points[movable], ground, within)
    free = np.flatnonzero(movable)[~landed]
    moved[free] = _onto_each_other(points[free], within)
    # The coordinates of all parts, one after another, in their new places.
    snapped = shapely.set_coordinates(parts.copy(), moved[at])
    corners = shapely.get_coordinates(ground)
    vertices, _ = distinct_points(np.concatenate((moved[movable], corners)))
    # Repaired first: a ring that fell together into two points can't even lose its repeated ones.
    sound = shapely.remove_repeated_points(repair(snapped).shapes)
    there = ~shapely.is_missing(sound)
    sound[there] = repair(node_edges(sound[there], vertices, within=within)).shapes
    sound[shapely.is_missing(sound)] = shapely.Polygon()
    on_outline = vertices[beside_edges(shapely.points(vertices), ground, _ON_OUTLINE)]
    return node_edges(np.array([ground], dtype=object), on_outline, within=_ON_OUTLINE)[0], sound


def beside_edges(shapes: NDArray[np.object_], outline: BaseGeometry, within: float) -> NDArray[np.int64]:
    """Return the positions of the shapes that lie within a distance of a shape's edges."""
    points, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(outline)), return_index=True)
    if not len(points):  # lines have no rings
        points, ring = shapely.get_coordinates(shapely.get_parts(outline), return_index=True)
    same = ring[1:] == ring[:-1]
    edges = shapely.linestrings(np.stack((points[:-1][same], points[1:][same]), axis=1))
    found: NDArray[np.int64] = np.unique(shapely.STRtree(shapes).query(edges, predicate="dwithin", distance=within)[1])
    return found


def _onto_ground(
    points: NDArray[np.float64], ground: BaseGeometry, within: float
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return points put onto the ground's vertices or outline, and which ones lie there now."""
    outline = shapely.boundary(ground)
    corners = shapely.STRtree(shapely.points(distinct_points(shapely.get_coordinates(ground))[0]))
    moved = points.copy()
    shapes = shapely.points(points)
    hit, corner = corners.query_nearest(shapes, max_distance=within, all_matches=False)
    moved[hit] = shapely.get_coordinates(corners.geometries[corner])
    landed = shapely.dwithin(shapes, outline, within)
    landed[hit] = True
    beside = np.setdiff1d(np.flatnonzero(landed), hit)
    there = shapely.get_coordinates(shapely.get_point(shapely.shortest_line(outline, shapes[beside]), 0))
    # Two that land a hair apart would leave a needle between the ground's outline and theirs.
    moved[beside] = _onto_each_other(there, within)
    return moved, landed


def _onto_each_other(points: NDArray[np.float64], within: float) -> NDArray[np.float64]:
    shapes = shapely.points(points)
    one, other = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=within)
    first = np.arange(len(points))
    np.minimum.at(first, one, other)
    return points[first[first]]
