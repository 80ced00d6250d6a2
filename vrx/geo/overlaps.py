"""Shapes laid over each other: where two cover the same ground, what all cover together, and what is left bare."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

from vrx.geo.area import width_m

_POLYGON: Final = 3
_MOST_PAIRS: Final = 200_000
# What GEOS can't do as the coordinates stand it can do on a grid; the finest first.
_GRIDS_M: Final = (None, 1e-9, 1e-6)
# As the coordinates stand GEOS may take a shape that meets a needle of the other for one that lies within it, without
# a word; on a grid it does not. The ground beside a part of the field has such needles.
_SOUND_GRIDS_M: Final = (1e-9, 1e-6, None)


def misfits(shapes: NDArray[np.object_]) -> NDArray[np.bool_]:
    """Tell which shapes have an edge that does not fit their neighbours: of two that overlap, one at least has.

    Parameters
    ----------
    shapes : object array, shape (n,)
        Valid polygons and multipolygons; None fits.
    """
    there = np.flatnonzero(~shapely.is_missing(shapes))
    found = np.zeros(len(shapes), dtype=bool)
    try:
        found[there] = ~shapely.is_empty(shapely.coverage_invalid_edges(shapes[there]))
    except GEOSException:
        found[there] = True
    return found


def overlaps(
    shapes: NDArray[np.object_], misfit: NDArray[np.bool_], *, narrower_than_m: float
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.object_]]:
    """Find each pair of shapes that cover common ground.

    Parameters
    ----------
    shapes : object array, shape (n,)
        Valid polygons and multipolygons in metres; None is nothing.
    misfit : bool array, shape (n,)
        From :func:`misfits`.
    narrower_than_m : float
        Parts of the common ground with less width are left out: rounding makes them.

    Returns
    -------
    first, second : int64 array, shape (n_pairs,)
        Positions, first < second, in rising order. Where there are very many, shapes drawn alike are paired with the
        first of them alone, which stands for them beside others.
    common : object array, shape (n_pairs,)
        Polygons and multipolygons.
    """
    none = np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64), np.empty(0, dtype=object)
    if not misfit.any():
        return none
    first, second = _meeting(shapes, misfit)
    common = np.array(
        [_wide(one, narrower_than_m) for one in _intersections(shapes[first], shapes[second])], dtype=object
    )
    kept = ~shapely.is_empty(common)
    order = np.lexsort((second[kept], first[kept]))
    return first[kept][order], second[kept][order], common[kept][order]


def covered_by(shapes: NDArray[np.object_], misfit: NDArray[np.bool_]) -> BaseGeometry:
    """Return the ground that shapes cover together; an empty polygon where there are none.

    Parameters
    ----------
    shapes : object array, shape (n,)
        Valid polygons and multipolygons in metres; None is nothing.
    misfit : bool array, shape (n,)
        From :func:`misfits`.
    """
    there = ~shapely.is_missing(shapes)
    if not there.any():
        return shapely.Polygon()
    with suppress(GEOSException):
        # Shapes that fit each other are united by their edges, many times as fast; only the others are noded.
        fitting, others = shapes[there & ~misfit], shapes[there & misfit]
        whole = [shapely.coverage_union_all(fitting)] if len(fitting) else []
        if not len(others):
            return whole[0]
        # First among themselves, where they lie in groups: united with all at once, the large shape is noded often.
        return shapely.union_all(np.array([*whole, shapely.disjoint_subset_union_all(others)], dtype=object))
    return shapely.union_all(shapes[there], grid_size=_GRIDS_M[-1])


def united_ground(shapes: Sequence[BaseGeometry]) -> BaseGeometry:
    """Return the ground of valid shapes that may meet or overlap as one shape."""
    for grid in _GRIDS_M:
        with suppress(GEOSException):
            return shapely.union_all(np.array(shapes, dtype=object), grid_size=grid)
    return shapely.Polygon()


def left_over(ground: BaseGeometry, taken: BaseGeometry, *, narrower_than_m: float) -> tuple[BaseGeometry, ...]:
    """Return what is left of ground, as polygons of at least some width, the largest first.

    What hangs together by a neck narrower than that is two.
    """
    left: BaseGeometry = shapely.Polygon()
    for grid in _SOUND_GRIDS_M:
        with suppress(GEOSException):
            left = shapely.difference(ground, taken, grid_size=grid)
            break
    parts = [
        piece for part in wide_parts(left, narrower_than_m=narrower_than_m) for piece in _parted(part, narrower_than_m)
    ]
    return tuple(sorted(parts, key=lambda one: -one.area))


def common_ground(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Return the ground that two shapes have in common, of any width; it is that of a shape that the other covers."""
    for whole, part in ((one, other), (other, one)):
        if shapely.covers(whole, part):
            return part
    for grid in _SOUND_GRIDS_M:
        with suppress(GEOSException):
            return shapely.intersection(one, other, grid_size=grid)
    return shapely.Polygon()


