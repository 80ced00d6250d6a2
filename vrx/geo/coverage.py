"""Cutting ground into pieces: a valid coverage in which every piece remembers what covers it.

Most polygons of a zone layer lie inside the field, touch no keep-out and fit their neighbours vertex for
vertex: they become pieces as they are. Only the others, the *troubled* ones (they cross the boundary or a
keep-out, overlap another one, or do not fit), are noded together and cut into faces. Where the result is no
valid coverage, everything is noded. See docs/decisions/noding.md.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

from vrx.errors import GeometryError
from vrx.geo.area import width_m
from vrx.geo.borders import Borders, shared_borders
from vrx.geo.inside import points_inside
from vrx.geo.snapping import beside_edges, snap_together

# Below this width a piece comes from rounding or from straight edges drawn in different CRS, not from a person.
SETTLE_WIDTH_M = 0.02
_LONG_SLIVER_M = 10.0
# Lines are noded on a grid (snap rounding): as they are drawn, two crossings a rounding apart leave needles
# without a width, which GEOS may take either way. The finest grid first; coarser ones where it fails.
GRIDS_M = (1e-9, 1e-7, 1e-5)
_DECIMALS = 9
LOST_SHARE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """Ground cut into pieces.

    Attributes
    ----------
    shapes : object array, shape (n,)
        Polygons; together they are the ground, and they form a valid coverage.
    covers, marks : tuple of tuple of int
        For each piece the layers' polygons that cover it, in order, and the marked areas that cover it.
    """

    shapes: NDArray[np.object_]
    covers: tuple[tuple[int, ...], ...]
    marks: tuple[tuple[int, ...], ...]


def cut(ground: BaseGeometry, polygons: NDArray[np.object_], marked: NDArray[np.object_]) -> Cut:
    """Cut ground along the borders of polygons and of marked areas.

    Parameters
    ----------
    ground : Polygon or MultiPolygon
        Valid; all coordinates are metres in one local frame.
    polygons : object array, shape (n,)
        Valid polygons or multipolygons; they may overlap, leave gaps and reach beyond the ground.
    marked : object array, shape (m,)
        Areas to mark, such as keep-outs, within the ground.

    Raises
    ------
    GeometryError
        No valid coverage could be made; the message asks for the input.
    """
    shapely.prepare(ground)
    owner = np.flatnonzero(shapely.intersects(ground, polygons))
    parts, at = shapely.get_parts(polygons[owner], return_index=True)
    owner = owner[at]
    marked = _on_grid(marked)
    ground, parts, owner = _snap(ground, parts, owner, shapely.boundary(ground))
    found = _cut_where_troubled(ground, parts, owner, marked)
    # What is narrow and long comes from edges that run beside each other; what is short is settled later.
    narrow = (width_m(found.shapes) < SETTLE_WIDTH_M) & (shapely.length(found.shapes) > _LONG_SLIVER_M)
    if narrow.any():
        ground, parts, owner = _snap(ground, parts, owner, shapely.multipolygons(found.shapes[narrow]))
        # Where this does not work out, what was found before it is still right, slivers and all.
        with suppress(GeometryError):
            found = _cut_where_troubled(ground, parts, owner, marked)
    return found


def _snap(
    ground: BaseGeometry, parts: NDArray[np.object_], owner: NDArray[np.int64], near: BaseGeometry
) -> tuple[BaseGeometry, NDArray[np.object_], NDArray[np.int64]]:
    """Bring together what nearly touches near a place, and return ground, parts and the parts' owners."""
    beside = beside_edges(parts, near, 2 * SETTLE_WIDTH_M)
    snapped = parts.copy()
    # Unsnapped is only untidy: slivers stay, and are settled later.
    with suppress(GEOSException):
        if len(beside):
            ground, snapped[beside] = snap_together(ground, parts[beside], near, within=SETTLE_WIDTH_M)
    ground = _on_grid(np.array([ground], dtype=object))[0]
    shapely.prepare(ground)
    whole, at = shapely.get_parts(_on_grid(snapped), return_index=True)
    there = ~shapely.is_empty(whole)
    return ground, whole[there], owner[at][there]


