"""Where on earth pieces lie, for findings."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import shapely
from shapely.geometry.base import BaseGeometry

from vrx.geo.crs import WGS84, move_shapes
from vrx.geo.merge import united
from vrx.model.zone_map import ZoneMap
from vrx.units import Dialect, area_text


def place_of(zone_map: ZoneMap, pieces: Sequence[int]) -> BaseGeometry | None:
    """Return the pieces as one shape in longitude and latitude; None for no piece."""
    if not len(pieces):
        return None
    whole = united(zone_map.shapes[list(pieces)])
    moved: BaseGeometry = move_shapes(whole, zone_map.ground.frame.crs, WGS84)
    return shapely.set_precision(moved, 1e-8, mode="pointwise")


def ground_text(area_m2: float, share: Fraction, dialect: Dialect) -> str:
    """Return an area as people read it; where a product is on a part of the width, with what it gets of that."""
    whole = area_text(area_m2, dialect)
    if share == 1:
        return whole
    return f"{whole} of the field, {area_text(area_m2 * float(share), dialect)} of this product"
