"""Whether the coordinate systems that a plan names are made for the place of its field."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from vrx.errors import CrsError, PlanError
from vrx.geo.crs import DATUM_DOUBT_M, is_made_for, parse_crs, region_of, shift_accuracy, short_name, utm_epsg
from vrx.model.finding import Finding
from vrx.model.layer import Layer
from vrx.model.zone_map import Frame
from vrx.units import Dialect, length_text
from vrx.words import some

if TYPE_CHECKING:
    from vrx.model.plan import Plan

_RECEIVER_CRS = ("receiver", "crs")


def grid_crs_of(plan: Plan, frame: Frame) -> str:
    """Return the grid that a plan measures in: its own, or the UTM zone of the field.

    Raises
    ------
    CrsError
        It is none.
    """
    if plan.grid_crs == "auto":
        return utm_epsg(frame.longitude, frame.latitude)
    try:
        grid = parse_crs(plan.grid_crs)
    except CrsError as err:
        raise err.at("grid_crs", ("grid_crs",)) from err
    if not grid.is_projected:
        raise CrsError(
            f"{short_name(plan.grid_crs)!r} is no projected system: it has no planar areas.",
            remedy='Give the EPSG code of a grid in metres or feet, or "auto" for the UTM zone.',
            where="grid_crs",
            key=("grid_crs",),
        )
    return plan.grid_crs


def grid_findings(grid_crs: str, frame: Frame) -> list[Finding]:
    """Caution where a grid is made for another place: areas on it say nothing."""
    if is_made_for(grid_crs, frame.longitude, frame.latitude):
        return []
    return [
        Finding(
            id="grid-elsewhere",
            severity="caution",
            message=f"grid_crs = {short_name(grid_crs)!r} is made for {region_of(grid_crs)}; {_field_at(frame)} "
            "Map-sheet areas are distorted there.",
            remedy='Give the grid that your office uses for this place, or "auto" for the UTM zone.',
        )
    ]


def datum_findings(layers: Iterable[Layer], frame: Frame, dialect: Dialect) -> list[Finding]:
    """Caution where files stand on a datum whose shift to WGS 84 is known to metres only."""
    sources: dict[str, list[str]] = {}
    for layer in layers:
        sources.setdefault(layer.crs, []).append(layer.source)
    return [
        finding
        for crs, names in sources.items()
        for finding in _shift_finding(some(dict.fromkeys(names)), crs, frame, dialect)
    ]


def _shift_finding(what: str, crs: str, frame: Frame, dialect: Dialect) -> list[Finding]:
    doubt_m = shift_accuracy(crs, frame.longitude, frame.latitude)
    if doubt_m <= DATUM_DOUBT_M:
        return []
    return [
        Finding(
            id="crs-accuracy",
            severity="caution",
            message=(
                f"{what}: {short_name(crs)} stands on another datum than WGS 84, and the shift between them is known "
                f"to {length_text(doubt_m, dialect)} here. Where it lies in the field, and beside files of another "
                "datum, is good to that only, and so are set-backs."
            ),
            remedy="Have it saved in WGS 84 with the exact shift of the country's survey; until then widen set-backs.",
        )
    ]


def receiver_findings(plan: Plan, frame: Frame) -> list[Finding]:
    """Refuse a CRS for the written maps that is none of a map, or is made for another place; caution for an old one.

    Raises
    ------
    PlanError
        It can't hold this field.
    CrsError
        It is not known.
    """
    wanted = plan.receiver.crs
    try:
        crs = parse_crs(wanted)
    except CrsError as err:
        raise err.at("receiver.crs", _RECEIVER_CRS) from err
    if set(plan.receiver.formats) == {"geojson"}:
        return []  # which is in WGS 84 whatever the plan says
    remedy = f'Give a CRS for this place, such as "EPSG:4326" or "{utm_epsg(frame.longitude, frame.latitude)}".'
    if not (crs.is_geographic or crs.is_projected) or len(crs.axis_info) != 2:
        raise PlanError(
            f"{short_name(wanted)} ({crs.name}) is no CRS of a map: it has no longitude and latitude or easting and "
            "northing alone.",
            remedy=remedy,
            where="receiver.crs",
            key=_RECEIVER_CRS,
        )
    if not is_made_for(wanted, frame.longitude, frame.latitude):
        raise PlanError(
            f"{short_name(wanted)} ({crs.name}) is made for {region_of(wanted)}; {_field_at(frame)}",
            remedy=remedy,
            where="receiver.crs",
            key=_RECEIVER_CRS,
        )
    return _shift_finding("The written maps", wanted, frame, plan.dialect)


def _field_at(frame: Frame) -> str:
    return f"the field lies at longitude {frame.longitude:.3f}, latitude {frame.latitude:.3f}."
