"""Whether coordinates can belong to the CRS that they are said to be in."""

from __future__ import annotations

import numpy as np

from vrx.errors import CrsError, ImpossiblePlaceError
from vrx.geo.crs import WGS84, is_made_for, move_points, parse_crs, region_of, short_name
from vrx.inputs.crs_text import SLACK_DEGREES, Box, fits_degrees, like_degrees, span
from vrx.model.finding import Finding


def check_place(crs_text: str, box: Box, *, source: str) -> tuple[Finding, ...]:
    """Check that coordinates can belong to their CRS.

    Returns
    -------
    tuple of Finding
        ``crs-suspect`` where they lie far outside the region that the CRS is made for.

    Raises
    ------
    CrsError
        Degrees that no place on earth has: x and y swapped, metres, or longitudes beyond 180.
    """
    if not np.isfinite(box).all():
        return ()
    crs = parse_crs(crs_text)
    if crs.is_geographic and crs.axis_info[0].unit_name.lower() == "degree" and not fits_degrees(box):
        raise _impossible(box, source)
    return _far_away(crs_text, box, source)


def _impossible(box: Box, source: str) -> CrsError:
    x, y = (float(max(box[i], box[i + 2], key=abs)) for i in (0, 1))
    if max(abs(x), abs(y)) > 360:
        return ImpossiblePlaceError(
            f"Its CRS counts in degrees, but its coordinates, {span(box)}, are metres or feet of a map grid.",
            remedy="Have it saved again with the CRS that it is in, or put the right one in place of its own.",
            where=source,
        )
    if abs(y) > 90 and abs(x) <= 90 and abs(y) <= 180 + SLACK_DEGREES:
        return ImpossiblePlaceError(
            f"A latitude of {y:.10g} is impossible; x and y look swapped (latitude first).",
            remedy="Have it saved again with longitude first, as [longitude, latitude].",
            where=source,
        )
    if abs(y) > 90:
        return ImpossiblePlaceError(
            f"A latitude of {y:.10g} is impossible; latitudes lie between -90 and 90.",
            remedy="Have it saved again with the CRS that it is in.",
            where=source,
        )
    return ImpossiblePlaceError(
        f"A longitude of {x:.10g} is impossible; longitudes lie between -180 and 180.",
        remedy="Have it saved again with longitudes counted from -180 to 180.",
        where=source,
    )


def _far_away(crs_text: str, box: Box, source: str) -> tuple[Finding, ...]:
    degrees = parse_crs(crs_text).is_projected and like_degrees(box)  # in metres it would be the size of a door mat
    middle = np.array([[(box[0] + box[2]) / 2, (box[1] + box[3]) / 2]])
    try:
        longitude, latitude = move_points(middle, crs_text, WGS84)[0]
    except CrsError:
        place = "nowhere on earth"
    else:
        if not degrees and is_made_for(crs_text, longitude, latitude):
            return ()
        place = f"at longitude {longitude:.3f}, latitude {latitude:.3f}"
    region = region_of(crs_text)
    made_for = f"; it is made for {region}" if region else ""
    looks = " The coordinates look like degrees." if degrees else ""
    finding = Finding(
        id="crs-suspect",
        severity="caution",
        message=f"{source}: in its CRS, {short_name(crs_text)}, the map lies {place}{made_for}.{looks}",
        remedy="Check which CRS the file was made in.",
    )
    return (finding,)
