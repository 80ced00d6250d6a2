"""Merging pieces of a coverage into polygons, and rounding them for a file."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

from vrx.geo.crs import WGS84, move_shapes, parse_crs
from vrx.geo.inside import points_inside

# 1e-8 degrees is at most 1.1 mm on the ground; rounding moves a vertex by half of that.
_DECIMALS_DEGREES = 8
_DECIMALS_METRES = 3
_GRID_M = 1e-9
_LOST_SHARE = 1e-9


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
        found = shapely.get_parts(united(shapes[keys == key]))
        # Rings may start anywhere and parts come in any order: fix both, so that equal input gives equal bytes.
        found = shapely.normalize(found)
        bounds = shapely.bounds(found)
        parts.append(found[np.lexsort((bounds[:, 3], bounds[:, 2], bounds[:, 1], bounds[:, 0]))])
        part_keys.append(np.full(len(found), key, dtype=np.int64))
    shapes = np.concatenate(parts)
    return Merged(shapes=shapes, keys=np.concatenate(part_keys), source=np.arange(len(shapes)))


def united(shapes: NDArray[np.object_]) -> BaseGeometry:
    """Return the pieces of a valid coverage as one shape, also where GEOS fails at it in the fast way."""
    area_m2 = shapely.area(shapes).sum()
    with suppress(GEOSException):
        whole = shapely.coverage_union_all(shapes)
        # Where shapes do not quite fit, its answer is wrong without a word.
        if abs(whole.area - area_m2) <= _LOST_SHARE * area_m2:
            return whole
    return shapely.union_all(shapes, grid_size=_GRID_M)


def for_file(merged: Merged, source: str, target: str) -> Merged:
    """Bring polygons into the CRS of a file and round them as they are written.

    Vertices that polygons share stay shared, since equal coordinates round to equal ones. Where rounding makes
    a polygon invalid or turns it over, all of them are noded on the grid of the last decimal (snap rounding), so
    that they still fit together; a polygon narrower than that grid may vanish or come in parts.
    """
    decimals = decimals_of(target)
    moved = move_shapes(merged.shapes, source, target)
    rounded = _rounded(moved, decimals)
    origin = np.arange(len(rounded))
    # Whether neighbours still fit is looked at once, when the sheet is verified.
    if not shapely.is_valid(rounded).all() or _turned(moved, rounded).any():
        faces = _snap_rounded(moved, decimals)
        # Asked where the polygons are valid for certain: moved, two of them may hold one point.
        inner = move_shapes(points_inside(faces), target, source)
        rounded, origin = _united_faces(faces, *shapely.STRtree(merged.shapes).query(inner, predicate="within"))
    return Merged(shapes=rounded, keys=merged.keys[origin], source=origin)


def decimals_of(crs: str) -> int:
    """Return the decimals with which coordinates of a CRS are written: about a millimetre."""
    return _DECIMALS_DEGREES if crs == WGS84 or parse_crs(crs).is_geographic else _DECIMALS_METRES


def _rounded(shapes: NDArray[np.object_], decimals: int) -> NDArray[np.object_]:
    # Adding 0.0 turns -0.0 into 0.0, which is written shorter.
    moved: NDArray[np.object_] = shapely.transform(shapes, lambda points: np.round(points, decimals) + 0.0)
    return moved


def _turned(before: NDArray[np.object_], after: NDArray[np.object_]) -> NDArray[np.bool_]:
    """Tell which polygons are so thin that rounding turned them over: valid still, but across their neighbours."""
    turned: NDArray[np.bool_] = shapely.is_ccw(shapely.get_exterior_ring(before)) != shapely.is_ccw(
        shapely.get_exterior_ring(after)
    )
    return turned


def _snap_rounded(shapes: NDArray[np.object_], decimals: int) -> NDArray[np.object_]:
    lines = shapely.union_all(shapely.boundary(shapes), grid_size=10.0**-decimals)
    return _rounded(shapely.get_parts(shapely.polygonize(shapely.get_parts(lines))), decimals)


def _united_faces(
    faces: NDArray[np.object_], face: NDArray[np.int64], origin: NDArray[np.int64]
) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    """Unite the faces of each polygon, and return the parts with the polygon that each comes from."""
    parts, origins = [], []
    for one in np.unique(origin).tolist():
        found = shapely.normalize(shapely.get_parts(shapely.coverage_union_all(faces[face[origin == one]])))
        parts.append(found)
        origins.append(np.full(len(found), one, dtype=np.int64))
    return np.concatenate(parts), np.concatenate(origins)
