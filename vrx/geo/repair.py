"""Repair: polygons only, no Z or M, rings valid; and what each repair moved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

_POLYGONS = (3, 6)
_COLLECTION = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """What was mended on one shape.

    Attributes
    ----------
    index : int
        Position of the shape.
    reason : str
        In words: ``self-intersects at 3.2, 4.1``; ``leftover lines``; ``no shape``; ``not a polygon``.
    before, after : shapely geometry or None
        In the same coordinates as the input.
    """

    index: int
    reason: str
    before: BaseGeometry | None
    after: BaseGeometry | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Repaired:
    """Shapes after repair: Polygon or MultiPolygon, valid, 2-D; None where nothing with an area is left."""

    shapes: NDArray[np.object_]
    repairs: tuple[Repair, ...]


def repair(shapes: NDArray[np.object_], *, decimals: int = 3) -> Repaired:
    """Make every shape a valid polygon or multipolygon, by the even-odd rule within a ring; holes count off.

    Parts of one shape that overlap each other are united, so no ground counts twice. A shape that is valid
    already comes out unchanged, vertex for vertex.

    Parameters
    ----------
    shapes : object array
    decimals : int
        With how many, at most, a reason names the place: 3 suit metres, 8 degrees.
    """
    mended: NDArray[np.object_] = shapely.force_2d(shapes)
    kinds = shapely.get_type_id(mended)
    empty = shapely.is_missing(mended) | shapely.is_empty(mended)
    sound = np.isin(kinds, _POLYGONS) & ~empty
    sound[sound] = shapely.is_valid(mended[sound])
    repairs = []
    for index in np.flatnonzero(~sound):
        at, before = int(index), mended[index]
        if empty[index]:
            after, reason = None, "no shape"
        elif kinds[index] not in (*_POLYGONS, _COLLECTION):
            after, reason = None, "not a polygon"
        else:
            after, reason = _polygons_of(before), _reason(before, decimals)
        mended[index] = after
        repairs.append(Repair(index=at, reason=reason, before=before, after=after))
    return Repaired(shapes=mended, repairs=tuple(repairs))


def _polygons_of(shape: BaseGeometry) -> BaseGeometry | None:
    parts = [one for part in _polygons_in(shape) for one in ([part] if part.is_valid else _mended(part))]
    if not parts:
        return None
    united = parts[0] if len(parts) == 1 else shapely.union_all(parts)
    return None if united.is_empty or united.area == 0 else united


def _mended(polygon: BaseGeometry) -> list[BaseGeometry]:
    # Ring by ring: all at once, GEOS fills a hole that runs along its outline for a while.
    outline, *holes = (
        shapely.MultiPolygon(_polygons_in(shapely.make_valid(shapely.polygons(ring))))
        for ring in (polygon.exterior, *polygon.interiors)
    )
    return _polygons_in(shapely.difference(outline, shapely.union_all(holes)) if holes else outline)


def _polygons_in(shape: BaseGeometry) -> list[BaseGeometry]:
    # Twice, for a collection may hold multipolygons.
    parts = shapely.get_parts(shapely.get_parts(shape))
    return [part for part in parts if part.geom_type == "Polygon" and not part.is_empty]


def _reason(shape: BaseGeometry, decimals: int) -> str:
    if shape.geom_type == "GeometryCollection" and shape.is_valid:
        return "holds lines or points beside polygons"
    # GEOS words its reasons as "Self-intersection[x y]".
    what, _, place = shapely.is_valid_reason(shape).partition("[")
    x_y = ", ".join(_rounded(number, decimals) for number in place.rstrip("]").split())
    words = {
        "Self-intersection": "self-intersects",
        "Ring Self-intersection": "has a ring that self-intersects",
        "Hole lies outside shell": "has a hole outside its outline",
        "Holes are nested": "has holes in holes",
        "Nested shells": "has a part inside another part",
        "Duplicate Rings": "has a ring twice",
        "Interior is disconnected": "is cut apart by its holes",
        "Too few points in geometry component": "has a ring of too few points",
    }.get(what, what.lower())
    return f"{words} at {x_y}" if x_y else words


def _rounded(number: str, decimals: int) -> str:
    text = f"{round(float(number), decimals) + 0.0:.{decimals}f}"  # + 0.0: no "-0"
    return text.rstrip("0").rstrip(".") if decimals else text
