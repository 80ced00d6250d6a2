"""Keep-outs: what a layer draws, with its set-back, on the ground of the field."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from math import cos, pi
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.errors import GeometryError, InputError
from vrx.geo.area import line_length
from vrx.geo.clip import clip
from vrx.geo.crs import WGS84, move_shapes
from vrx.geo.noding import BentEdges
from vrx.geo.repair import Repair
from vrx.model.finding import Finding
from vrx.model.layer import Layer
from vrx.model.zone_map import Ground
from vrx.runs.mend import mend, repair_findings, units_per_metre
from vrx.runs.swapped import X_FIRST, looks_swapped
from vrx.units import length_text

if TYPE_CHECKING:
    from vrx.model.plan import KeepOut, Plan
    from vrx.runs.job import Job

_QUADRANT_SEGMENTS = 32
# A set-back is drawn around the circle, not inside it, so that nowhere is it less than said.
_AROUND = 1 / cos(pi / (4 * _QUADRANT_SEGMENTS))
_HAIR_M = 1e-3
_FAR_M = 10_000.0
_COLLECTION = 7


def keep_out_of(
    one: KeepOut, layer: Layer, ground: Ground, job: Job, edges: BentEdges
) -> tuple[BaseGeometry, list[Finding]]:
    """Return what a keep-out takes of a field, its set-back included, and what there is to say about it.

    Parameters
    ----------
    edges : BentEdges
        The boundary's, onto which vertices of the keep-out are put.

    Returns
    -------
    shape : Polygon or MultiPolygon
        In the field's frame; empty where it does not reach into the field.
    findings : list of Finding

    Raises
    ------
    InputError
        It would keep no ground out without a set-back, or its x and y are swapped.
    GeometryError
        It can't be cut along the boundary.
    """
    parts, record = _parts_of(layer)
    flat = np.isin(shapely.get_dimensions(parts), (0, 1)) & ~shapely.is_empty(parts)
    mended = mend(parts[~flat], layer.crs, ground.frame, beside=(job.boundary, *job.zones.values()), onto=edges)
    repairs = [replace(found, index=int(record[~flat][found.index])) for found in mended.repairs]
    shrunk = [found for found in repairs if found.after is None and found.reason != "no shape"]
    others = tuple(found for found in repairs if found.after is not None or found.reason == "no shape")
    if one.set_back == 0 and (flat.any() or shrunk):
        raise InputError(
            f"The keep-out {layer.source} holds points, lines or polygons without width and has no set_back: "
            "they would keep no ground out.",
            remedy='Give it one, such as set_back = "30 ft", or take them out of the file.',
        )
    findings = [_without_width(found, layer, job.plan) for found in shrunk]
    findings += repair_findings(others, layer, ground.frame, field_m2=ground.boundary_area_m2, plan=job.plan)
    lines = np.array([*parts[flat], *_lines_dropped(repairs, layer.crs)], dtype=object)
    in_frame = np.array([*_lines_dropped(mended.again, ground.frame.crs)], dtype=object)
    shapes = np.concatenate((move_shapes(lines, layer.crs, ground.frame.crs), in_frame, mended.shapes))
    shapes = shapes[~shapely.is_missing(shapes) & ~shapely.is_empty(shapes)]
    if not len(shapes):
        return shapely.Polygon(), [*findings, _nothing_kept_out(one, layer)]
    wide = shapely.buffer(shapes, one.set_back * _AROUND, quad_segs=_QUADRANT_SEGMENTS) if one.set_back else shapes
    try:
        shape = clip(shapely.union_all(wide), ground.boundary)
    except GeometryError as err:
        raise err.at(f"keep-out {one.reason or layer.source}") from err
    if shape.is_empty:
        findings.append(_outside(one, layer, shapes, ground, job.boundary))
    return shape, findings


def _nothing_kept_out(one: KeepOut, layer: Layer) -> Finding:
    return Finding(
        id="keep-out-empty",
        severity="stop",
        message=f"The keep-out {one.reason or layer.source} holds no shape: nothing would be kept out.",
        remedy="Draw it, or take it out of the plan.",
    )


def _outside(one: KeepOut, layer: Layer, shapes: NDArray[np.object_], ground: Ground, boundary: Layer) -> Finding:
    """Say how far away a keep-out lies: one beside the field may well be meant, one elsewhere is a mistake.

    Raises
    ------
    InputError
        With x and y exchanged it would lie at the field.
    """
    name = one.reason or layer.source
    between = shapely.shortest_line(shapely.union_all(shapes), ground.boundary)
    distance_m = line_length(move_shapes(between, ground.frame.crs, WGS84))
    far = distance_m > one.set_back + max(np.ptp(shapely.bounds(ground.boundary).reshape(2, 2), axis=0))
    if far and looks_swapped(layer, boundary):
        raise InputError(
            f"The keep-out {name} lies far from the field, and at it with x and y exchanged: they look swapped.",
            remedy=X_FIRST,
            where=layer.source,
        )
    apart = f"{distance_m / 1000:,.0f} km" if distance_m > _FAR_M else length_text(distance_m, ground.dialect)
    return Finding(
        id="keep-out-outside",
        severity="caution" if far else "note",
        message=f"The keep-out {name} does not reach into the field: it lies {apart} away.",
        remedy="Check its file, its CRS and its set-back if it should." if far else "Check its set-back if it should.",
    )


def _lines_dropped(repairs: Iterable[Repair], crs: str) -> Iterator[BaseGeometry]:
    """Yield what repair dropped for its want of width, such as a ditch drawn there and back, as it was drawn."""
    hair = _HAIR_M * units_per_metre(crs)
    for one in repairs:
        if one.before is not None:
            drawn = shapely.boundary(one.before)
            yield drawn if one.after is None else shapely.difference(drawn, shapely.buffer(one.after, hair))


def _without_width(one: Repair, layer: Layer, plan: Plan) -> Finding:
    record = int(layer.records[one.index])
    return Finding(
        id="invalid-shape",
        severity="caution" if plan.repairs == "mend" else "stop",
        message=f"{layer.source}: record {record} is a polygon without width; its set-back is kept from its line.",
        remedy="Draw it as a line, or redraw it where it should have ground of its own.",
        features=(record,),
    )


def _parts_of(layer: Layer) -> tuple[NDArray[np.object_], NDArray[np.int64]]:
    """Return the shapes of a layer, those of mixed collections each by itself, and the position of each one's record.

    Points and lines beside polygons have a set-back too, and repair would drop them.
    """
    shapes, record = layer.shapes, np.arange(len(layer.shapes))
    while (mixed := (shapely.get_type_id(shapes) == _COLLECTION) & ~shapely.is_empty(shapes)).any():
        parts, of = shapely.get_parts(shapes[mixed], return_index=True)
        there = ~shapely.is_empty(parts)
        shapes = np.concatenate((shapes[~mixed], parts[there]))
        record = np.concatenate((record[~mixed], record[mixed][of[there]]))
    order = np.argsort(record, kind="stable")
    return shapes[order], record[order]
