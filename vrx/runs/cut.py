"""Cutting the ground along the zones: from a job to a zone map that every later step uses again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.errors import GeometryError, InputError, PlanError, VrxError
from vrx.geo.area import grid_areas, rectangle_width_m, true_areas
from vrx.geo.borders import Borders, shared_borders
from vrx.geo.coverage import cut, settle_slivers
from vrx.geo.crs import WGS84, move_shapes
from vrx.geo.gaps import Gaps, find_gaps
from vrx.geo.merge import united
from vrx.geo.noding import BentEdges
from vrx.inputs.cells import cell_text, name_text
from vrx.model.finding import Finding
from vrx.model.layer import Layer
from vrx.model.plan import Plan
from vrx.model.zone_map import Ground, ZoneMap
from vrx.runs.job import Job
from vrx.runs.mend import MARGIN_SHARE, boundary_edges, mend, repair_findings
from vrx.runs.swapped import X_FIRST, looks_swapped
from vrx.units import area_text, length_text
from vrx.words import nearest

_MOST_TOLD = 12
_SPECK_M2 = 1.0
_HOLDS = {0: "points", 1: "lines"}


@dataclass(frozen=True, slots=True, kw_only=True)
class CutLayer:
    """One zone layer on the ground that was cut.

    Attributes
    ----------
    zone_map : ZoneMap
        The pieces, the same for every layer, and which of this layer's polygons cover each.
    gaps : Gaps
        Ground that no zone of the layer covers.
    zones : Layer
        The layer, with its attributes; a polygon of the zone map is a record of it.
    """

    zone_map: ZoneMap
    gaps: Gaps
    zones: Layer


@dataclass(frozen=True, slots=True, kw_only=True)
class CutGround:
    """The ground cut into pieces, with what later steps ask of it; picklable, and good for any rates.

    Attributes
    ----------
    layers : mapping of str to CutLayer
        By the name of the zone layer; a single one has an empty name.
    """

    layers: Mapping[str, CutLayer]
    borders: Borders
    findings: tuple[Finding, ...]

    @property
    def zone_map(self) -> ZoneMap:
        """The pieces with the zones of the first layer; pieces, areas and keep-outs are those of every layer."""
        return next(iter(self.layers.values())).zone_map


def cut_ground(job: Job, ground: Ground) -> CutGround:
    """Cut the ground along zones, keep-outs and overlays, settle slivers, and find what no zone covers.

    Raises
    ------
    InputError, GeometryError
        No zone of a layer lies in the field.
    """
    edges = boundary_edges(job.boundary, ground.frame)
    layers = {name: _zones_of(name, layer, ground, job, edges) for name, layer in job.zones.items()}
    findings = [one for found in layers.values() for one in found.findings]
    shapes = np.concatenate([found.shapes for found in layers.values()])
    areas = [*(one.shape for one in ground.keep_outs), *(one.shape for one in ground.overlays)]
    marked = np.array(areas, dtype=object)
    raw = cut(ground.boundary, shapes, marked)
    borders = shared_borders(raw.shapes)
    # Edges of overlays run beside those of zones and of each other: what they leave between them no one has drawn.
    speck_m2 = _SPECK_M2 if ground.overlays else 0.0
    pieces = settle_slivers(raw, borders, smaller_than_m2=speck_m2, firm=len(ground.keep_outs))
    area = true_areas(pieces.shapes, ground.frame)
    grid = grid_areas(pieces.shapes, ground.frame, ground.grid_crs)
    most = len(ground.keep_outs)
    kept_out = tuple(tuple(mark for mark in marks if mark < most) for marks in pieces.marks)
    overlaid = tuple(tuple(mark - most for mark in marks if mark >= most) for marks in pieces.marks)
    made: dict[str, CutLayer] = {}
    start = 0
    for name, found in layers.items():
        end = start + len(found.shapes)
        covers = tuple(tuple(one - start for one in cover if start <= one < end) for cover in pieces.covers)
        own = replace(pieces, covers=covers)
        gaps = find_gaps(own, borders, area, smaller_than_m2=job.plan.fill_gaps)
        zone_map = ZoneMap(
            ground=ground,
            zone_names=found.names,
            records=job.zones[name].records,
            shapes=pieces.shapes,
            covers=covers,
            kept_out=kept_out,
            overlaid=overlaid,
            fills={piece: hosts for gap, hosts in zip(gaps.small, gaps.hosts, strict=True) for piece in gap},
            area_m2=area,
            grid_m2=grid,
        )
        made[name] = CutLayer(zone_map=zone_map, gaps=gaps, zones=job.zones[name])
        start = end
    return CutGround(layers=made, borders=borders, findings=tuple(findings))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Zones:
    """A zone layer in the field's frame: a name and a shape a record, None where it has none near the field."""

    names: tuple[str, ...]
    shapes: NDArray[np.object_]
    findings: tuple[Finding, ...]


