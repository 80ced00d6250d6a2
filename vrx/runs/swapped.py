"""Whether the x and y of a layer are swapped: told by where another layer lies."""

from __future__ import annotations

import shapely
from shapely.errors import GEOSException

from vrx.errors import CrsError
from vrx.geo.crs import move_shapes
from vrx.model.layer import Layer

X_FIRST = "Have the file saved again with x first: longitude before latitude, easting before northing."


def looks_swapped(layer: Layer, other: Layer) -> bool:
    """Tell whether a shape of a layer lies at another layer once x and y are exchanged."""
    try:
        there = shapely.bounds(move_shapes(shapely.box(*shapely.total_bounds(other.shapes)), other.crs, layer.crs))
    except (CrsError, GEOSException):
        return False
    low, high = there.reshape(2, 2)
    reach = max(high - low)
    boxes = shapely.bounds(layer.shapes).reshape(-1, 2, 2)[:, :, ::-1]
    # NaN, where a shape is missing, is near to nothing.
    near = (boxes[:, 0] <= high + reach) & (boxes[:, 1] >= low - reach)
    return bool(near.all(axis=1).any())
