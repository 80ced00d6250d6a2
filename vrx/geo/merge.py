"""Merging pieces of a coverage into polygons, and rounding them for a file."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.geo.crs import WGS84, move_shapes, parse_crs

# 1e-8 degrees is at most 1.1 mm on the ground; rounding moves a vertex by half of that.
_DECIMALS_DEGREES = 8
_DECIMALS_METRES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """Polygons in one part each, with the key of the pieces they are made of.

    Attributes
    ----------
    shapes : object array, shape (n,)
        Sorted by key, then from west to east and south to north.
    keys : int64 array, shape (n,)
    source : int64 array, shape (n,)
        Where each polygon stood before rounding; counts from 0 where nothing was rounded yet.
    """

    shapes: NDArray[np.object_]
    keys: NDArray[np.int64]
    source: NDArray[np.int64]

    def where(self, kept: NDArray[np.bool_]) -> Merged:
        """Return the polygons for which ``kept`` is true, counted anew."""
        return Merged(shapes=self.shapes[kept], keys=self.keys[kept], source=np.arange(int(kept.sum())))


def merge_equal(shapes: NDArray[np.object_], keys: NDArray[np.int64]) -> Merged:
    """Unite neighbouring pieces of a valid coverage that have the same key."""
    parts, part_keys = [], []
    for key in np.unique(keys).tolist():
        found = shapely.get_parts(shapely.coverage_union_all(shapes[keys == key]))
        # Rings may start anywhere and parts come in any order: fix both, so that equal input gives equal bytes.
        found = shapely.normalize(found)
        bounds = shapely.bounds(found)
        parts.append(found[np.lexsort((bounds[:, 3], bounds[:, 2], bounds[:, 1], bounds[:, 0]))])
        part_keys.append(np.full(len(found), key, dtype=np.int64))
    shapes = np.concatenate(parts)
    return Merged(shapes=shapes, keys=np.concatenate(part_keys), source=np.arange(len(shapes)))


def for_file(merged: Merged, source: str, target: str) -> Merged:
    """Bring polygons into the CRS of a file and round them as they are written.

    Vertices that polygons share stay shared, since equal coordinates round to equal ones. A polygon that
    rounding makes invalid is mended; one that it makes vanish (narrower than a millimetre) is left out.
    """
    decimals = _DECIMALS_DEGREES if target == WGS84 or parse_crs(target).is_geographic else _DECIMALS_METRES
    moved = move_shapes(merged.shapes, source, target)
    rounded: NDArray[np.object_] = shapely.transform(moved, lambda points: np.round(points, decimals) + 0.0)
    origin = np.arange(len(rounded))
    if not shapely.is_valid(rounded).all():
        rounded = shapely.remove_repeated_points(rounded)
        broken = np.flatnonzero(~shapely.is_valid(rounded))
        mended = shapely.set_precision(moved[broken], 10.0**-decimals, mode="valid_output")
        parts, at = shapely.get_parts(mended, return_index=True)
        parts = shapely.transform(parts, lambda points: np.round(points, decimals) + 0.0)
        sound = np.setdiff1d(origin, broken)
        origin = np.concatenate((sound, broken[at]))
        order = np.argsort(origin, kind="stable")
        rounded, origin = np.concatenate((rounded[sound], parts))[order], origin[order]
    there = shapely.area(rounded) > 0
    return Merged(shapes=rounded[there], keys=merged.keys[origin[there]], source=origin[there])
