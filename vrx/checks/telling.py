"""How rules tell what they see: the largest places one by one, the others together, and areas with their share."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vrx.geo.crs import WGS84, move_shapes
from vrx.model.checked_map import CheckedMap
from vrx.model.zone_map import Frame
from vrx.units import area_text

T = TypeVar("T")

MOST_TOLD = 12
"""So many places of a kind are told one by one."""


def largest_first(items: Sequence[T], most: int = MOST_TOLD) -> tuple[Sequence[T], Sequence[T]]:
    """Part items, sorted by size already, into those told one by one and the rest; one left over is told as well."""
    return (items, ()) if len(items) <= most + 1 else (items[:most], items[most:])


def together(shapes: Iterable[BaseGeometry]) -> BaseGeometry:
    """Return shapes as one, each as it is: where a finding lies, for the eye; an empty polygon where there is none."""
    parts = [part for shape in shapes for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    if not parts:
        return shapely.Polygon()
    return parts[0] if len(parts) == 1 else shapely.multipolygons(parts)


def place_text(shape: BaseGeometry, on: CheckedMap) -> str:
    """Return where a shape lies, as ``longitude -96.00123, latitude 40.05210``."""
    moved = on_earth(shapely.point_on_surface(shape), on.the_shapes.frame)
    return f"longitude {moved.x:.5f}, latitude {moved.y:.5f}"


def on_earth(shape: BaseGeometry, frame: Frame) -> BaseGeometry:
    """Return a shape of local coordinates in WGS 84 longitude and latitude."""
    return move_shapes(np.array([shape], dtype=object), frame.crs, WGS84)[0]


def size_text(area_m2: float, on: CheckedMap) -> str:
    """Return an area as the people of this field read it."""
    return area_text(area_m2, on.dialect)


def share_text(share: float) -> str:
    """Return a share in percent, to a hundredth where it is small: ``0.12 %``, ``47.6 %``."""
    return f"{100 * share:.{2 if abs(share) < 0.1 else 1}f} %"


def default_text(on: CheckedMap) -> str:
    """Return what the machine does where the map says nothing: ``it gets the default rate of 110 lb/ac``."""
    if on.product is None:
        return "it gets whatever default rate the display is set to"
    return f"it gets the default rate, {on.product.rate_text(on.product.number_where('default'))} as the product has it"


def ground_m2(on: CheckedMap) -> float:
    """Return the ground that shares are told of: the field's, or where none is known what the map covers."""
    if on.ground is not None:
        return on.ground.boundary_area_m2
    return 0.0 if on.shapes is None else on.shapes.covered_m2
