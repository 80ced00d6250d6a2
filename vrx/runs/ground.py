"""The ground: boundary and keep-outs in the field's local frame."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, pi
from typing import TYPE_CHECKING

import numpy as np
import shapely

from vrx.errors import GeometryError, InputError
from vrx.geo.area import geodesic_area
from vrx.geo.crs import WGS84, frame_at, move_points, move_shapes, utm_epsg
from vrx.model.finding import Finding
from vrx.model.layer import Layer
from vrx.model.zone_map import Frame, Ground, KeepOutArea, OverlayArea
from vrx.runs.grids import datum_findings, grid_crs_of, grid_findings
from vrx.runs.keep_outs import keep_out_of
from vrx.runs.mend import METRES_A_DEGREE, Mended, boundary_edges, mend, repair_findings
from vrx.runs.overlays import overlay_area, part_of_field
from vrx.units import Dialect

if TYPE_CHECKING:
    from vrx.model.plan import Plan
    from vrx.runs.job import Job

_STATED_SHARE = 0.005
# Up to here distances in the frame are true within 1e-4, set-backs among them.
_WIDEST_M = 200_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidGround:
    """The ground, and what there is to say about boundary and keep-outs."""

    ground: Ground
    findings: tuple[Finding, ...]


def lay_ground(job: Job) -> LaidGround:
    """Bring boundary and keep-outs of a job into the field's own frame.

    Raises
    ------
    InputError
        The boundary has no ground.
    """
    plan = job.plan
    frame = frame_of(job.boundary)
    mended = mend(job.boundary.shapes, job.boundary.crs, frame)
    bare = _bare_ground(mended, job.boundary, frame, grid_crs=grid_crs_of(plan, frame), dialect=plan.dialect)
    findings = [*grid_findings(bare.grid_crs, frame), *datum_findings(job.layers, frame, plan.dialect)]
    findings += repair_findings(mended.repairs, job.boundary, frame, field_m2=bare.boundary_area_m2, plan=plan)
    keep_outs = []
    edges = boundary_edges(job.boundary, frame)
    for one, layer in job.keep_outs:
        shape, said = keep_out_of(one, layer, bare, job, edges)
        findings += said
        if not shape.is_empty:
            name = one.reason or layer.source
            keep_outs.append(KeepOutArea(name=name, products=one.products, shape=shape, set_back_m=one.set_back))
    if job.part is not None:
        rest, said = part_of_field(job.part, bare, job, edges)
        keep_outs += [] if rest is None else [rest]
        findings += said
    kept = replace(bare, keep_outs=tuple(keep_outs))
    overlays = []
    for overlay, drawn_in in job.overlays:
        drawn = overlay_area(overlay, drawn_in, kept, job, edges)
        overlays.append(OverlayArea(name=overlay.name, shape=drawn.shape))
        findings += drawn.findings
    return LaidGround(ground=replace(kept, overlays=tuple(overlays)), findings=tuple(findings))


def ground_within(boundary: Layer, dialect: Dialect) -> Ground:
    """Return the ground within a boundary that no plan says more of.

    Raises
    ------
    InputError
        The boundary has no ground.
    """
    frame = frame_of(boundary)
    mended = mend(boundary.shapes, boundary.crs, frame)
    grid_crs = utm_epsg(frame.longitude, frame.latitude)
    return _bare_ground(mended, boundary, frame, grid_crs=grid_crs, dialect=dialect)


def _bare_ground(mended: Mended, boundary: Layer, frame: Frame, *, grid_crs: str, dialect: Dialect) -> Ground:
    sound = mended.shapes[~shapely.is_missing(mended.shapes)]
    if not len(sound):
        raise InputError(
            f"The boundary {boundary.source} holds no polygon.", remedy="Give the field's outline as a polygon."
        )
    whole = sound[0] if len(sound) == 1 else shapely.union_all(sound)
    return Ground(
        frame=frame,
        boundary=whole,
        keep_outs=(),
        boundary_area_m2=geodesic_area(move_shapes(whole, frame.crs, WGS84)),
        grid_crs=grid_crs,
        dialect=dialect,
    )


def frame_of(boundary: Layer, what: str = "boundary") -> Frame:
    """Return the local frame around a layer.

    Parameters
    ----------
    what : str
        What the layer is, as people are told it.

    Raises
    ------
    InputError
        It holds no shape.
    GeometryError
        It spans more than any field.
    """
    shapes = boundary.shapes[~shapely.is_missing(boundary.shapes)]
    bounds = shapely.total_bounds(shapes) if len(shapes) else np.full(4, np.nan)
    if not np.isfinite(bounds).all():
        raise InputError(
            f"The {what} {boundary.source} holds no shape.", remedy="Give the field's outline as a polygon."
        )
    west, south, east, north = bounds
    places = np.array([[(west + east) / 2, (south + north) / 2], *shapely.box(*bounds).exterior.coords[:4]])
    degrees = move_points(places, boundary.crs, WGS84)
    longitude, latitude = degrees[0]
    wide, high = np.ptp(degrees, axis=0) * METRES_A_DEGREE * (cos(latitude * pi / 180), 1.0)
    if max(wide, high) > _WIDEST_M:
        raise GeometryError(
            f"The {what} {boundary.source} spans {max(wide, high) / 1000:,.0f} km, more than any field.",
            remedy="Check its CRS, and look for a stray vertex. Ground far apart, or on both sides of the meridian of "
            "180 degrees, needs a plan for each part.",
        )
    return frame_at(float(longitude), float(latitude))


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