def _zones_of(name: str, layer: Layer, ground: Ground, job: Job, edges: BentEdges) -> _Zones:
    if not len(layer.records):
        raise InputError(f"The zone layer {layer.source} holds no record.", remedy="Give zones as polygons.")
    plan = job.plan
    names = zone_names(layer, plan, name)
    near = _near(layer, ground)
    mended = mend(layer.shapes[near], layer.crs, ground.frame, beside=(job.boundary, *job.keep_out_layers), onto=edges)
    shapes = np.full(len(layer.shapes), None, dtype=object)
    shapes[near] = mended.shapes
    repairs = tuple(replace(one, index=int(near[one.index])) for one in mended.repairs)
    findings = repair_findings(repairs, layer, ground.frame, field_m2=ground.boundary_area_m2, plan=plan, names=names)
    if not shapely.intersects(ground.boundary, shapes[~shapely.is_missing(shapes)]).any():
        raise _no_zone(layer, job.boundary)
    return _Zones(names=names, shapes=shapes, findings=tuple(findings))


def _no_zone(zones: Layer, boundary: Layer) -> VrxError:
    """Say why no zone lies in the field."""
    held = set(shapely.get_dimensions(zones.shapes).tolist())
    if 2 not in held:
        what = " and ".join(_HOLDS[one] for one in sorted(held & set(_HOLDS))) or "no shape"
        return InputError(
            f"The zone layer {zones.source} holds no polygons: it holds {what}.",
            remedy="Give zones as polygons; only those have an area.",
        )
    swapped = [one.source for one, other in ((zones, boundary), (boundary, zones)) if looks_swapped(one, other)]
    if swapped:
        return InputError(
            f"No zone of {zones.source} lies in the field, and with x and y of {' or '.join(swapped)} exchanged some "
            "would: they look swapped (latitude first).",
            remedy=X_FIRST,
        )
    return GeometryError(
        f"No zone of {zones.source} lies in the field.",
        remedy="Check that boundary and zones are of the same field, and the CRS of both.",
    )


def bare_ground_findings(cut_up: CutGround, plan: Plan) -> list[Finding]:
    """Say which ground no zone covers, and which product has no ground to go onto."""
    gaps = [one for name, layer in cut_up.layers.items() for one in _gap_findings(name, layer, plan)]
    return [*gaps, *_nothing_to_treat(cut_up.zone_map, plan)]


def zone_names(layer: Layer, plan: Plan, name: str) -> tuple[str, ...]:
    """Return the name of each record's zone.

    Parameters
    ----------
    name : str
        Of the zone layer in the plan.

    Raises
    ------
    PlanError
        The layer has no such field.
    """
    wanted = plan.zone_layers[name].name
    at = ("zones", *((name,) if name else ()), "name")
    if not wanted:
        return tuple(str(record) for record in layer.records)
    if wanted not in layer.columns:
        raise PlanError(
            f"The zone layer {layer.source} has no field {wanted!r}.",
            remedy=f"{nearest(wanted, layer.columns)}Use one of {', '.join(layer.columns)}."
            if layer.columns
            else "It has no fields: leave name out.",
            where=".".join(at),
            key=at,
        )
    text_of = name_text if layer.columns[wanted].kind == "number" else cell_text
    texts = [text_of(cell) for cell in layer.columns[wanted].cells]
    return tuple(text or f"(no name, record {record})" for text, record in zip(texts, layer.records, strict=True))


