"""Messy ground and zones, drawn by hypothesis: what people's layers hold, and what a cut has to keep.

Everything is in metres in a local frame, around its origin, unless it says otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pytest
import shapely
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from vrx.geo.area import width_m
from vrx.geo.borders import shared_borders
from vrx.geo.coverage import Cut
from vrx.geo.crs import WGS84, frame_at, move_shapes
from vrx.geo.repair import repair

FRAME = frame_at(21.4, -31.2)
GRID_CRS = "EPSG:32734"
OTHER_CRS = (WGS84, GRID_CRS)
# Two snaps of 2 cm, and edges bent onto vertices as near as that: further no border moves.
MOVES_M = 0.1
SHIFTS_M = (0.0, 1e-10, 1e-8, 1e-6, 1e-4, 1e-3, 1e-2, 0.019, 0.021)


@dataclass(frozen=True)
class Messy:
    """A ground, the polygons of a zone layer (valid, None where nothing is left) and marked areas in it."""

    ground: BaseGeometry
    polygons: NDArray[np.object_]
    marked: NDArray[np.object_]


def only_polygons(shape: BaseGeometry) -> BaseGeometry:
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    return shapely.multipolygons(parts) if parts else shapely.Polygon()


def there_and_back(shapes: Sequence[BaseGeometry], crs: str, decimals: int) -> NDArray[np.object_]:
    """Bring shapes into another CRS, round them there, and bring them back: what a file from elsewhere does."""
    away = move_shapes(np.array(shapes, dtype=object), FRAME.crs, crs)
    rounded = shapely.transform(away, lambda points: np.round(points, decimals))
    return repair(move_shapes(rounded, crs, FRAME.crs)).shapes


def coordinate(reach: int = 500) -> st.SearchStrategy[float]:
    """Whole tens and uneven numbers: the first make shared edges and corners, the others do not."""
    return st.one_of(
        st.integers(-reach // 10, reach // 10).map(lambda tens: tens * 10.0),
        st.integers(-reach * 1000, reach * 1000).map(lambda mm: mm / 1000),
    )


@st.composite
def boxes(draw: st.DrawFn, reach: int = 500) -> BaseGeometry:
    x, y = draw(coordinate(reach)), draw(coordinate(reach))
    size = st.sampled_from([0.001, 0.05, 3.0, 50.0, 100.0, 250.0, 600.0, 20_000.0])
    return shapely.box(x, y, x + draw(size), y + draw(size))


@st.composite
def rings(draw: st.DrawFn, reach: int = 500) -> BaseGeometry:
    """Any ring through a few points: bow-ties and worse among them."""
    points = draw(st.lists(st.tuples(coordinate(reach), coordinate(reach)), min_size=3, max_size=9, unique=True))
    return shapely.Polygon(points)


@st.composite
def spikes(draw: st.DrawFn) -> BaseGeometry:
    """A box with a spike 1 mm wide, standing out of it or cut into it."""
    x, y = draw(coordinate()), draw(coordinate())
    tip = draw(st.sampled_from([-90.0, -3.0, 3.0, 90.0]))
    return shapely.Polygon(
        [(x, y), (x + 200, y), (x + 200, y + 100), (x + 200 + tip, y + 100.0005), (x + 200, y + 100.001), (x, y + 200)]
    )


@st.composite
def grounds(draw: st.DrawFn) -> BaseGeometry:
    """A convex field, one with a hole, one in two parts, or one that points drawn any way enclose."""
    kind = draw(st.sampled_from(["square", "convex", "hole", "two parts", "any"]))
    square = shapely.box(-400, -400, 400, 400)
    turned = affinity.rotate(square, draw(st.sampled_from([0, 0, 7, 45])))
    if kind == "hole":
        return shapely.difference(turned, draw(st.sampled_from([shapely.box(-100, -100, 0, 0), turned.buffer(-180)])))
    if kind == "two parts":
        return shapely.union_all([shapely.box(-400, -400, -10, 400), shapely.box(10, -300, 400, 400)])
    if kind == "square":
        return turned
    points = draw(st.lists(st.tuples(coordinate(), coordinate()), min_size=4, max_size=9, unique=True))
    drawn = shapely.MultiPoint(points).convex_hull if kind == "convex" else repair_one(shapely.Polygon(points))
    return drawn if drawn is not None and drawn.geom_type.endswith("Polygon") and drawn.area > 1000 else square


def repair_one(shape: BaseGeometry) -> BaseGeometry | None:
    found: BaseGeometry | None = repair(np.array([shape], dtype=object)).shapes[0]
    return found


@st.composite
def copies(draw: st.DrawFn, ground: BaseGeometry, others: Sequence[BaseGeometry]) -> BaseGeometry:
    """The ground or another zone once more: shifted by a hair, rounded elsewhere, clipped, or with more vertices."""
    original = draw(st.sampled_from([ground, *others]))
    how = draw(st.sampled_from(["same", "shifted", "elsewhere", "clipped", "more vertices", "the rest", "turned"]))
    if how == "shifted":
        shift = st.sampled_from(SHIFTS_M)
        return affinity.translate(original, draw(shift), draw(shift))
    if how == "elsewhere":
        crs = draw(st.sampled_from(OTHER_CRS))
        decimals = draw(st.sampled_from([7, 8, 9] if crs == WGS84 else [1, 2, 3]))
        return there_and_back([original], crs, decimals)[0]
    if how == "clipped":
        return only_polygons(shapely.intersection(repair_one(original), ground))
    if how == "more vertices":
        return shapely.segmentize(original, draw(st.sampled_from([37.0, 111.1])))
    if how == "the rest":
        return only_polygons(shapely.difference(ground, repair_one(original)))
    return affinity.rotate(original, draw(st.sampled_from([1e-7, 1e-5, 90.0])), origin=(0, 0))


@st.composite
def messy(draw: st.DrawFn, *, most: int = 7) -> Messy:
    """Ground, zones and marked areas."""
    ground = draw(grounds())
    shapes: list[BaseGeometry] = []
    for _ in range(draw(st.integers(1, most))):
        kinds: list[st.SearchStrategy[BaseGeometry]] = [boxes(), rings(), spikes(), copies(ground, shapes)]
        shape = draw(st.one_of(kinds))
        if draw(st.integers(0, 9)) == 9:
            shape = shapely.multipolygons([*shapely.get_parts(shape), *shapely.get_parts(draw(boxes()))])
        # What is left of a shape is what a later one copies.
        sound = repair_one(shape)
        if sound is not None and not sound.is_empty:
            shapes.append(sound)
    marked = []
    for _ in range(draw(st.integers(0, 2))):
        area = draw(st.one_of(boxes(), st.builds(round_area, coordinate(), coordinate())))
        clipped = only_polygons(shapely.intersection(area, ground))
        if not clipped.is_empty:
            marked.append(clipped)
    polygons = np.array([*shapes, None], dtype=object)
    return Messy(ground=ground, polygons=polygons, marked=np.array(marked, dtype=object))


def round_area(x: float, y: float) -> BaseGeometry:
    return shapely.buffer(shapely.Point(x, y), 30.0)


def faults(found: Cut, case: Messy) -> list[str]:
    """List what is wrong with a cut, measured on the input alone."""
    said = []
    shapes = found.shapes
    if len(found.covers) != len(shapes) or len(found.marks) != len(shapes):
        said.append("not every piece knows what covers it")
    if not shapely.is_valid(shapes).all() or not (shapely.get_type_id(shapes) == 3).all():
        said.append("a piece is no valid polygon")
    if not shapely.coverage_is_valid(shapes) and not borders_are_shared(shapes, case.ground):
        said.append("no valid coverage")
    area, whole = float(shapely.area(shapes).sum()), case.ground.area
    if not abs(area - whole) <= 1e-9 * whole:
        said.append(f"{area!r} m2 in pieces, {whole!r} m2 of ground")
    # A difference without a grid is at times the whole piece where edges run within a rounding of each other.
    outside = shapely.area(shapely.difference(shapes, case.ground, grid_size=1e-9)).sum()
    if not outside <= 1e-9 * whole + 1e-9 * shapely.length(shapes).sum():
        said.append(f"{outside} m2 outside the ground")
    inner = shapely.point_on_surface(shapes)
    said += wrong_covers(inner, found.covers, case.polygons, within=MOVES_M, what="covers")
    wide = width_m(shapes) > 1e-5
    marks = [one for one, kept in zip(found.marks, wide, strict=True) if kept]
    said += wrong_covers(inner[wide], marks, case.marked, within=1e-7, what="marks")
    return said


def borders_are_shared(shapes: NDArray[np.object_], ground: BaseGeometry) -> bool:
    """Check a coverage another way: every edge is there twice, or once and on the ground's outline.

    GEOS takes an edge that ends where a hole touches its outline for one inside the polygon with that hole.
    """
    outlines = float(shapely.length(shapes).sum())
    return outlines == pytest.approx(ground.length + 2 * shared_borders(shapes).length_m.sum(), rel=1e-9)


def wrong_covers(
    inner: NDArray[np.object_],
    told: Sequence[tuple[int, ...]],
    areas: NDArray[np.object_],
    *,
    within: float,
    what: str,
) -> list[str]:
    """Compare what pieces say covers them with what does so around a point in them."""
    said = []
    around = shapely.buffer(inner, within)
    for place, names in zip(around, told, strict=True):
        certain = {int(one) for one in np.flatnonzero(shapely.covers(areas, place))}
        possible = {int(one) for one in np.flatnonzero(shapely.intersects(areas, place))}
        if not certain <= set(names) <= possible:
            said.append(f"{what} {names}, where {sorted(certain)} to {sorted(possible)} do, at {place.centroid}")
    return said
