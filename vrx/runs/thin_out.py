"""Simplifying inner borders, only where a receiver's limit of vertices needs it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.exports.sheets import merged_maps
from vrx.geo.area import grid_areas, true_areas
from vrx.model.finding import Finding
from vrx.model.plan import Plan
from vrx.model.prescription import Prescription
from vrx.model.zone_map import ZoneMap
from vrx.units import area_text, length_text

# Tolerances are tried in turn; a border moved by more than the last is no longer the border that was drawn.
_TOLERANCES_M = (0.1, 0.25, 0.5, 1.0, 2.0, 4.0)
_NOTABLE_SHARE = 0.005


def within_vertex_limit(prescription: Prescription, plan: Plan) -> Prescription:
    """Return the prescription with inner borders simplified as far as the receiver's vertex limit asks.

    Borders of the field, of keep-outs and of ground at rate 0 stay as they are. Where the limit can't be met,
    the shapes stay untouched: laying out the sheets reports it.
    """
    most = plan.receiver.most_vertices
    zone_map = prescription.zone_map
    # A merged polygon has no more vertices than its pieces together.
    if shapely.get_num_coordinates(zone_map.shapes).sum() <= most or _most_vertices(prescription, plan) <= most:
        return prescription
    free = np.ones(len(zone_map.shapes), dtype=bool)
    for one in prescription.maps:
        free &= (one.numbers > 0) & ~one.pinned  # 0 also where the product may not go
    for tolerance in _TOLERANCES_M:
        shapes = zone_map.shapes.copy()
        shapes[free] = shapely.coverage_simplify(zone_map.shapes[free], tolerance, simplify_boundary=False)
        if not shapely.is_valid(shapes).all() or shapely.is_empty(shapes).any():
            break
        thinner = replace(
            zone_map,
            shapes=shapes,
            area_m2=true_areas(shapes, zone_map.ground.frame),
            grid_m2=grid_areas(shapes, zone_map.ground.frame, zone_map.ground.grid_crs),
        )
        simpler = replace(prescription, zone_map=thinner)
        if _most_vertices(simpler, plan) <= most:
            finding = _finding(zone_map, thinner, tolerance, most)
            return replace(simpler, findings=(*prescription.findings, finding))
    return prescription


def _most_vertices(prescription: Prescription, plan: Plan) -> int:
    counts = [shapely.get_num_coordinates(one.polygons.shapes) for one in merged_maps(prescription, plan.receiver)]
    return int(max(count.max(initial=0) for count in counts))


def _finding(before: ZoneMap, after: ZoneMap, tolerance: float, most: int) -> Finding:
    names = np.array([before.zone_of(piece) for piece in range(len(before.shapes))])
    changes: dict[str, float] = {}
    for name in dict.fromkeys(names.tolist()):
        own: NDArray[np.bool_] = names == name
        changes[name] = float(after.area_m2[own].sum() / before.area_m2[own].sum() - 1)
    dialect = before.ground.dialect
    moved_m2 = float(np.abs(after.area_m2 - before.area_m2).sum()) / 2
    worst = max(changes, key=lambda name: abs(changes[name]))
    return Finding(
        id="borders-simplified",
        severity="caution" if abs(changes[worst]) > _NOTABLE_SHARE else "note",
        message=(
            f"Inner borders were simplified by up to {length_text(tolerance, dialect)}, to stay within {most} vertices "
            f"a polygon; zone {worst} changes most, by {changes[worst] * 100:+.3f} %. "
            f"{area_text(moved_m2, dialect)} change hands."
        ),
        remedy="Correct most_vertices of [receiver] if it loads more.",
    )
