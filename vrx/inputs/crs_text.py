"""Which coordinate reference system a file is in: what it declares, what the plan says, and what is missing."""

from __future__ import annotations

import re
from typing import Final

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS

from vrx.errors import CrsError, NoCrsError, UnknownCrsError
from vrx.geo.crs import WGS84, move_points, parse_crs, short_name
from vrx.model.finding import Finding

Box = NDArray[np.float64]
"""Bounds of all coordinates: x from, y from, x to, y to; NaN where there is no shape."""

_LOOKS_LIKE_CRS: Final = re.compile(r"\s*(?:EPSG:\d+\s*$|\+proj=|\{|[A-Za-z_0-9]+\s*\[)", re.IGNORECASE)
_SURE: Final = 90
SLACK_DEGREES: Final = 0.001
_DISTRICT_DEGREES: Final = 5.0
_SAME_DEGREES: Final = 1e-7  # a centimetre on the ground


def declared_crs(text: str, *, part: str, source: str) -> tuple[str, tuple[Finding, ...]]:
    """Read the CRS that a file declares.

    Parameters
    ----------
    text : str
        WKT of any flavour, a PROJ text or ``EPSG:code``.
    part : str
        Where it stands, as people are told it: ``.prj``.
    source : str
        Name of the file.

    Returns
    -------
    crs : str
        ``EPSG:code`` where it is one, else WKT; empty where it places nothing on earth (a local grid).
    findings : tuple of Finding
        ``crs-unknown`` where there is no such EPSG code.

    Raises
    ------
    CrsError
        It can't be read.
    """
    if not text.strip():
        return "", ()
    try:
        if not _LOOKS_LIKE_CRS.match(text):
            raise CrsError("not a CRS")
        crs = _horizontal(parse_crs(text.strip()))
    except CrsError:
        raise UnknownCrsError(
            f"The CRS in its {part} can't be read: {_shown(text)!r}.",
            remedy=f'Replace the {part} by one in WKT, or take it away and give crs = "EPSG:..." in the plan.',
            where=source,
        ) from None
    if not (crs.is_geographic or crs.is_projected):
        return "", ()
    code = epsg_code(crs)
    if code:
        return code, ()
    base = crs.source_crs if crs.is_bound else crs
    wkt = str(crs.to_wkt())
    if crs.is_bound and base is not None and epsg_code(base):
        return wkt, ()  # known, with its own shift to WGS 84, which holds
    datum = base.datum.name if base is not None and base.datum is not None else "unknown"
    unsure = "unknown" in datum.lower() or "not specified" in datum.lower()
    finding = Finding(
        id="crs-unknown",
        severity="caution" if unsure else "note",
        message=(
            f"{source}: the CRS in its {part} ({crs.name}) matches no EPSG code by name. "
            f"It is used as it stands, with the datum {datum} that the {part} gives."
        ),
        remedy="Check that the map lies where the field is.",
    )
    return wkt, (finding,)


def epsg_code(crs: CRS) -> str:
    """Return ``EPSG:code`` where a CRS is that one by definition and by name; empty otherwise."""
    for match in crs.list_authority(auth_name="EPSG", min_confidence=70):
        code = f"EPSG:{match.code}"
        # 70 means the same definition under another name: GCS_GDA2020 is GDA2020, Assumed_Geographic is not NAD83.
        if match.confidence >= _SURE or _plain(crs.name) == _plain(parse_crs(code).name):
            return code
    return ""


def given_crs(text: str) -> str:
    """Return the CRS that a person gave, as ``EPSG:code`` where it is one, else as WKT.

    Raises
    ------
    CrsError
        It is not known, or is none of longitude and latitude or of a map grid.
    """
    crs = _horizontal(parse_crs(text))
    if not (crs.is_geographic or crs.is_projected):
        raise CrsError(
            f"The coordinate reference system {text!r} ({crs.name}) places nothing on a map.",
            remedy='Give a geographic or projected one, such as crs = "EPSG:32614".',
        )
    return epsg_code(crs) or str(crs.to_wkt())


