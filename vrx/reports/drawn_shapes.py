"""Shapes for drawing: simplified to what paper and screens can show. Nothing is measured on them."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.geo.area import true_areas
from vrx.geo.merge import merge_equal
from vrx.geo.repair import repair
from vrx.model.content import Patch
from vrx.model.ledger import ProductLedger
from vrx.model.plan import Plan
from vrx.model.zone_map import ZoneMap
from vrx.reports.words import area_number

# On a page 200 mm wide this is a fifteenth of a millimetre.
_SHARE_OF_EXTENT = 1 / 3000
_DECIMALS = 2


def tolerance_m(boundary: BaseGeometry) -> float:
    """Return by how much an edge may move without anyone seeing it."""
    west, south, east, north = boundary.bounds
    return float(max(east - west, north - south)) * _SHARE_OF_EXTENT


def patches(zone_map: ZoneMap, account: ProductLedger, plan: Plan) -> tuple[Patch, ...]:
    """Return the ground of every row of a ledger, each part in one piece a patch, in the order of the rows."""
    row_of = np.array(account.row_of, dtype=np.int64)
    treated = row_of >= 0
    if not treated.any():
        return ()
    merged = merge_equal(zone_map.shapes[treated], row_of[treated])
    drawn = _simplified(merged.shapes, tolerance_m(zone_map.ground.boundary))
    texts = drawn_text(drawn)
    areas = true_areas(merged.shapes, zone_map.ground.frame).tolist()
    return tuple(
        Patch(row=row, shape=text, area=area_number(area, plan))
        for row, text, area in zip(merged.keys.tolist(), texts, areas, strict=True)
        if text
    )


def drawn_text(shapes: NDArray[np.object_]) -> list[str]:
    """Return polygons as WKT, to a centimetre; empty where rounding leaves nothing of one."""
    rounded = shapely.transform(shapes, lambda points: np.round(points, _DECIMALS) + 0.0)
    sound = repair(rounded).shapes if not shapely.is_valid(rounded).all() else rounded
    there = ~shapely.is_missing(sound) & ~shapely.is_empty(sound)
    texts = np.full(len(sound), "", dtype=object)
    texts[there] = shapely.to_wkt(sound[there], rounding_precision=_DECIMALS)
    return [str(text) for text in texts]


def drawn_outline(shape: BaseGeometry, boundary: BaseGeometry) -> str:
    """Return one shape as WKT, simplified; empty where nothing of it is left."""
    if shape.is_empty:
        return ""
    simple = shapely.simplify(shape, tolerance_m(boundary))
    return drawn_text(np.array([simple if not simple.is_empty else shape], dtype=object))[0]


def _simplified(shapes: NDArray[np.object_], tolerance: float) -> NDArray[np.object_]:
    simple: NDArray[np.object_] = shapely.coverage_simplify(shapes, tolerance)
    # A border that bends back on itself may come out crossed: then all are drawn as they are.
    sound = shapely.is_valid(simple).all() and not shapely.is_empty(simple).any()
    return simple if sound else shapes
