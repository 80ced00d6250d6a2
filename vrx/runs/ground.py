"""The ground: boundary and keep-outs in the field's local frame."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import cos, pi

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

from vrx.errors import CrsError, GeometryError, InputError
from vrx.geo.area import geodesic_area, line_length
from vrx.geo.clip import clip
from vrx.geo.crs import WGS84, frame_at, move_points, move_shapes, parse_crs
from vrx.geo.merge import decimals_of
from vrx.geo.noding import BentEdges, bent_edges, node_long_edges, straighten
from vrx.geo.repair import Repair, repair
from vrx.model.finding import Finding, Severity
from vrx.model.layer import Layer
from vrx.model.plan import KeepOut, Plan
from vrx.model.zone_map import Frame, Ground, KeepOutArea
from vrx.runs.grids import datum_findings, grid_crs_of, grid_findings
from vrx.runs.job import Job
from vrx.units import area_text, length_text

# Edges up to this length bend by less than a millimetre between one CRS and another.
_LONG_EDGE_M = 100.0
_ON_EDGE_M = 0.01
_QUADRANT_SEGMENTS = 32
_COLLECTION = 7
# A set-back is drawn around the circle, not inside it, so that nowhere is it less than said.
_AROUND = 1 / cos(pi / (4 * _QUADRANT_SEGMENTS))
_HAIR_M = 1e-3
_FAR_M = 10_000.0
_MOVED_SHARE = 0.001
_STATED_SHARE = 0.005
_METRES_A_DEGREE = 111_320.0
# Up to here distances in the frame are true within 1e-4, set-backs among them.
_WIDEST_M = 200_000.0
# What lies farther than this share of the field's width from its box is no neighbour.
MARGIN_SHARE = 0.02
X_FIRST = "Have the file saved again with x first: longitude before latitude, easting before northing."


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidGround:
    """The ground, and what there is to say about boundary and keep-outs."""

    ground: Ground
    findings: tuple[Finding, ...]


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


def lay_ground(job: Job) -> LaidGround:
    """Bring boundary and keep-outs of a job into the field's own frame.

    Raises
    ------
    InputError
        The boundary has no ground.
    """
    plan = job.plan
    frame = _frame_of(job.boundary)
    mended = mend(job.boundary.shapes, job.boundary.crs, frame)
    sound = mended.shapes[~shapely.is_missing(mended.shapes)]
    if not len(sound):
        raise InputError(
            f"The boundary {job.boundary.source} holds no polygon.", remedy="Give the field's outline as a polygon."
        )
    boundary = sound[0] if len(sound) == 1 else shapely.union_all(sound)
    bare = Ground(
        frame=frame,
        boundary=boundary,
        keep_outs=(),
        boundary_area_m2=geodesic_area(move_shapes(boundary, frame.crs, WGS84)),
        grid_crs=grid_crs_of(plan, frame),
        dialect=plan.dialect,
    )
    layers = (job.boundary, job.zones, *job.keep_out_layers)
    findings = [*grid_findings(bare.grid_crs, frame), *datum_findings(layers, frame, plan.dialect)]
    findings += repair_findings(mended.repairs, job.boundary, frame, field_m2=bare.boundary_area_m2, plan=plan)
    keep_outs = []
    edges = boundary_edges(job.boundary, frame)
    for one, layer in job.keep_outs:
        shape, said = _keep_out(one, layer, bare, job, edges)
        findings += said
        if not shape.is_empty:
            name = one.reason or layer.source
            keep_outs.append(KeepOutArea(name=name, products=one.products, shape=shape, set_back_m=one.set_back))
    return LaidGround(ground=replace(bare, keep_outs=tuple(keep_outs)), findings=tuple(findings))


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
    long_edge = _LONG_EDGE_M * _units_per_metre(boundary.crs)
    return bent_edges(noded, boundary.crs, frame.crs, longer_than=long_edge)


def _noded(shapes: NDArray[np.object_], crs: str, beside: Sequence[Layer]) -> NDArray[np.object_]:
    per_metre = _units_per_metre(crs)
    return node_long_edges(
        shapes,
        longer_than=_LONG_EDGE_M * per_metre,
        within=_ON_EDGE_M * per_metre,
        beside=_vertices(beside, crs, shapes),
    )


def _vertices(layers: Sequence[Layer], crs: str, around: NDArray[np.object_]) -> Iterator[NDArray[np.float64]]:
    """Yield the vertices of each layer, in a CRS, that lie around some shapes of that CRS."""
    west, south, east, north = shapely.total_bounds(around)
    outline = shapely.segmentize(shapely.box(west, south, east, north), max(east - west, north - south) / 8)
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


def _frame_of(boundary: Layer) -> Frame:
    shapes = boundary.shapes[~shapely.is_missing(boundary.shapes)]
    bounds = shapely.total_bounds(shapes) if len(shapes) else np.full(4, np.nan)
    if not np.isfinite(bounds).all():
        raise InputError(
            f"The boundary {boundary.source} holds no shape.", remedy="Give the field's outline as a polygon."
        )
    west, south, east, north = bounds
    places = np.array([[(west + east) / 2, (south + north) / 2], *shapely.box(*bounds).exterior.coords[:4]])
    degrees = move_points(places, boundary.crs, WGS84)
    longitude, latitude = degrees[0]
    wide, high = np.ptp(degrees, axis=0) * _METRES_A_DEGREE * (cos(latitude * pi / 180), 1.0)
    if max(wide, high) > _WIDEST_M:
        raise GeometryError(
            f"The boundary {boundary.source} spans {max(wide, high) / 1000:,.0f} km, more than any field.",
            remedy="Check its CRS, and look for a stray vertex. Ground far apart, or on both sides of the meridian of "
            "180 degrees, needs a plan for each part.",
        )
    return frame_at(float(longitude), float(latitude))


def _units_per_metre(crs: str) -> float:
    parsed = parse_crs(crs)
    if parsed.is_geographic:
        return 1 / _METRES_A_DEGREE
    return 1 / float(parsed.axis_info[0].unit_conversion_factor or 1.0)


def _keep_out(
    one: KeepOut, layer: Layer, ground: Ground, job: Job, edges: BentEdges
) -> tuple[BaseGeometry, list[Finding]]:
    parts, record = _parts_of(layer)
    flat = np.isin(shapely.get_dimensions(parts), (0, 1)) & ~shapely.is_empty(parts)
    mended = mend(parts[~flat], layer.crs, ground.frame, beside=(job.boundary, job.zones), onto=edges)
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


def looks_swapped(layer: Layer, other: Layer) -> bool:
    """Tell whether a shape of a layer lies at another layer once x and y are exchanged."""
    try:
        there = shapely.bounds(move_shapes(shapely.box(*shapely.total_bounds(other.shapes)), other.crs, layer.crs))
    except (CrsError, GEOSException):
        return False
    low, high = there.reshape(2, 2)
    reach = max(high - low)
    boxes = shapely.bounds(layer.shapes).reshape(-1, 2, 2)[:, :, ::-1]
    # NaN, where a shape is missing, is near to nothing.
    near = (boxes[:, 0] <= high + reach) & (boxes[:, 1] >= low - reach)
    return bool(near.all(axis=1).any())


def _lines_dropped(repairs: Iterable[Repair], crs: str) -> Iterator[BaseGeometry]:
    """Yield what repair dropped for its want of width, such as a ditch drawn there and back, as it was drawn."""
    hair = _HAIR_M * _units_per_metre(crs)
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


def stated_area_findings(plan: Plan, ground: Ground, treated_m2: float) -> list[Finding]:
    """Compare the stated area with the measured one."""
    stated = plan.field.stated_area
    if stated is None:
        return []
    measured = treated_m2 if plan.field.stated_basis == "treated" else ground.boundary_area_m2
    difference = measured / float(stated.si) - 1
    if abs(difference) <= _STATED_SHARE:
        return []
    unit = stated.unit
    in_unit = measured / float(unit.factor)
    return [
        Finding(
            id="area-differs",
            severity="caution",
            message=(
                f"The plan states {stated} "
                f"({plan.field.stated_basis}); measured are {in_unit:.3f} {unit.name}, {difference * 100:+.2f} %."
            ),
            remedy="Check the boundary file, and whether the stated area counts keep-outs.",
            area_m2=abs(measured - float(stated.si)),
        )
    ]
