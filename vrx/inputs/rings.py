"""Rings to polygons: which ring is a hole is decided by where it lies, not by how it is wound.

Source: the ESRI Shapefile Technical Description (July 1998) winds shells clockwise and holes the other way;
files that do not are common, so the nesting decides (even-odd) and the winding is only compared.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.geo.inside import points_inside

_FEW_RINGS = 40

Points = NDArray[np.float64]
Ints = NDArray[np.intp]
Shapes = NDArray[np.object_]


class Nested(NamedTuple):
    """Polygons made of rings.

    Attributes
    ----------
    shapes : object array, shape (n_records,)
        Polygon or MultiPolygon; None where a record has no ring.
    against_winding : int array
        Records with a hole wound like the ring around it.
    outside : int array
        Records with a ring wound as a hole that lies in no other ring; it is taken as ground.
    """

    shapes: Shapes
    against_winding: Ints
    outside: Ints


class Polygons:
    """Gathers the rings of all polygons of a file, so that its shapes are made in one go."""

    def __init__(self) -> None:
        self._rings: list[Points] = []
        self._polygon_of_ring: list[int] = []
        self._feature_of_polygon: list[int] = []
        self._multiple: set[int] = set()

    def add(self, feature: int, rings: Sequence[Points], *, multiple: bool = False) -> None:
        """Take up a polygon, its outer ring first; rings of shape (n, 2), those without points leave no trace."""
        filled = [ring for ring in rings if len(ring)]
        if multiple:
            self._multiple.add(feature)
        if filled:
            self._rings += filled
            self._polygon_of_ring += [len(self._feature_of_polygon)] * len(filled)
            self._feature_of_polygon.append(feature)

    def put(self, shapes: Shapes) -> None:
        """Put the shapes where their features are: a Polygon, or a MultiPolygon where one was said or several came."""
        if not self._rings:
            return
        rings = linear_rings(np.concatenate(self._rings), np.array([len(ring) for ring in self._rings], dtype=np.intp))
        polygons = shapely.polygons(rings, indices=np.array(self._polygon_of_ring, dtype=np.intp))
        feature = np.array(self._feature_of_polygon, dtype=np.intp)
        alone = (np.bincount(feature)[feature] == 1) & ~np.isin(feature, list(self._multiple))
        shapes[feature[alone]] = polygons[alone]
        if not alone.all():
            places, at = np.unique(feature[~alone], return_inverse=True)
            shapes[places] = shapely.multipolygons(polygons[~alone], indices=at)


def linear_rings(points: NDArray[np.float64], lengths: Ints) -> Shapes:
    """Make rings of consecutive points; an open ring is closed, one of fewer than three points is filled up.

    Parameters
    ----------
    points : float64 array, shape (n_points, 2)
    lengths : int array, shape (n_rings,)
        Number of points of each ring, 1 or more, adding up to n_points.

    Notes
    -----
    NaN becomes infinite: as it equals nothing, no ring could be closed with it. Whoever looks at the coordinates later
    refuses either.
    """
    if np.isnan(points).any():
        points = np.where(np.isnan(points), np.inf, points)
    short = lengths < 3
    if short.any():
        # No area, but nothing is dropped unseen: repair reports it.
        starts = np.cumsum(lengths) - lengths
        again = np.repeat(starts[short], 3 - lengths[short])
        places = np.repeat((starts + lengths)[short], 3 - lengths[short])
        points = np.insert(points, places, points[again], axis=0)
        lengths = np.maximum(lengths, 3)
    rings: Shapes = shapely.linearrings(points, indices=np.repeat(np.arange(len(lengths)), lengths))
    return rings


def polygons_of_records(rings: Shapes, owner: Ints, n_records: int) -> Nested:
    """Make a polygon of each record's rings by even-odd nesting.

    Parameters
    ----------
    rings : object array of LinearRing
    owner : int array, shape (n_rings,)
        Record of each ring, from 0, rising.
    n_records : int
    """
    shapes = np.full(n_records, None, dtype=object)
    alone = np.bincount(owner, minlength=n_records)[owner] == 1
    if alone.any():
        shapes[owner[alone]] = shapely.polygons(rings[alone])
    none = np.zeros(0, dtype=np.intp)
    if alone.all():
        return Nested(shapes, none, none)
    rings, owner = rings[~alone], owner[~alone]
    parent, counterclockwise = _parents(rings, owner)
    hole = parent >= 0
    shell = np.where(hole, parent, np.arange(len(rings)))
    order = np.lexsort((hole, shell))
    shells, place = np.unique(shell[order], return_inverse=True)
    polygons = shapely.polygons(rings[order], indices=place)
    _put_together(shapes, polygons, owner[shells])
    against = np.unique(owner[hole & (counterclockwise == counterclockwise[shell])])
    return Nested(shapes, against, _wound_as_holes_outside(owner[~hole], counterclockwise[~hole]))


def _put_together(shapes: Shapes, polygons: Shapes, owner: Ints) -> None:
    single = np.bincount(owner, minlength=len(shapes))[owner] == 1
    shapes[owner[single]] = polygons[single]
    if not single.all():
        records, place = np.unique(owner[~single], return_inverse=True)
        shapes[records] = shapely.multipolygons(polygons[~single], indices=place)


def _wound_as_holes_outside(owner: Ints, counterclockwise: NDArray[np.bool_]) -> Ints:
    found = np.intersect1d(owner[counterclockwise], owner[~counterclockwise])
    return found.astype(np.intp)


def _parents(rings: Shapes, owner: Ints) -> tuple[Ints, NDArray[np.bool_]]:
    """For each ring the ring that it is a hole in, or -1; and whether each is wound counterclockwise."""
    polygons = shapely.polygons(rings)
    areas = shapely.area(polygons)
    counterclockwise = shapely.is_ccw(rings)
    inner, outer = _candidates(polygons, areas, owner)
    held = _lies_in(rings, polygons, inner, outer, counterclockwise[inner] != counterclockwise[outer])
    inner, outer = inner[held], outer[held]
    depth = np.bincount(inner, minlength=len(rings))
    fits = (depth[inner] % 2 == 1) & (depth[outer] % 2 == 0)
    inner, outer = inner[fits], outer[fits]
    parent = np.full(len(rings), -1, dtype=np.intp)
    falling = np.argsort(-areas[outer], kind="stable")
    parent[inner[falling]] = outer[falling]  # the smallest ring around it comes last and stays
    return parent, counterclockwise


def _candidates(polygons: Shapes, areas: NDArray[np.float64], owner: Ints) -> tuple[Ints, Ints]:
    """Pairs of rings of one record where the first is smaller and its box lies in the box of the second."""
    starts = np.flatnonzero(np.r_[True, owner[1:] != owner[:-1]])
    ends = np.r_[starts[1:], len(owner)]
    pairs = []
    for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
        if end - start <= _FEW_RINGS:
            pairs.append(np.indices((end - start, end - start)).reshape(2, -1) + start)
        else:
            pairs.append(shapely.STRtree(polygons[start:end]).query(polygons[start:end]) + start)
    inner, outer = np.concatenate(pairs, axis=1)
    box = shapely.bounds(polygons)
    fits = (areas[inner] < areas[outer]) & (box[inner, :2] >= box[outer, :2]).all(axis=1)
    fits &= (box[inner, 2:] <= box[outer, 2:]).all(axis=1)
    return inner[fits], outer[fits]


def _lies_in(
    rings: Shapes, polygons: Shapes, inner: Ints, outer: Ints, opposite: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Tell which rings lie in which: by their points, and by winding where a ring crosses the other."""
    held = np.zeros(len(inner), dtype=bool)
    by_outer = np.argsort(outer, kind="stable")
    found, starts, sizes = np.unique(outer[by_outer], return_index=True, return_counts=True)
    for ring, at, end in zip(found.tolist(), starts.tolist(), (starts + sizes).tolist(), strict=True):
        shapely.prepare(polygons[ring])
        pairs = by_outer[at:end]
        points, place = shapely.get_coordinates(rings[inner[pairs]], return_index=True)
        number = np.bincount(place, minlength=len(pairs))
        strictly = _counts(shapely.contains_xy(polygons[ring], points), place, len(pairs))
        touching = _counts(shapely.intersects_xy(polygons[ring], points), place, len(pairs))
        held[pairs] = (strictly > 0) & ((touching == number) | (opposite[pairs] & (2 * strictly > number)))
        for pair in pairs[(strictly == 0) & (touching == number)].tolist():
            within = points_inside(polygons[inner[pair] : inner[pair] + 1])[0]
            held[pair] = bool(shapely.contains(polygons[ring], within))
    return held


def _counts(true: NDArray[np.bool_], place: Ints, number: int) -> Ints:
    counted: Ints = np.bincount(place[true], minlength=number)
    return counted
