"""Several maps on the same ground: where two give something, and where none does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.checks.records import above_zero
from vrx.checks.telling import together
from vrx.geo.area import true_areas
from vrx.geo.crs import move_shapes
from vrx.geo.overlaps import common_ground, left_over, wide_parts
from vrx.model.checked_map import CheckedMap

# Narrower than that is how exactly two maps were drawn.
_WIDTH_M: Final = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Ground of several maps, in local coordinates of the first one; empty where there is none."""

    shape: BaseGeometry
    area_m2: float


def both_above_zero(first: CheckedMap, second: CheckedMap) -> Place:
    """Return the ground on which two maps with shapes and rates both give something."""
    return _place(common_ground(_given(first, first), _given(second, first)), first)


def none_above_zero(maps: Sequence[CheckedMap]) -> Place:
    """Return the ground on which none of several maps gives anything.

    Of the field, without keep-outs that bind all of the products; where no field is known, of what the maps cover.
    """
    first = maps[0]
    if first.ground is not None:
        ground = first.ground.boundary
        for area in first.ground.keep_outs:
            if all(one.product is None or area.binds(one.product.name) for one in maps):
                ground = together(left_over(ground, area.shape, narrower_than_m=0.0))
    else:
        covered = [shape for one in maps for shape in in_frame_of(one, first) if shape is not None]
        ground = shapely.union_all(covered)
    given = shapely.union_all([_given(one, first) for one in maps])
    left = left_over(ground, given, narrower_than_m=_WIDTH_M)
    return _place(together(left) if left else shapely.Polygon(), first)


def in_frame_of(one: CheckedMap, other: CheckedMap) -> NDArray[np.object_]:
    """Return the shapes of a map in the local coordinates of another one."""
    shapes, frame = one.the_shapes, other.the_shapes.frame
    return shapes.shapes if shapes.frame == frame else move_shapes(shapes.shapes, shapes.frame.crs, frame.crs)


def _given(one: CheckedMap, other: CheckedMap) -> BaseGeometry:
    return shapely.union_all(in_frame_of(one, other)[above_zero(one)])


def _place(shape: BaseGeometry, on: CheckedMap) -> Place:
    parts = wide_parts(shape, narrower_than_m=_WIDTH_M)
    if not parts:
        return Place(shape=shapely.Polygon(), area_m2=0.0)
    area = float(true_areas(np.array(parts, dtype=object), on.the_shapes.frame).sum())
    return Place(shape=together(parts), area_m2=area)