def _near(layer: Layer, ground: Ground) -> NDArray[np.int64]:
    """Return the records whose boxes meet the field's, and those without a shape, which are reported."""
    field = shapely.bounds(move_shapes(ground.boundary, ground.frame.crs, layer.crs))
    margin = MARGIN_SHARE * max(field[2] - field[0], field[3] - field[1])
    boxes = shapely.bounds(layer.shapes)
    away = (boxes[:, 0] > field[2] + margin) | (boxes[:, 2] < field[0] - margin)
    away |= (boxes[:, 1] > field[3] + margin) | (boxes[:, 3] < field[1] - margin)
    return np.flatnonzero(~away)


def _gap_findings(name: str, layer: CutLayer, plan: Plan) -> list[Finding]:
    """Say which ground no zone covers.

    Ground on which no product that goes by the layer may go does not count, nor where an overlay has a rate for all
    of them.
    """
    zone_map = layer.zone_map
    treated = np.zeros(len(zone_map.shapes), dtype=bool)
    for rate in plan.rate:
        if rate.zones == name:
            own = {at for at, one in enumerate(plan.overlay) if one.rate is not None and one.is_about(rate.product)}
            bare = np.array([own.isdisjoint(marks) for marks in zone_map.overlaid], dtype=bool)
            treated |= zone_map.treated(rate.product) & bare
    small = [gap for gap in layer.gaps.small if treated[list(gap)].any()]
    large = [[one for one in gap if treated[one]] for gap in layer.gaps.large]
    findings = [_small_gaps(zone_map, small, treated)] if small else []
    findings += _large_gaps(zone_map, [gap for gap in large if gap])
    if not name:
        return findings
    return [replace(one, message=f"Zone layer {name}: {one.message}") for one in findings]


def _small_gaps(zone_map: ZoneMap, gaps: Sequence[tuple[int, ...]], treated: NDArray[np.bool_]) -> Finding:
    dialect = zone_map.ground.dialect
    pieces = [one for gap in gaps for one in gap if treated[one]]
    area = float(zone_map.area_m2[pieces].sum())
    whole = np.array([united(zone_map.shapes[list(gap)]) for gap in gaps], dtype=object)
    widest = float(rectangle_width_m(whole).max())
    return Finding(
        id="sliver",
        severity="note",
        message=(
            f"{len(gaps)} {'gap' if len(gaps) == 1 else 'gaps'} between zones too small to treat, "
            f"{area_text(area, dialect)} in all and up to {length_text(widest, dialect)} wide, joined a neighbour: of "
            "those that are treated the one with the longest shared border."
        ),
        remedy="Set fill_gaps to another area to keep larger or smaller ones open.",
        area_m2=area,
        where=_place(zone_map, pieces),
    )


def _large_gaps(zone_map: ZoneMap, gaps: Sequence[list[int]]) -> list[Finding]:
    """Report gaps: the largest each, with its place, the others together."""
    largest_first = sorted(gaps, key=lambda gap: -float(zone_map.area_m2[gap].sum()))
    rest = [one for gap in largest_first[_MOST_TOLD:] for one in gap]
    findings = []
    for pieces in [*largest_first[:_MOST_TOLD], *([rest] if rest else [])]:
        area = float(zone_map.area_m2[pieces].sum())
        size = area_text(area, zone_map.ground.dialect)
        where = _place(zone_map, pieces)
        x_y = shapely.point_on_surface(where)
        findings.append(
            Finding(
                id="gap",
                severity="caution",
                message=(
                    f"{len(gaps) - _MOST_TOLD} more gaps in the field, {size} in all, have no zone: "
                    "they get the default rate."
                    if pieces is rest
                    else f"A gap of {size} in the field, around longitude {x_y.x:.5f}, latitude {x_y.y:.5f}, has no "
                    "zone: it gets the default rate."
                ),
                remedy="Draw a zone there, or raise fill_gaps if it is too small to treat.",
                area_m2=area,
                where=where,
            )
        )
    return findings


def _place(zone_map: ZoneMap, pieces: list[int]) -> BaseGeometry:
    return move_shapes(united(zone_map.shapes[pieces]), zone_map.ground.frame.crs, WGS84)


def _nothing_to_treat(zone_map: ZoneMap, plan: Plan) -> list[Finding]:
    return [
        Finding(
            id="nothing-to-treat",
            severity="caution",
            message=f"{product.name}: keep-outs cover the whole field, its map says 0 everywhere.",
            remedy="Check the keep-outs and their set-backs.",
            product=product.name,
        )
        for product in plan.rated
        if not zone_map.treated(product.name).any()
    ]
