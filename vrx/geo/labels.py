"""Places for labels: where in a polygon an upright box fits, so that what is written there stays inside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

# Levels at which a free band is sought, as shares of the height that the box may move by.
_LEVELS: Final = np.linspace(0, 1, 25)
# A circle's centre need not be found closer than this share of a shape's thickness.
_TOLERANCE: Final = 0.1

# The centroid is the better middle where about as much is free around it as anywhere, as in a straight strip.
_CENTRAL: Final = 0.85

# How much larger a box has to be to go where there is just room for it, instead of a smaller one in the middle.
_WORTH_IT: Final = 2.0


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
    Boxes are tried at the centroid, if about as much is free around it as anywhere, at the centre of the largest
    inscribed circle, and where that circle is with x squeezed so that the last box is a square. Where none fits, or
    only one half as large or less, they are tried in the middle of the widest free stretch of 25 level bands as high
    as the box. A box that fits only between these levels is not found; one that is found is inside, which is tested.
    Source: common practice for the centre of the largest circle; the rest is ours.
    """
    found = BoxPlaces(chosen=np.full(len(shapes), -1), centres=np.full((len(shapes), 2), np.nan))
    there = np.flatnonzero(~shapely.is_missing(shapes) & ~shapely.is_empty(shapes) & (shapely.area(shapes) > 0))
    if not len(there):
        return found
    search = _Search(shapes=shapes[there], sizes=sizes[there])
    search.try_centres()
    search.try_bands()
    found.chosen[there], found.centres[there] = search.chosen, search.centres
    return found


class _Search:
    """What was found so far for each of some polygons."""

    def __init__(self, shapes: NDArray[np.object_], sizes: NDArray[np.float64]) -> None:
        shapely.prepare(shapes)
        self.shapes, self.sizes = shapes, sizes
        self.chosen = np.full(len(shapes), -1)
        self.centres = np.full((len(shapes), 2), np.nan)
        radius, self.candidates = _candidates(shapes, sizes)
        self.possible = _may_fit(shapes, sizes, radius)

    def try_centres(self) -> None:
        """Take the first size that fits at one of the places that look best."""
        for size in range(self.sizes.shape[1]):
            for candidate in range(self.candidates.shape[1]):
                at = np.flatnonzero((self.chosen < 0) & self.possible[:, size])
                self._take(at, size, self.candidates[at, candidate])

    def try_bands(self) -> None:
        """Take the first size that fits anywhere in a band, where it is worth a place aside."""
        area = self.sizes.prod(axis=2)
        had = np.where(self.chosen < 0, 0.0, area[np.arange(len(area)), self.chosen])
        worth = self.possible & (area >= _WORTH_IT * had[:, None])
        edges = _edges(self.shapes)
        open_ = worth.any(axis=1)
        for size in range(self.sizes.shape[1]):
            at = np.flatnonzero(open_ & worth[:, size])
            if len(at):
                middles = _in_bands(self.shapes[at], edges.of(at, len(self.shapes)), self.sizes[at, size])
                open_[self._take(at, size, middles)] = False

    def _take(self, at: NDArray[np.int64], size: int, tried: NDArray[np.float64]) -> NDArray[np.int64]:
        """Keep the places, of shapes ``at``, at which a box is inside; return whose these are."""
        known = ~np.isnan(tried[:, 0])
        at, tried = at[known], tried[known]
        fits = shapely.contains(self.shapes[at], boxes(tried, self.sizes[at, size]))
        taken: NDArray[np.int64] = at[fits]
        self.chosen[taken], self.centres[taken] = size, tried[fits]
        return taken


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
    return radius, np.stack((middle, centre, squeezed), axis=1)


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


def _in_bands(shapes: NDArray[np.object_], edges: _Edges, sizes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the middle of each shape's widest free stretch in level bands as high as its box, NaN where none is.

    A stretch is free where no edge comes into the band: what is between two such edges is all inside, or all outside.
    """
    bounds = shapely.bounds(shapes)
    room = np.maximum(bounds[:, 3] - bounds[:, 1] - sizes[:, 1], 0.0)
    level = (bounds[:, 1] + sizes[:, 1] / 2)[:, None] + room[:, None] * _LEVELS
    low, high = (level + sign * sizes[:, 1, None] / 2 for sign in (-1, 1))
    edge, at = np.nonzero((edges.low[:, None] < high[edges.owner]) & (edges.high[:, None] > low[edges.owner]))
    whose = edges.owner[edge]
    left, right = edges.reach(edge, low[whose, at], high[whose, at])
    group = whose * len(_LEVELS) + at
    order = np.lexsort((left, group))
    group, left, right = group[order], left[order], right[order]
    # How far the edges up to here reach: what starts beyond that leaves a gap. The groups lie far apart for this.
    apart = group * (2 * np.ptp(bounds[:, [0, 2]]) + 1)
    reached = np.maximum.accumulate(right + apart) - apart
    gap = np.flatnonzero((group[1:] == group[:-1]) & (left[1:] - reached[:-1] >= sizes[group[1:] // len(_LEVELS), 0]))
    width, middle = left[gap + 1] - reached[gap], (left[gap + 1] + reached[gap]) / 2
    shape, at = np.divmod(group[gap], len(_LEVELS))
    y = level[shape, at]
    inside = shapely.contains_xy(shapes[shape], middle, y)
    found = np.full((len(shapes), 2), np.nan)
    order = np.lexsort((np.abs(_LEVELS[at] - 0.5), -width, shape))
    order = order[inside[order]]
    first = order[np.unique(shape[order], return_index=True)[1]]
    found[shape[first]] = np.column_stack((middle[first], y[first]))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Edges:
    """Edges of polygons: lower and upper end, and which polygon each is of."""

    below: NDArray[np.float64]
    above: NDArray[np.float64]
    owner: NDArray[np.int64]

    @property
    def low(self) -> NDArray[np.float64]:
        return self.below[:, 1]

    @property
    def high(self) -> NDArray[np.float64]:
        return self.above[:, 1]

    def of(self, owners: NDArray[np.int64], count: int) -> _Edges:
        """Return the edges of some polygons, numbered anew."""
        number = np.full(count, -1)
        number[owners] = np.arange(len(owners))
        mine = number[self.owner]
        kept = mine >= 0
        return _Edges(below=self.below[kept], above=self.above[kept], owner=mine[kept])

    def reach(
        self, edge: NDArray[np.int64], low: NDArray[np.float64], high: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return from where to where edges go, west to east, between two heights."""
        (x0, y0), (x1, y1) = self.below[edge].T, self.above[edge].T
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = (x1 - x0) / (y1 - y0)
            one = np.where(low > y0, x0 + (low - y0) * slope, x0)
            other = np.where(high < y1, x0 + (high - y0) * slope, x1)
        return np.minimum(one, other), np.maximum(one, other)


def _edges(shapes: NDArray[np.object_]) -> _Edges:
    parts, part_owner = shapely.get_parts(shapes, return_index=True)
    rings, ring_owner = shapely.get_rings(parts, return_index=True)
    points, point_owner = shapely.get_coordinates(rings, return_index=True)
    same = point_owner[:-1] == point_owner[1:]
    begin, end = points[:-1][same], points[1:][same]
    up = (begin[:, 1] <= end[:, 1])[:, None]
    return _Edges(
        below=np.where(up, begin, end),
        above=np.where(up, end, begin),
        owner=part_owner[ring_owner[point_owner[:-1][same]]],
    )
