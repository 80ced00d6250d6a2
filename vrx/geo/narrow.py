"""Ground that is narrower than a width: across a direction of travel, or where no circle of that width fits in.

Source: opening of mathematical morphology. Across a direction it goes row by row: what lies on a chord shorter than
the width is lost, and nothing else. Rows are measured at some spacing; a circle is taken with square corners (mitres).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.geo.overlaps import left_over

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# A shape of just the width, drawn to the centimetre, is wide enough; neighbours so near to each other meet.
_SLACK_M: Final = 0.02
_MITRE: Final = 5.0
_ROW_M: Final = 1.0
_ROWS_A_WIDTH: Final = 10
_MOST_ROWS: Final = 5000
# For a circle, shapes are drawn with fewer points: by so small a part of its width they may move.
_SIMPLER: Final = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrow:
    """What is too narrow.

    Attributes
    ----------
    area_m2 : float64 array, shape (n,)
        Of each shape, within a row's height or the simplification of its outline.
    pieces : object array
        Polygons that make up that ground, in the coordinates of the shapes; they may touch.
    """

    area_m2: Floats
    pieces: NDArray[np.object_]


def narrow_ground(shapes: NDArray[np.object_], groups: Ints, width_m: float, *, heading: float | None = None) -> Narrow:
    """Find ground of shapes that is narrower than a width, shapes of one group taken together.

    Parameters
    ----------
    shapes : object array, shape (n,)
        Valid polygons and multipolygons in metres, y pointing north.
    groups : int64 array, shape (n,)
    width_m : float
    heading : float, optional
        Direction of travel in degrees clockwise from north: the width is measured across it. Unless said, ground is
        wide enough where a circle of that width fits in.
    """
    width = width_m - _SLACK_M
    if not len(shapes) or width <= 0:
        return Narrow(area_m2=np.zeros(len(shapes)), pieces=np.empty(0, dtype=object))
    if heading is None:
        return _for_a_circle(shapes, groups, width)
    return _across(shapes, groups, width, heading)


def _for_a_circle(shapes: NDArray[np.object_], groups: Ints, width: float) -> Narrow:
    area, pieces = np.zeros(len(shapes)), []
    for group in np.unique(groups):
        mine = np.flatnonzero(groups == group)
        whole = shapely.simplify(shapely.disjoint_subset_union_all(shapes[mine]), _SIMPLER * width)
        with np.errstate(divide="ignore", invalid="ignore"):  # GEOS divides by the length of edges that vanish
            inner = shapely.buffer(whole, -width / 2, join_style="mitre", mitre_limit=_MITRE)
            wide = shapely.buffer(inner, width / 2, join_style="mitre", mitre_limit=_MITRE)
        lost = np.array(left_over(whole, wide, narrower_than_m=_SIMPLER * width), dtype=object)
        if len(lost):
            at, of = shapely.STRtree(lost).query(shapes[mine], predicate="intersects")
            common = shapely.area(shapely.intersection(shapes[mine][at], lost[of]))
            area += np.bincount(mine[at], weights=common, minlength=len(shapes))
            pieces.append(lost)
    return Narrow(area_m2=area, pieces=np.concatenate(pieces) if pieces else np.empty(0, dtype=object))


def _across(shapes: NDArray[np.object_], groups: Ints, width: float, heading: float) -> Narrow:
    begin, end, owner = _edges(shapes)
    # With travel pointing up, the width is measured from left to right.
    begin, end = _turned(begin, heading), _turned(end, heading)
    low, high = (float(one(begin[:, 1])) for one in (np.min, np.max))
    height = max(min(_ROW_M, width / _ROWS_A_WIDTH), (high - low) / _MOST_ROWS)
    x, row, of = _crossings(begin, end, owner, low + height / 2, height)
    # Each shape is entered and left in turn, row by row.
    order = np.lexsort((x, of, row))
    x, row, of = x[order], row[order][::2], of[order][::2]
    left, right = x[::2], x[1::2]
    order = np.lexsort((left, groups[of], row))
    left, right, row, of = left[order], right[order], row[order], of[order]
    chord, start, stop = _joined(left, right, np.stack([row, groups[of]]))
    short = (stop - start) < width
    lost = short[chord]
    area: Floats = np.zeros(len(shapes))
    np.add.at(area, of[lost], (right - left)[lost] * height)
    first = np.flatnonzero(np.diff(chord, prepend=-1))
    bottom = low + row[first][short] * height
    boxes = np.stack([start[short], bottom, stop[short], bottom + height], axis=1)
    corners = boxes[:, [[0, 1], [2, 1], [2, 3], [0, 3]]]
    turned = _turned(corners.reshape(-1, 2), -heading).reshape(corners.shape)
    return Narrow(area_m2=area, pieces=shapely.polygons(turned))


def _edges(shapes: NDArray[np.object_]) -> tuple[Floats, Floats, Ints]:
    """Return both ends of each edge, and the shape that it belongs to."""
    parts, of_part = shapely.get_parts(shapes, return_index=True)
    rings, of_ring = shapely.get_rings(parts, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    return points[:-1][same], points[1:][same], of_part[of_ring[ring[1:][same]]]


def _turned(points: Floats, degrees: float) -> Floats:
    """Turn points counterclockwise around the origin."""
    c, s = cos(radians(degrees)), sin(radians(degrees))
    turned: Floats = points @ np.array([[c, s], [-s, c]])
    return turned


def _crossings(begin: Floats, end: Floats, owner: Ints, first: float, height: float) -> tuple[Floats, Ints, Ints]:
    """Return where edges cross rows, each row with its lower end: its x, the row and the shape."""
    from_row, to_row = (
        np.ceil((one(begin[:, 1], end[:, 1]) - first) / height).astype(np.int64) for one in (np.minimum, np.maximum)
    )
    count = to_row - from_row
    edge = np.repeat(np.arange(len(begin)), count)
    row = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count) + from_row[edge]
    rise = (first + row * height - begin[edge, 1]) / (end[edge, 1] - begin[edge, 1])
    return begin[edge, 0] + rise * (end[edge, 0] - begin[edge, 0]), row, owner[edge]


def _joined(left: Floats, right: Floats, keys: Ints) -> tuple[Ints, Floats, Floats]:
    """Join stretches of one key that meet, sorted by key and left end: their chord, and each chord's two ends."""
    if not len(left):
        return np.empty(0, dtype=np.int64), left, right
    rank = np.cumsum(np.r_[0, (np.diff(keys, axis=1) != 0).any(axis=0)])
    # Moved apart key by key, so that no stretch reaches into the next key.
    aside = rank * (2 * (right.max() - left.min()) + 1)
    reach = np.maximum.accumulate(right + aside)
    begins = np.r_[True, (left + aside)[1:] > reach[:-1] + _SLACK_M]
    chord = np.cumsum(begins) - 1
    last = np.r_[np.flatnonzero(begins)[1:] - 1, len(left) - 1]
    return chord, left[begins], (reach - aside)[last]
