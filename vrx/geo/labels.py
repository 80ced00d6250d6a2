"""Places for labels: where in a polygon an upright box fits, so that what is written there stays inside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

_CHORD_HEIGHTS: Final = np.arange(1, 16) / 16
_MOST_CHORDS: Final = 6
# A circle's centre need not be found closer than this share of a shape's thickness.
_TOLERANCE: Final = 0.1

# The centroid is the better middle where about as much is free around it as anywhere, as in a straight strip.
_CENTRAL: Final = 0.85


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxPlaces:
    """Where boxes fit.

    Attributes
    ----------
    chosen : int64 array, shape (n_shapes,)
        Which of a shape's sizes fits, -1 where none was found to.
    centres : float64 array, shape (n_shapes, 2)
        Centre of the box; NaN where none fits.
    """

    chosen: NDArray[np.int64]
    centres: NDArray[np.float64]


def place_boxes(shapes: NDArray[np.object_], sizes: NDArray[np.float64]) -> BoxPlaces:
    """Find in each polygon the first of several boxes that fits wholly inside, and a place for it.

    Parameters
    ----------
    shapes : object array, shape (n_shapes,)
        Valid polygons or multipolygons; nothing fits into an empty one or None.
    sizes : float64 array, shape (n_shapes, n_sizes, 2)
        Widths and heights, the preferred first; NaN where a shape has fewer.

    Notes
    -----
    A box is tried at the centroid, if about as much is free around it as anywhere, then at the centre of the largest
    inscribed circle, then where that circle is with x squeezed so that
    the last box is a square (long and bent shapes), then in the middle of the longest level chords. A box that
    fits only somewhere else is not found; one that is found is inside, which is tested exactly.
    Source: common practice for the centre of the largest circle; the rest is ours.
    """
    found = BoxPlaces(chosen=np.full(len(shapes), -1), centres=np.full((len(shapes), 2), np.nan))
    there = np.flatnonzero(~shapely.is_missing(shapes) & ~shapely.is_empty(shapes) & (shapely.area(shapes) > 0))
    if not len(there):
        return found
    inner, inner_sizes = shapes[there], sizes[there]
    radius, candidates = _candidates(inner, inner_sizes)
    possible = _may_fit(inner, inner_sizes, radius)
    shapely.prepare(inner)
    chosen, centres = found.chosen[there], found.centres[there]
    for size in range(sizes.shape[1]):
        for candidate in range(candidates.shape[1]):
            at = np.flatnonzero((chosen < 0) & possible[:, size] & ~np.isnan(candidates[:, candidate, 0]))
            fits = at[shapely.contains(inner[at], boxes(candidates[at, candidate], inner_sizes[at, size]))]
            chosen[fits], centres[fits] = size, candidates[fits, candidate]
    found.chosen[there], found.centres[there] = chosen, centres
    return found


def boxes(centres: NDArray[np.float64], sizes: NDArray[np.float64]) -> NDArray[np.object_]:
    """Return upright rectangles from centres and from widths and heights, both of shape (n, 2)."""
    low, high = centres - sizes / 2, centres + sizes / 2
    made: NDArray[np.object_] = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    return made


def _may_fit(shapes: NDArray[np.object_], sizes: NDArray[np.float64], radius: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which boxes could fit at all, shape (n_shapes, n_sizes): most that can't are known without a test."""
    bounds = shapely.bounds(shapes)
    extent = bounds[:, 2:] - bounds[:, :2]
    small: NDArray[np.bool_] = (sizes <= extent[:, None, :]).all(axis=2)  # NaN is not small
    small &= sizes.prod(axis=2) <= shapely.area(shapes)[:, None]
    small &= sizes.min(axis=2) / 2 <= radius[:, None] * (1 + 2 * _TOLERANCE)
    return small


def _candidates(
    shapes: NDArray[np.object_], sizes: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the radius of each shape's largest circle, and centres to try, shape (n_shapes, n, 2), NaN for none."""
    offered = ~np.isnan(sizes[:, :, 0])
    last = sizes.shape[1] - 1 - np.argmax(offered[:, ::-1], axis=1)
    smallest = sizes[np.arange(len(shapes)), last]
    squeeze = np.where(offered.any(axis=1), smallest[:, 1] / smallest[:, 0], 1.0)
    centre, radius = _largest_circles(shapes)
    squeezed, _ = _largest_circles(_squeezed(shapes, squeeze))
    squeezed[:, 0] /= squeeze
    middle = shapely.get_coordinates(shapely.centroid(shapes))
    inside = shapely.contains_xy(shapes, middle[:, 0], middle[:, 1])
    clear = shapely.distance(shapely.boundary(shapes), shapely.points(middle))
    middle[~inside | (clear < _CENTRAL * radius)] = np.nan
    return radius, np.concatenate((middle[:, None], centre[:, None], squeezed[:, None], _chord_middles(shapes)), axis=1)


def _squeezed(shapes: NDArray[np.object_], factor: NDArray[np.float64]) -> NDArray[np.object_]:
    points, owner = shapely.get_coordinates(shapes, return_index=True)
    points[:, 0] *= factor[owner]
    made: NDArray[np.object_] = shapely.set_coordinates(shapes.copy(), points)
    return made


def _largest_circles(shapes: NDArray[np.object_]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    thickness = 2 * shapely.area(shapes) / shapely.length(shapes)
    radii = shapely.maximum_inscribed_circle(shapes, tolerance=_TOLERANCE * thickness)
    ends = shapely.get_coordinates(radii).reshape(len(shapes), 2, 2)
    return ends[:, 0].copy(), np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)


def _chord_middles(shapes: NDArray[np.object_]) -> NDArray[np.float64]:
    """Return the middles of each shape's longest level chords, the longest first, shape (n_shapes, n, 2)."""
    begin, end, owner = _edges(shapes)
    bounds = shapely.bounds(shapes)
    level = bounds[:, 1, None] + (bounds[:, 3] - bounds[:, 1])[:, None] * _CHORD_HEIGHTS
    y = level[owner]
    # Half-open, so that a level through a vertex is crossed once there.
    edge, line = np.nonzero((begin[:, 1, None] <= y) != (end[:, 1, None] <= y))
    height = y[edge, line]
    x = begin[edge, 0] + (height - begin[edge, 1]) * (end[edge, 0] - begin[edge, 0]) / (end[edge, 1] - begin[edge, 1])
    order = np.lexsort((x, line, owner[edge]))
    pairs = x[order].reshape(-1, 2)
    whose, height = owner[edge][order][::2], height[order][::2]
    length = pairs[:, 1] - pairs[:, 0]
    order = np.lexsort((height, -length, whose))
    rank = np.arange(len(order)) - np.searchsorted(whose[order], whose[order])
    kept = order[rank < _MOST_CHORDS]
    middles = np.full((len(shapes), _MOST_CHORDS, 2), np.nan)
    middles[whose[kept], rank[rank < _MOST_CHORDS]] = np.column_stack((pairs[kept].mean(axis=1), height[kept]))
    return middles


def _edges(
    shapes: NDArray[np.object_],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    parts, part_owner = shapely.get_parts(shapes, return_index=True)
    rings, ring_owner = shapely.get_rings(parts, return_index=True)
    points, point_owner = shapely.get_coordinates(rings, return_index=True)
    same = point_owner[:-1] == point_owner[1:]
    return points[:-1][same], points[1:][same], part_owner[ring_owner[point_owner[:-1][same]]]
