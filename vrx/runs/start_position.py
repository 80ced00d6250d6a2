"""Where the machine stands, and whether that is in the field."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.errors import CrsError, InputError
from vrx.geo.crs import WGS84, move_shapes
from vrx.geo.direction import distance_and_azimuth, wind_of
from vrx.model.readiness import ReadyLine
from vrx.model.zone_map import Ground
from vrx.units import length_text


def read_position(text: str) -> tuple[float, float]:
    """Read a place as ``LON,LAT`` in degrees.

    Raises
    ------
    InputError
        It is none.
    """
    remedy = "Write longitude and latitude in degrees, west and south negative, as -116.82134,46.31208."
    try:
        longitude, latitude = (float(part) for part in text.split(","))
    except ValueError:
        raise InputError(f"{text!r} is no position.", remedy=remedy, where="--position") from None
    if abs(longitude) <= 90 < abs(latitude) <= 180:
        raise InputError(
            f"{text!r} has a latitude of {latitude:g}: longitude comes first.", remedy=remedy, where="--position"
        )
    if not (abs(longitude) <= 180 and abs(latitude) <= 90):
        raise InputError(f"{text!r} is no place on earth.", remedy=remedy, where="--position")
    return longitude, latitude


def position_line(position: tuple[float, float], ground: Ground) -> ReadyLine:
    """Tell whether a machine stands in the field; if not, how far away the field is and in which direction.

    Distance and direction are geodesic, from the machine to the nearest place of the boundary.
    """
    here = f"longitude {position[0]:.5f}, latitude {position[1]:.5f}"
    if _inside(position, ground):
        for one in ground.keep_outs:
            if shapely.intersects(one.shape, _local(position, ground)):
                return ReadyLine(
                    text=f"The machine stands at {here}, in the field, and in the keep-out {one.name}.",
                    state="caution",
                    remedy="Drive out of the keep-out before you start.",
                )
        return ReadyLine(text=f"The machine stands at {here}, in the field.", state="fine")
    distance, wind = _way_to(position, ground)
    text = f"The machine stands at {here}: the field lies {distance} to the {wind}."
    if _inside(position[::-1], ground):
        return ReadyLine(
            text=f"{text} With the two numbers exchanged it stands in the field.",
            state="stop",
            remedy="Give longitude first: --position LON,LAT.",
        )
    return ReadyLine(
        text=text,
        state="stop",
        remedy="Drive there; or choose the field in which the machine stands, with its own plan and map.",
    )


def _local(position: tuple[float, float], ground: Ground) -> shapely.Point:
    return move_shapes(_points(position), WGS84, ground.frame.crs)[0]


def _points(position: tuple[float, float]) -> NDArray[np.object_]:
    points: NDArray[np.object_] = shapely.points([position])
    return points


def _inside(position: tuple[float, float], ground: Ground) -> bool:
    if abs(position[1]) > 90:
        return False
    try:
        return bool(shapely.intersects(ground.boundary, _local(position, ground)))
    except CrsError:  # the other side of the earth
        return False


def _way_to(position: tuple[float, float], ground: Ground) -> tuple[str, str]:
    """Return distance and direction from a place to the boundary, in words."""
    try:
        nearest = shapely.get_point(shapely.shortest_line(ground.boundary, _local(position, ground)), 0)
    except CrsError:
        nearest = shapely.centroid(ground.boundary)
    target = move_shapes(_points((nearest.x, nearest.y)), ground.frame.crs, WGS84)[0]
    distance, azimuth = distance_and_azimuth(position, (target.x, target.y))
    far = length_text(distance, ground.dialect) if distance < 1000 else _far_text(distance, ground)
    return far, wind_of(azimuth)


def _far_text(distance_m: float, ground: Ground) -> str:
    metric, us = f"{distance_m / 1000:,.2f} km", f"{distance_m / 1609.344:,.2f} mi"
    return f"{us} ({metric})" if ground.dialect.system == "us" else f"{metric} ({us})"
