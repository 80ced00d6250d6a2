"""Bare ground sorted: slivers, gaps between shapes, and ground along the boundary that the map leaves out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vrx.geo.area import true_areas
from vrx.model.checked_map import CheckedMap
from vrx.units import ACRE_M2

# What a plan fills in unless it says otherwise.
_FILL_GAPS_M2: Final = float(ACRE_M2) / 20
# A strip between two shapes has nearly all of its outline along them, one along the boundary about half of it.
_BETWEEN: Final = 0.6
_ON_OUTLINE_M: Final = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Bare:
    """A part of bare ground, in local coordinates."""

    shape: BaseGeometry
    area_m2: float
    between: bool


def slivers(on: CheckedMap) -> list[Bare]:
    """Return bare ground between shapes that is too small to treat, the largest first."""
    return [one for one in _sorted(on) if one.between and one.area_m2 < _least_m2(on)]


def gaps(on: CheckedMap) -> list[Bare]:
    """Return bare ground between shapes that a machine would treat, the largest first."""
    return [one for one in _sorted(on) if one.between and not one.area_m2 < _least_m2(on)]


def left_out(on: CheckedMap) -> list[Bare]:
    """Return bare ground along the boundary, the largest first."""
    return [one for one in _sorted(on) if not one.between]


def _least_m2(on: CheckedMap) -> float:
    return _FILL_GAPS_M2 if on.plan is None else on.plan.fill_gaps


def _sorted(on: CheckedMap) -> list[Bare]:
    shapes = on.the_shapes
    if not shapes.bare:
        return []
    parts = np.array(shapes.bare, dtype=object)
    areas = true_areas(parts, shapes.frame)
    between = np.ones(len(parts), dtype=bool)
    if on.ground is not None:
        outline = shapely.buffer(shapely.boundary(on.ground.boundary), _ON_OUTLINE_M, quad_segs=2)
        shapely.prepare(outline)
        along = np.zeros(len(parts))
        beside = shapely.intersects(outline, parts)
        along[beside] = shapely.length(shapely.intersection(shapely.boundary(parts[beside]), outline))
        between = along <= (1 - _BETWEEN) * shapely.length(parts)
    order = np.argsort(-areas, kind="stable")
    return [Bare(shape=parts[at], area_m2=float(areas[at]), between=bool(between[at])) for at in order.tolist()]