def differs(one: str, other: str, box: Box) -> bool:
    """Tell whether two CRSs put the same coordinates more than a centimetre apart."""
    if one == other:
        return False
    corners = np.array([[box[i], box[j]] for i in (0, 2) for j in (1, 3)], dtype=np.float64)
    if not np.isfinite(corners).all():
        return not parse_crs(one).equals(parse_crs(other), ignore_axis_order=True)
    try:
        return bool(np.abs(move_points(corners, one, WGS84) - move_points(corners, other, WGS84)).max() > _SAME_DEGREES)
    except CrsError:
        return True


def both_given(own: str, given: str, source: str) -> Finding:
    """Return the finding for a file with its own CRS where a person says another."""
    return Finding(
        id="crs-suspect",
        severity="caution",
        message=(
            f"{source} has its own CRS, {short_name(own)}, and was said to be in {short_name(given)}, which puts the "
            "map elsewhere. The file's own is used."
        ),
        remedy="Leave out the CRS that was said, or mend the file's own if that is the wrong one.",
    )


def fits_degrees(box: Box) -> bool:
    """Tell whether coordinates can be longitude and latitude in degrees; True where there are none."""
    if not np.isfinite(box).all():
        return True
    return bool(max(abs(box[0]), abs(box[2])) <= 180 + SLACK_DEGREES and max(abs(box[1]), abs(box[3])) <= 90)


def like_degrees(box: Box) -> bool:
    """Tell whether coordinates look like degrees: they can be, and reach no further than a district does."""
    return fits_degrees(box) and bool(max(box[2] - box[0], box[3] - box[1]) <= _DISTRICT_DEGREES)


def missing_crs(box: Box, *, lacking: str, mend: str, source: str) -> CrsError:
    """Return the error for a file that does not say its CRS: what its coordinates look like, and three ways out."""
    return NoCrsError(
        f"It has no CRS (map coordinates): {lacking}. {_appearance(box)}".rstrip(),
        remedy=(
            f'Say it in the plan, as crs = "EPSG:...", or {mend}, or have it saved again (reprojected) in WGS 84 '
            "longitude and latitude."
        ),
        where=source,
    )


def span(box: Box) -> str:
    """Return the range of coordinates in words."""
    return f"x {box[0]:.10g} to {box[2]:.10g} and y {box[1]:.10g} to {box[3]:.10g}"


def _appearance(box: Box) -> str:
    if not np.isfinite(box).all():
        return ""
    head = f"Its coordinates, {span(box)}, look like"
    if like_degrees(box):
        return f"{head} degrees of longitude and latitude, but of which datum can't be told."
    if np.abs(box).max() <= 360:
        return f"{head} metres or feet of a local grid, or degrees of a whole continent."
    text = f"{head} metres (or feet) of a map grid, not degrees."
    if 100_000 <= box[0] <= box[2] <= 900_000 and 0 <= box[1] <= box[3] <= 10_000_000:
        middle = np.array([[500_000.0, (box[1] + box[3]) / 2]])
        north = move_points(middle, "EPSG:32631", WGS84)[0, 1]
        south = move_points(middle, "EPSG:32731", WGS84)[0, 1]
        places = [f"{north:.1f} in a northern zone (EPSG:326..)"] if north <= 84 else []
        places += [f"{south:.1f} in a southern one (EPSG:327..)"] if south >= -80 else []
        text += (
            f" If it is UTM, the field lies near latitude {' or '.join(places)}; the number of the zone can't be "
            "told from them."
        )
    return text


def _horizontal(crs: CRS) -> CRS:
    return crs.to_2d() if len(crs.axis_info) == 3 else crs


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.lower().removeprefix("gcs_"))


def _shown(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= 60 else line[:57] + "..."
