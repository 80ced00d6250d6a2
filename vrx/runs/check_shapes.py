"""The shapes of a map laid on the ground: mended, measured, and held against each other, boundary and keep-outs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.geo.area import true_areas
from vrx.geo.coverage import SETTLE_WIDTH_M
from vrx.geo.crs import move_shapes
from vrx.geo.direction import distance_and_azimuth
from vrx.geo.overlaps import common_ground, covered_by, holes_of, left_over, misfits, overlaps, wide_parts
from vrx.geo.repair import Repair
from vrx.model.checked_map import KeptOut, MapShapes, Mended, Overlap
from vrx.model.layer import Layer
from vrx.model.zone_map import Frame, Ground
from vrx.runs.ground import frame_of
from vrx.runs.mend import boundary_edges, mend

# Maps that lie farther than that from the field are measured by themselves: no part of them lies in it.
_ELSEWHERE_M = 50_000.0


# Numbers of a damaged file overflow in the libraries that measure it: what is wrong with it is said by us.
@np.errstate(all="ignore")
def shapes_on_ground(
    layer: Layer, ground: Ground | None, boundary: Layer | None, *, product: str = ""
) -> MapShapes | None:
    """Lay the shapes of a map on the ground; None where none of them is a polygon.

    Parameters
    ----------
    ground : Ground, optional
    boundary : Layer, optional
        What the ground's boundary was read from.
    product : str
        Whose keep-outs hold; empty where that is not known: those that are for all.

    Raises
    ------
    VrxError
        The map spans more than any field, or can't be placed.
    """
    if not (shapely.get_dimensions(layer.shapes) == 2).any():
        return None
    own = frame_of(layer, "map")
    near = ground if ground is not None and _near(own, ground.frame) else None
    frame = own if near is None else near.frame
    edges = boundary_edges(boundary, frame) if near is not None and boundary is not None else None
    beside = (boundary,) if near is not None and boundary is not None else ()
    mended = mend(layer.shapes, layer.crs, frame, beside=beside, onto=edges)
    shapes = mended.shapes
    there = ~shapely.is_missing(shapes)
    if not there.any():
        return None
    area = np.zeros(len(shapes))
    area[there] = true_areas(shapes[there], frame)
    misfit = misfits(shapes)
    first, second, common = overlaps(shapes, misfit, narrower_than_m=SETTLE_WIDTH_M)
    covered = covered_by(shapes, misfit)
    whole = np.array([covered], dtype=object)
    laid = MapShapes(
        frame=frame,
        shapes=shapes,
        area_m2=area,
        mended=tuple(_mended(one, layer, frame) for one in mended.repairs),
        overlaps=tuple(
            Overlap(first=one, second=other, area_m2=size, shape=shape)
            for one, other, size, shape in zip(
                first.tolist(), second.tolist(), true_areas(common, frame).tolist(), common, strict=True
            )
        ),
        covered=covered,
        covered_m2=float(true_areas(whole, frame)[0]),
        bare=holes_of(covered, narrower_than_m=SETTLE_WIDTH_M) if ground is None else (),
    )
    return laid if ground is None else _in_field(laid, near, product)


def _near(own: Frame, field: Frame) -> bool:
    start, end = ((one.longitude, one.latitude) for one in (own, field))
    return distance_and_azimuth(start, end)[0] < _ELSEWHERE_M


def _mended(one: Repair, layer: Layer, frame: Frame) -> Mended:
    before, after = (0.0 if shape is None else _area(shape, layer.crs, frame) for shape in (one.before, one.after))
    return Mended(
        index=one.index, reason=one.reason, area_before_m2=before, area_after_m2=after, lost=one.after is None
    )


def _area(shape: BaseGeometry, crs: str, frame: Frame) -> float:
    return abs(float(shapely.area(move_shapes(np.array([shape], dtype=object), crs, frame.crs))[0]))


def _in_field(laid: MapShapes, ground: Ground | None, product: str) -> MapShapes:
    """Tell how a map lies in the field; no ground means that it lies far from it."""
    if ground is None or not shapely.intersects(laid.covered, ground.boundary):
        return replace(laid, meets_field=False)
    bare = left_over(ground.boundary, laid.covered, narrower_than_m=SETTLE_WIDTH_M)
    bare_keep_outs = []
    for at, area in enumerate(ground.keep_outs):
        if area.binds(product) if product else not area.products:
            bare = tuple(part for one in bare for part in left_over(one, area.shape, narrower_than_m=SETTLE_WIDTH_M))
            left = left_over(area.shape, laid.covered, narrower_than_m=SETTLE_WIDTH_M)
            bare_keep_outs += [KeptOut(keep_out=at, index=-1, area_m2=float(one.area), shape=one) for one in left]
    return replace(
        laid,
        bare=bare,
        bare_keep_outs=tuple(bare_keep_outs),
        beyond=left_over(laid.covered, ground.boundary, narrower_than_m=SETTLE_WIDTH_M),
        kept_out=tuple(_kept_out(laid.shapes, ground)),
    )


def _kept_out(shapes: NDArray[np.object_], ground: Ground) -> list[KeptOut]:
    if not ground.keep_outs:
        return []
    areas = np.array([one.shape for one in ground.keep_outs], dtype=object)
    tree = shapely.STRtree(shapes)
    found = []
    for keep_out, index in np.column_stack(tree.query(areas, predicate="intersects")).tolist():
        parts: Sequence[BaseGeometry] = wide_parts(
            common_ground(areas[keep_out], shapes[index]), narrower_than_m=SETTLE_WIDTH_M
        )
        if parts:
            shape = parts[0] if len(parts) == 1 else shapely.multipolygons(list(parts))
            size = float(true_areas(np.array([shape], dtype=object), ground.frame)[0])
            found.append(KeptOut(keep_out=keep_out, index=index, area_m2=size, shape=shape))
    return found
