"""The polygons of a map as they stand in its file, each part by itself."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.model.layer import Layer


def parts_of(layer: Layer) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    """Return every polygon of a layer, and the position of its record from 0.

    Returns
    -------
    polygons : object array, shape (n_parts,)
    owner : int64 array, shape (n_parts,)
    """
    parts, owner = layer.shapes, np.arange(len(layer.shapes), dtype=np.int64)
    there = ~(shapely.is_missing(parts) | shapely.is_empty(parts))
    parts, owner = parts[there], owner[there]
    # A collection may hold multipolygons, and collections in turn.
    while (shapely.get_type_id(parts) > shapely.GeometryType.POLYGON).any():
        parts, within = shapely.get_parts(parts, return_index=True)
        owner = owner[within]
    polygons = shapely.get_type_id(parts) == shapely.GeometryType.POLYGON
    return parts[polygons], owner[polygons]