def holes_of(shape: BaseGeometry, *, narrower_than_m: float) -> tuple[BaseGeometry, ...]:
    """Return the holes of a polygon or multipolygon that nothing of it fills, the largest first."""
    rings = [hole for part in shapely.get_parts(shape) for hole in part.interiors]
    if not rings:
        return ()
    whole = shapely.union_all(shapely.polygons(np.array(rings, dtype=object)))
    return left_over(whole, shape, narrower_than_m=narrower_than_m)


def wide_parts(shape: BaseGeometry, *, narrower_than_m: float) -> tuple[BaseGeometry, ...]:
    """Return the polygons of a shape that are not narrower than a width, the largest first."""
    parts = _polygons(shape)
    parts = parts[width_m(parts) >= narrower_than_m]
    return tuple(parts[np.argsort(-shapely.area(parts), kind="stable")])


def _parted(part: BaseGeometry, neck_m: float) -> list[BaseGeometry]:
    """Part a polygon at its necks; one without any comes out as it is."""
    cores = _polygons(shapely.buffer(part, -neck_m / 2, join_style="mitre"))
    if len(cores) < 2:
        return [part]
    grown = shapely.buffer(cores, neck_m * 0.5001, join_style="mitre")
    pieces = (wide_parts(shapely.intersection(part, one), narrower_than_m=neck_m) for one in grown)
    return [piece for each in pieces for piece in each]


def _polygons(shape: BaseGeometry) -> NDArray[np.object_]:
    # Twice, for a collection may hold multipolygons.
    parts = shapely.get_parts(shapely.get_parts(np.array([shape], dtype=object)))
    found: NDArray[np.object_] = parts[(shapely.get_type_id(parts) == _POLYGON) & ~shapely.is_empty(parts)]
    return found


def _wide(shape: BaseGeometry, narrower_than_m: float) -> BaseGeometry:
    parts = wide_parts(shape, narrower_than_m=narrower_than_m)
    if not parts:
        return shapely.Polygon()
    return parts[0] if len(parts) == 1 else shapely.multipolygons(list(parts))


def _meeting(shapes: NDArray[np.object_], misfit: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the pairs whose interiors meet, each once and the earlier shape first."""
    askers = np.flatnonzero(misfit)
    one, other = shapely.STRtree(shapes).query(shapes[askers])
    one = askers[one]
    # A pair of misfits is found from both sides.
    kept = (one != other) & ~(misfit[other] & (other < one))
    one, other = one[kept], other[kept]
    if len(one) > _MOST_PAIRS:
        # A shape that stands there a thousand times would be held against itself a million times.
        first = _first_alike(shapes)
        alike, both_first = first[one] == first[other], (first[one] == one) & (first[other] == other)
        kept = both_first | (alike & ((first[one] == one) | (first[other] == other)))
        one, other = one[kept], other[kept]
    shapely.prepare(shapes[askers])
    meet = shapely.relate_pattern(shapes[one], shapes[other], "T********")
    pairs = np.sort(np.column_stack((one[meet], other[meet])), axis=1).astype(np.int64)
    return pairs[:, 0], pairs[:, 1]


def _first_alike(shapes: NDArray[np.object_]) -> NDArray[np.int64]:
    """Return for each shape the first one that is drawn alike, vertex for vertex."""
    seen: dict[bytes | None, int] = {}
    return np.array([seen.setdefault(text, at) for at, text in enumerate(shapely.to_wkb(shapes))], dtype=np.int64)


def _intersections(one: NDArray[np.object_], other: NDArray[np.object_]) -> NDArray[np.object_]:
    with suppress(GEOSException):
        found: NDArray[np.object_] = shapely.intersection(one, other)
        return found
    return np.array([_intersection(a, b) for a, b in zip(one, other, strict=True)], dtype=object)


def _intersection(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    for grid in _GRIDS_M:
        with suppress(GEOSException):
            return shapely.intersection(one, other, grid_size=grid)
    return shapely.Polygon()
