"""Layers mended: repaired, noded in their own CRS, brought into the field's frame, and what was repaired said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.errors import CrsError
from vrx.geo.crs import WGS84, move_points, move_shapes, parse_crs
from vrx.geo.merge import decimals_of
from vrx.geo.noding import BentEdges, bent_edges, node_long_edges, straighten
from vrx.geo.repair import Repair, repair
from vrx.model.finding import Finding, Severity
from vrx.model.layer import Layer
from vrx.model.zone_map import Frame
from vrx.units import area_text

if TYPE_CHECKING:
    from vrx.model.plan import Plan

# Edges up to this length bend by less than a millimetre between one CRS and another.
_LONG_EDGE_M = 100.0
_ON_EDGE_M = 0.01
_MOVED_SHARE = 0.001
METRES_A_DEGREE = 111_320.0
# What lies farther than this share of the field's width from its box is no neighbour.
MARGIN_SHARE = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Mended:
    """Shapes of a layer, repaired, noded and in the field's frame.

    Attributes
    ----------
    repairs : tuple of Repair
        Of the shapes as they were drawn, in their CRS.
    again : tuple of Repair
        Of shapes that fell together by a rounding on their way into the frame, in the frame.
    """

    shapes: NDArray[np.object_]
    repairs: tuple[Repair, ...]
    again: tuple[Repair, ...] = ()


def mend(
    shapes: NDArray[np.object_],
    crs: str,
    frame: Frame,
    *,
    beside: Sequence[Layer] = (),
    onto: BentEdges | None = None,
) -> Mended:
    """Repair shapes, node their long edges in their own CRS, and bring them into the frame.

    Parameters
    ----------
    beside : sequence of Layer
        Other layers, whose vertices on those long edges are inserted too: what lies on an edge as it was drawn
        has to lie on it in the frame.
    onto : BentEdges, optional
        Edges of the boundary, which stays as it is whatever lies beside it: vertices on them are put onto them.
    """
    repaired = repair(shapes, decimals=decimals_of(crs))
    moved = move_shapes(_noded(repaired.shapes, crs, beside), crs, frame.crs)
    if onto is not None:
        moved = straighten(moved, onto, within=_ON_EDGE_M)
    # A shape that is valid in one CRS can touch itself in another by a rounding.
    if shapely.is_valid(moved[~shapely.is_missing(moved)]).all():
        return Mended(shapes=moved, repairs=repaired.repairs)
    again = repair(moved)
    return Mended(shapes=again.shapes, repairs=repaired.repairs, again=again.repairs)


def boundary_edges(boundary: Layer, frame: Frame) -> BentEdges:
    """Return the edges of a boundary that are bent in the frame."""
    noded = _noded(repair(boundary.shapes).shapes, boundary.crs, ())
    long_edge = _LONG_EDGE_M * units_per_metre(boundary.crs)
    return bent_edges(noded, boundary.crs, frame.crs, longer_than=long_edge)


def _noded(shapes: NDArray[np.object_], crs: str, beside: Sequence[Layer]) -> NDArray[np.object_]:
    per_metre = units_per_metre(crs)
    return node_long_edges(
        shapes,
        longer_than=_LONG_EDGE_M * per_metre,
        within=_ON_EDGE_M * per_metre,
        beside=_vertices(beside, crs, shapes),
    )


def _vertices(layers: Sequence[Layer], crs: str, around: NDArray[np.object_]) -> Iterator[NDArray[np.float64]]:
    """Yield the vertices of each layer, in a CRS, that lie around some shapes of that CRS."""
    west, south, east, north = shapely.total_bounds(around)
    reach = max(east - west, north - south)
    if not reach > 0:  # nothing, or one place: no long edge
        return
    # Widened, since the box of a line due north has no width, and GEOS may crash on edges without a length.
    wider = reach / 100
    box = shapely.box(west - wider, south - wider, east + wider, north + wider)
    outline = shapely.segmentize(box, reach / 8)
    for layer in layers:
        points = shapely.get_coordinates(layer.shapes)
        try:
            x0, y0, x1, y1 = shapely.bounds(move_shapes(outline, crs, layer.crs))
            margin = MARGIN_SHARE * max(x1 - x0, y1 - y0)
            near = (points >= (x0 - margin, y0 - margin)).all(axis=1) & (points <= (x1 + margin, y1 + margin)).all(
                axis=1
            )
            yield move_points(points[near], layer.crs, crs)
        except CrsError:
            continue  # nowhere near, as is said where the layer itself is used


def units_per_metre(crs: str) -> float:
    """Return how many units of a CRS's coordinates a metre has; of degrees, those of latitude."""
    parsed = parse_crs(crs)
    if parsed.is_geographic:
        return 1 / METRES_A_DEGREE
    return 1 / float(parsed.axis_info[0].unit_conversion_factor or 1.0)


def repair_findings(
    repairs: tuple[Repair, ...], layer: Layer, frame: Frame, *, field_m2: float, plan: Plan, names: tuple[str, ...] = ()
) -> list[Finding]:
    """Say what was mended on a layer, with the area that each repair moved."""
    said = []
    moved_total = 0.0
    for one in repairs:
        record = int(layer.records[one.index])
        name = f"zone {names[one.index]}" if names else f"record {record}"
        if one.after is None:
            said.append(_lost(one, layer, name, record, mend=plan.repairs == "mend"))
            continue
        before, after = move_shapes(np.array([one.before, one.after], dtype=object), layer.crs, frame.crs)
        area_before, area_after = abs(shapely.area(before)), float(shapely.area(after))
        moved = abs(area_after - area_before)
        moved_total += moved
        said.append(
            Finding(
                id="invalid-shape",
                severity="note",
                message=(
                    f"{layer.source}: {name} {one.reason}; mended, its area goes from "
                    f"{area_text(area_before, plan.dialect)} to {area_text(area_after, plan.dialect)}."
                ),
                remedy="Look at the shape, and redraw it where the mended one is not what was meant.",
                area_m2=moved,
                where=move_shapes(after, frame.crs, WGS84),
                features=(record,),
            )
        )
    severity: Severity = "note"
    if moved_total > _MOVED_SHARE * field_m2:
        severity = "caution" if plan.repairs == "mend" else "stop"
    return [replace(one, severity=severity) if one.id == "invalid-shape" else one for one in said]


def _lost(one: Repair, layer: Layer, name: str, record: int, *, mend: bool) -> Finding:
    shapeless = one.reason == "no shape"
    numbered = f"record {record}"
    which = numbered if name in (numbered, f"zone {record}") else f"{name} ({numbered})"
    what = "has no shape" if shapeless else "is not a polygon" if one.before is not None else "holds no polygon"
    return Finding(
        id="no-shape" if shapeless else "not-polygons",
        severity="caution" if mend else "stop",
        message=f"{layer.source}: {which} {what}; it is left out of areas and totals.",
        remedy="Draw it, or delete the record.",
        features=(record,),
    )