def _on_grid(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    # Untroubled parts have to fit those that were noded on the grid, so their vertices lie on it too.
    rounded: NDArray[np.object_] = shapely.transform(shapes, lambda points: np.round(points, _DECIMALS))
    return rounded


def _cut_where_troubled(
    ground: BaseGeometry, parts: NDArray[np.object_], owner: NDArray[np.int64], marked: NDArray[np.object_]
) -> Cut:
    troubled = _troubled(ground, parts, marked)
    everything = np.ones(len(parts), dtype=bool)
    for trouble, grid_m in ((troubled, GRIDS_M[0]), *((everything, grid_m) for grid_m in GRIDS_M)):
        # GEOS raises where rounding leads it into a contradiction.
        with suppress(GEOSException):
            found = _cut(ground, parts, owner, trouble, marked, grid_m=grid_m)
            if found is not None:
                return found
    raise GeometryError(
        "The zones and the boundary can't be cut into pieces that fit together.",
        remedy="Check the zone layer for edges that run on top of each other, and simplify it a little.",
    )


def _troubled(ground: BaseGeometry, parts: NDArray[np.object_], marked: NDArray[np.object_]) -> NDArray[np.bool_]:
    misfit = ~shapely.is_empty(shapely.coverage_invalid_edges(parts))
    # Of two parts that overlap, one at least has an edge that does not fit; the other one may look sound.
    tree = shapely.STRtree(parts)
    first, second = tree.query(parts[misfit])
    first = np.flatnonzero(misfit)[first]
    lone = ~misfit[second]
    meet = shapely.relate_pattern(parts[first[lone]], parts[second[lone]], "T********")
    troubled: NDArray[np.bool_] = misfit | ~shapely.contains_properly(ground, parts)
    troubled[second[lone][meet]] = True
    if len(marked):
        troubled[tree.query(marked, predicate="intersects")[1]] = True
    return troubled


def _cut(
    ground: BaseGeometry,
    parts: NDArray[np.object_],
    owner: NDArray[np.int64],
    troubled: NDArray[np.bool_],
    marked: NDArray[np.object_],
    *,
    grid_m: float,
) -> Cut | None:
    """Node the troubled parts, the ground and the marked areas; None where the pieces are no valid coverage of it."""
    whole = parts[~troubled]
    # The outline of the untroubled parts is noded too: it bounds the gaps beside them.
    outlines = [ground, shapely.coverage_union_all(whole)] if len(whole) else [ground]
    faces = _faces(np.concatenate((parts[troubled], marked, outlines)), grid_m)
    inner = points_inside(faces)
    new = shapely.intersects(ground, inner)
    new[shapely.STRtree(whole).query(inner, predicate="within")[0]] = False
    faces, inner = faces[new], inner[new]
    # Faces get lost where edges run within a rounding of each other: only the sum tells.
    amiss_m2 = abs(shapely.area(whole).sum() + shapely.area(faces).sum() - ground.area)
    if not amiss_m2 <= LOST_SHARE * ground.area + grid_m * ground.length:
        return None
    # Untroubled parts fit each other; what is new has to fit itself and those beside it.
    beside = np.unique(shapely.STRtree(whole).query(faces)[1])
    if not is_coverage(np.concatenate((faces, whole[beside]))):
        return None
    return Cut(
        shapes=np.concatenate((whole, faces)),
        covers=(*((one,) for one in owner[~troubled].tolist()), *_covering(inner, parts[troubled], owner[troubled])),
        marks=(*(() for _ in whole), *_covering(inner, marked, np.arange(len(marked)))),
    )


def _faces(shapes: NDArray[np.object_], grid_m: float) -> NDArray[np.object_]:
    lines = shapely.union_all(shapely.boundary(shapes), grid_size=grid_m)
    faces: NDArray[np.object_] = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    return faces


def _covering(
    points: NDArray[np.object_], areas: NDArray[np.object_], names: NDArray[np.int64]
) -> list[tuple[int, ...]]:
    found: list[set[int]] = [set() for _ in points]
    if len(areas):
        at, area = shapely.STRtree(areas).query(points, predicate="within")
        for point, name in zip(at.tolist(), names[area].tolist(), strict=True):
            found[point].add(name)
    return [tuple(sorted(one)) for one in found]


def is_coverage(shapes: NDArray[np.object_]) -> bool:
    """Tell whether polygons fit together: none overlaps another, and neighbours share their borders' vertices."""
    if shapely.coverage_is_valid(shapes):
        return True
    # Where a hole touches its outline, GEOS takes an edge that another polygon has there for one inside the polygon
    # with the hole. Triangles have the same vertices, and no holes.
    holed = shapely.get_num_interior_rings(shapes) > 0
    if not holed.any() or not shapely.is_valid(shapes[holed]).all():
        return False
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(shapes[holed]))
    return bool(shapely.coverage_is_valid(np.concatenate((shapes[~holed], triangles))))


def settle_slivers(
    cut_up: Cut,
    borders: Borders | None = None,
    *,
    narrower_than_m: float = SETTLE_WIDTH_M,
    smaller_than_m2: float = 0.0,
    firm: int | None = None,
) -> Cut:
    """Give every sliver the covers of the covered neighbour with which it shares the longest border.

    The pieces keep their shapes. A sliver beside a marked area becomes part of it where that is its longest
    border; a marked sliver stays marked, so no ground leaves a marked area.

    Parameters
    ----------
    smaller_than_m2 : float
        Pieces smaller than this count as slivers, whatever their width.
    firm : int, optional
        Only marks below this number hold their slivers; all unless said.
    """
    thin = (width_m(cut_up.shapes) < narrower_than_m) | (shapely.area(cut_up.shapes) < smaller_than_m2)
    if not thin.any() or thin.all():
        return cut_up
    borders = borders or shared_borders(cut_up.shapes)
    covers, marks = list(cut_up.covers), list(cut_up.marks)
    waiting = set(np.flatnonzero(thin).tolist())
    # Covered ground first: a sliver between a zone and a gap is the zone's edge.
    for bare_too in (False, True):
        moved = True
        while waiting and moved:
            moved = False
            for piece in sorted(waiting):
                near = (one for one in borders.of(piece) if one not in waiting and (covers[one] or bare_too))
                host = next(near, None)
                if host is not None:
                    covers[piece] = covers[host]
                    marks[piece] = _settled_marks(marks[piece], marks[host], firm)
                    waiting.discard(piece)
                    moved = True
    return Cut(shapes=cut_up.shapes, covers=tuple(covers), marks=tuple(marks))


def _settled_marks(own: tuple[int, ...], hosts: tuple[int, ...], firm: int | None) -> tuple[int, ...]:
    held = tuple(mark for mark in own if firm is None or mark < firm)
    if not held or firm is None:
        return held or hosts
    return (*held, *(mark for mark in hosts if mark >= firm))
