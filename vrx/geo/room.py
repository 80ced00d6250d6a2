"""Whether a disc finds room in a polygon."""

from __future__ import annotations

from math import pi
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

# Arcs around inward corners: half a percent of the radius at most is cut off them.
_QUADRANT_SEGMENTS: Final = 8


def has_room(polygons: NDArray[np.object_], width_m: float) -> NDArray[np.bool_]:
    """Tell in which polygons a disc of a width finds room; a strip drawn exactly as wide is wide enough.

    Parameters
    ----------
    polygons : object array, shape (n,)
        Valid, in metres.
    width_m : float
        0 or less finds room anywhere.

    Examples
    --------
    >>> has_room(np.array([shapely.box(0, 0, 12, 90), shapely.box(0, 0, 11.9, 90)], dtype=object), 12).tolist()
    [True, False]
    """
    # A hair less than half the width: coordinates are written to the millimetre.
    radius = max(0.0, (width_m / 2) * (1 - 1e-6) - 1e-3)
    if radius == 0:
        return np.ones(len(polygons), dtype=bool)
    # What has less area than the disc, or a narrower box, has no room for it.
    bounds = shapely.bounds(polygons)
    found: NDArray[np.bool_] = (shapely.area(polygons) >= pi * radius**2) & (
        (bounds[:, 2:] - bounds[:, :2]).min(axis=1) >= 2 * radius
    )
    # Within a radius of an outline with one hole at most lies no more ground than its length times that radius: what
    # has more than that has points farther in, which is the quickest way to tell. Inner parallel curves, from memory.
    clear = (shapely.area(polygons) > radius * shapely.length(polygons)) & (
        shapely.get_num_interior_rings(polygons) <= 1
    )
    asked = np.flatnonzero(found & ~clear)
    middle = shapely.centroid(polygons[asked])
    clear = shapely.contains(polygons[asked], middle)
    clear &= shapely.distance(middle, shapely.boundary(polygons[asked])) >= radius
    asked = asked[~clear]
    found[asked] = ~shapely.is_empty(shapely.buffer(polygons[asked], -radius, quad_segs=_QUADRANT_SEGMENTS))
    return found
