"""Clipping a shape to ground, and taking one away from it, with a check that no area is lost."""

from __future__ import annotations

from contextlib import suppress

import numpy as np
import shapely
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

from vrx.errors import GeometryError
from vrx.geo.coverage import GRIDS_M, LOST_SHARE
from vrx.geo.inside import points_inside

_CLEAR_M = 1e-3


def clip(shape: BaseGeometry, ground: BaseGeometry) -> BaseGeometry:
    """Return the part of a shape that lies on ground: a multipolygon, or an empty polygon where there is none.

    A shape that lies within the ground comes out unchanged, vertex for vertex.

    Parameters
    ----------
    shape, ground : Polygon or MultiPolygon
        Valid; in metres.

    Raises
    ------
    GeometryError
        On no grid do the parts inside and outside add up to the whole.
    """
    if shapely.contains_properly(ground, shape):
        return shape
    for grid_m in (None, *GRIDS_M):
        # GEOS raises where rounding leads it into a contradiction, and at times answers wrong without a word.
        with suppress(GEOSException):
            inside = shapely.intersection(shape, ground, grid_size=grid_m)
            if _both_add_up(shape, ground, inside, grid_m):
                return _polygons(inside)
    raise GeometryError(
        "A shape can't be cut along the boundary: its parts inside and outside do not add up.",
        remedy="Check it for edges that run on top of the boundary, and simplify it a little.",
    )


def without(ground: BaseGeometry, taken: BaseGeometry) -> BaseGeometry:
    """Return what is left of ground: a multipolygon, or an empty polygon where nothing is.

    Parameters
    ----------
    ground, taken : Polygon or MultiPolygon
        Valid; in metres.

    Raises
    ------
    GeometryError
        On no grid do what is left and what is taken add up to the ground.
    """
    for grid_m in (None, *GRIDS_M):
        with suppress(GEOSException):
            common = shapely.intersection(ground, taken, grid_size=grid_m)
            if _both_add_up(ground, taken, common, grid_m):
                return _polygons(shapely.difference(ground, taken, grid_size=grid_m))
    raise GeometryError(
        "A shape can't be taken away from the field: what is left and what is taken do not add up.",
        remedy="Check it for edges that run on top of the boundary, and simplify it a little.",
    )


def _polygons(shape: BaseGeometry) -> BaseGeometry:
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and not part.is_empty]
    return shapely.multipolygons(parts) if parts else shapely.Polygon()


def _both_add_up(one: BaseGeometry, other: BaseGeometry, common: BaseGeometry, grid_m: float | None) -> bool:
    # Both ways: where GEOS sees nothing in common, one of the two sums is right all the same.
    sums = _adds_up(one, other, common, grid_m) and _adds_up(other, one, common, grid_m)
    return sums and not (common.area == 0 and (_holds(one, other) or _holds(other, one)))


def _holds(one: BaseGeometry, other: BaseGeometry) -> bool:
    """Tell whether a place well within a shape lies well within another one."""
    if one.is_empty or other.is_empty:
        return False
    place = points_inside(np.array([other], dtype=object))[0]
    return bool(shapely.contains_properly(one, place) and shapely.distance(place, one.boundary) > _CLEAR_M)


def _adds_up(whole: BaseGeometry, other: BaseGeometry, common: BaseGeometry, grid_m: float | None) -> bool:
    rest = shapely.difference(whole, other, grid_size=grid_m)
    lost_m2 = abs(common.area + rest.area - whole.area)
    return bool(lost_m2 <= LOST_SHARE * whole.area + (grid_m or GRIDS_M[0]) * whole.length)
