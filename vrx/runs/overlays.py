"""The ground of overlays, and the part of a field that is treated, in the field's frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from vrx.errors import GeometryError
from vrx.geo.clip import clip, without
from vrx.geo.noding import BentEdges
from vrx.model.finding import Finding
from vrx.model.layer import Layer
from vrx.model.overlay import Overlay
from vrx.model.zone_map import Ground, KeepOutArea, OverlayArea
from vrx.runs.job import Job
from vrx.runs.mend import mend, repair_findings

_QUADRANT_SEGMENTS = 32
# Less than this of a field is no part of it, but the rounding of two files that mean the same edge.
_LEAST_M2 = 1e-3
REST_NAME = "outside the part"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A shape within the field, empty where it does not reach into it, and what there is to say about it."""

    shape: BaseGeometry
    findings: tuple[Finding, ...] = ()


def overlay_area(overlay: Overlay, layer: Layer | None, ground: Ground, job: Job, edges: BentEdges) -> Drawn:
    """Return the ground of an overlay.

    Parameters
    ----------
    ground : Ground
        With its keep-outs: laps go around those that bind all products of the overlay.
    edges : BentEdges
        The boundary's, onto which vertices of a file are put.

    Raises
    ------
    GeometryError
        It can't be cut along the boundary.
    """
    if layer is not None:
        drawn = _from_file(layer, ground, job, edges, what=f"overlay {overlay.name}")
        if drawn.shape.is_empty:
            return Drawn(shape=drawn.shape, findings=(*drawn.findings, _outside(overlay)))
        return drawn
    if overlay.edge_m is not None:
        whole, width_m = ground.boundary, overlay.edge_m
    else:
        whole = _treatable(ground, overlay)
        width_m = (overlay.laps or 0.0) * (job.plan.machine.width or 0.0)
    inner = shapely.buffer(whole, -width_m, quad_segs=_QUADRANT_SEGMENTS)
    shape = without(whole, inner) if not whole.is_empty else whole
    return Drawn(shape=shape, findings=(_swallowed(overlay),) if inner.is_empty else ())


def part_of_field(layer: Layer, ground: Ground, job: Job, edges: BentEdges) -> tuple[KeepOutArea | None, list[Finding]]:
    """Return the ground beside the part that is treated, as a keep-out; None where the part is the whole field.

    Raises
    ------
    GeometryError
        It can't be cut along the boundary.
    """
    drawn = _from_file(layer, ground, job, edges, what="part")
    if drawn.shape.is_empty:
        return None, [*drawn.findings, _empty_part(layer)]
    rest = without(ground.boundary, drawn.shape)
    if rest.area < _LEAST_M2:
        return None, list(drawn.findings)
    return KeepOutArea(name=REST_NAME, products=(), shape=rest, is_rest=True), list(drawn.findings)


def order_findings(overlays: Sequence[Overlay], areas: Sequence[OverlayArea], products: Sequence[str]) -> list[Finding]:
    """Say where two overlays give one product different rates of their own on the same ground: the later one holds."""
    findings = []
    for later, (second, over) in enumerate(zip(overlays, areas, strict=True)):
        for first, under in zip(overlays[:later], areas[:later], strict=True):
            if first.rate is None or second.rate is None or first.rate == second.rate:
                continue
            shared = [one for one in products if first.is_about(one) and second.is_about(one)]
            both = shapely.intersection(under.shape, over.shape)
            if shared and both.area > _LEAST_M2:
                findings.append(
                    Finding(
                        id="overlays-contradict",
                        severity="caution",
                        message=f"The overlays {first.name} ({first.rate}) and {second.name} ({second.rate}) lie on "
                        f"the same ground for {', '.join(shared)}: the later one, {second.name}, holds there.",
                        remedy="Put the one that should hold last, or draw them apart.",
                        area_m2=float(both.area),
                    )
                )
    return findings


def _from_file(layer: Layer, ground: Ground, job: Job, edges: BentEdges, *, what: str) -> Drawn:
    mended = mend(layer.shapes, layer.crs, ground.frame, beside=(job.boundary, *job.zones.values()), onto=edges)
    findings = repair_findings(mended.repairs, layer, ground.frame, field_m2=ground.boundary_area_m2, plan=job.plan)
    shapes = mended.shapes[~shapely.is_missing(mended.shapes) & ~shapely.is_empty(mended.shapes)]
    if not len(shapes):
        return Drawn(shape=shapely.Polygon(), findings=tuple(findings))
    try:
        shape = clip(shapely.union_all(shapes), ground.boundary)
    except GeometryError as err:
        raise err.at(what) from err
    return Drawn(shape=shape, findings=tuple(findings))


def _treatable(ground: Ground, overlay: Overlay) -> BaseGeometry:
    """Return the field without the keep-outs that bind all products of an overlay."""
    wanted = set(overlay.products)
    # The edge of a part that is treated is no edge of the field: the machine turns where the field ends.
    field = [one for one in ground.keep_outs if not one.is_rest]
    binding = [one.shape for one in field if not one.products or (wanted and wanted <= set(one.products))]
    if not binding:
        return ground.boundary
    return without(ground.boundary, shapely.union_all(binding))


def _outside(overlay: Overlay) -> Finding:
    return Finding(
        id="overlay-outside",
        severity="caution",
        message=f"The overlay {overlay.name} does not reach into the field: it changes nothing.",
        remedy="Check its file and its CRS, or take it out of the plan.",
    )


def _swallowed(overlay: Overlay) -> Finding:
    return Finding(
        id="overlay-swallows",
        severity="caution",
        message=f"The overlay {overlay.name} ({overlay.where}) covers all of the field: no ground is left within it.",
        remedy="Take fewer laps or a smaller distance, or give the rate to the zones.",
    )


def _empty_part(layer: Layer) -> Finding:
    return Finding(
        id="part-empty",
        severity="stop",
        message=f"The part {layer.source} covers nothing of the field: nothing would be treated.",
        remedy="Check its file and its CRS.",
    )
