"""The ground of overlays, and the part of a field that is treated, in the field's frame."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.errors import GeometryError
from vrx.geo.clip import clip, without
from vrx.geo.noding import BentEdges
from vrx.model.finding import Finding
from vrx.model.layer import Layer
from vrx.model.zone_map import Ground, KeepOutArea, OverlayArea, ZoneMap
from vrx.rates.places import place_of
from vrx.runs.mend import mend, repair_findings

if TYPE_CHECKING:
    from vrx.model.overlay import Overlay
    from vrx.runs.job import Job

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
        if drawn.shape.is_empty and not any(one.id == "overlay-without-polygons" for one in drawn.findings):
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
        # Nothing is treated then, as the papers of the stopped build show.
        rest = KeepOutArea(name=REST_NAME, products=(), shape=ground.boundary, is_rest=True)
        return rest, [*drawn.findings, _empty_part(layer)]
    rest = without(ground.boundary, drawn.shape)
    if rest.area < _LEAST_M2:
        return None, list(drawn.findings)
    return KeepOutArea(name=REST_NAME, products=(), shape=rest, is_rest=True), list(drawn.findings)


def laid_findings(overlays: Sequence[Overlay], zone_map: ZoneMap, products: Sequence[str]) -> list[Finding]:
    """Say which overlays change nothing, and where two give one product different rates: the later one holds."""
    ground = {name: zone_map.treated(name) for name in products}
    covers = [np.array([at in marks for marks in zone_map.overlaid], dtype=bool) for at in range(len(overlays))]

    def on(at: int, *others: int) -> dict[str, NDArray[np.bool_]]:
        every = (at, *others)
        shared = [name for name in products if all(overlays[one].is_about(name) for one in every)]
        return {name: ground[name] & np.logical_and.reduce([covers[one] for one in every]) for name in shared}

    findings = [
        _idle(overlay, zone_map.ground.overlays[at])
        for at, overlay in enumerate(overlays)
        if not zone_map.ground.overlays[at].shape.is_empty and not any(found.any() for found in on(at).values())
    ]
    for later, second in enumerate(overlays):
        for earlier, first in enumerate(overlays[:later]):
            if first.rate is None or second.rate is None or first.rate == second.rate:
                continue
            both = {name: found for name, found in on(earlier, later).items() if found.any()}
            if both:
                findings.append(_contradiction(first, second, both, zone_map))
    return findings


def _idle(overlay: Overlay, area: OverlayArea) -> Finding:
    return Finding(
        id="overlay-outside",
        severity="caution",
        message=f"The overlay {overlay.name} lies on no ground that its products go onto, "
        f"or is too small to draw ({area.shape.area:.2f} m2): it changes nothing.",
        remedy="Check its file, its products and the keep-outs, or take it out of the plan.",
    )


def _contradiction(
    first: Overlay, second: Overlay, both: Mapping[str, NDArray[np.bool_]], zone_map: ZoneMap
) -> Finding:
    pieces = np.flatnonzero(np.logical_or.reduce(list(both.values()))).tolist()
    return Finding(
        id="overlays-contradict",
        severity="caution",
        message=f"The overlays {first.name} ({first.rate}) and {second.name} ({second.rate}) lie on the same ground "
        f"for {', '.join(both)}: the later one, {second.name}, holds there.",
        remedy="Put the one that should hold last, or draw them apart.",
        area_m2=float(zone_map.area_m2[pieces].sum()),
        where=place_of(zone_map, pieces),
    )


def _from_file(layer: Layer, ground: Ground, job: Job, edges: BentEdges, *, what: str) -> Drawn:
    mended = mend(layer.shapes, layer.crs, ground.frame, beside=(job.boundary, *job.zones.values()), onto=edges)
    findings = repair_findings(mended.repairs, layer, ground.frame, field_m2=ground.boundary_area_m2, plan=job.plan)
    shapes = mended.shapes[~shapely.is_missing(mended.shapes) & ~shapely.is_empty(mended.shapes)]
    if not len(shapes):
        return Drawn(shape=shapely.Polygon(), findings=(*findings, _no_polygon(layer, what)))
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


def _no_polygon(layer: Layer, what: str) -> Finding:
    return Finding(
        id="overlay-without-polygons",
        severity="caution",
        message=f"The file {layer.source} of the {what} holds no polygon: it covers no ground.",
        remedy="Draw the ground as polygons.",
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
