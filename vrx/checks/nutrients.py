"""What maps bring of a nutrient: one, and several on the same ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.checks.places import in_frame_of
from vrx.checks.records import above_zero
from vrx.dosing.conversion import conversion_to_product
from vrx.dosing.nutrients import carries
from vrx.geo.overlaps import left_over, wide_parts
from vrx.model.checked_map import CheckedMap
from vrx.units import Measure, Unit

if TYPE_CHECKING:
    from vrx.model.product import Product

_WIDTH_M = 0.1
_SAME = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Brought:
    """Ground with what all maps together bring of a nutrient onto it, in local coordinates of the first map."""

    shape: BaseGeometry
    rate: float


def per_unit(product: Product, unit: Unit) -> float:
    """Return what a rate of 1 in the product's step brings, in a unit of the nutrient such as ``lb N/ac``.

    Raises
    ------
    UnitError
        The product does not carry it, or a density is missing.
    """
    return float(1 / conversion_to_product(unit, product).factor)


def brought_together(maps: Sequence[CheckedMap], unit: Unit) -> tuple[Brought, ...]:
    """Add up what the maps of several products bring of a nutrient onto the same ground.

    Parameters
    ----------
    maps : sequence of CheckedMap
        With shapes, rates and products; those whose product does not carry the nutrient, or whose rates are not known
        in its unit, count nothing.
    unit : Unit
        Of the nutrient, such as ``lb N/ac``.

    Returns
    -------
    tuple of Brought
        Ground that gets some, each piece once; slivers narrower than 0.1 m are left out.

    Raises
    ------
    UnitError
        A density is missing.
    """
    carrying = [
        one
        for one in maps
        if one.shapes is not None
        and one.rates is not None
        and one.rates.per_step_unit is not None
        and one.product is not None
        and carries(one.product, unit.of)
    ]
    found: tuple[Brought, ...] = ()
    for one in carrying:
        given = above_zero(one)
        shapes = in_frame_of(one, carrying[0])[given]
        found = _laid_over(found, shapes, one.the_rates.rates[given] * per_unit(one.the_product, unit))
    return found


def over_together(maps: Sequence[CheckedMap], cap: Measure) -> tuple[Brought, ...]:
    """Return the ground on which maps together bring more than a limit, the most first; as brought_together."""
    over = [one for one in brought_together(maps, cap.unit) if one.rate > float(cap.value) * (1 + _SAME)]
    return tuple(sorted(over, key=lambda one: -one.rate))


def _laid_over(
    below: tuple[Brought, ...], shapes: NDArray[np.object_], rates: NDArray[np.float64]
) -> tuple[Brought, ...]:
    """Lay shapes over ground: where both are, their rates add up."""
    if not below or not len(shapes):
        return (*below, *(Brought(shape=one, rate=rate) for one, rate in zip(shapes, rates.tolist(), strict=True)))
    ground = np.array([one.shape for one in below], dtype=object)
    was = np.array([one.rate for one in below])
    at, of = shapely.STRtree(ground).query(shapes, predicate="intersects")
    both = shapely.intersection(shapes[at], ground[of])
    found = _pieces(both, rates[at] + was[of])
    found += _pieces(_less(ground, shapes), was)
    return tuple(found + _pieces(_less(shapes, ground), rates))


def _less(shapes: NDArray[np.object_], taken: NDArray[np.object_]) -> NDArray[np.object_]:
    """Return what is left of each shape where none of the others is."""
    tree = shapely.STRtree(taken)
    left = np.empty(len(shapes), dtype=object)
    for at, one in enumerate(shapes):
        near = shapely.union_all(taken[tree.query(one)])
        parts = left_over(one, near, narrower_than_m=_WIDTH_M)
        left[at] = shapely.multipolygons(list(parts)) if parts else shapely.Polygon()
    return left


def _pieces(shapes: NDArray[np.object_], rates: NDArray[np.float64]) -> list[Brought]:
    found = []
    for shape, rate in zip(shapes, rates.tolist(), strict=True):
        found += [Brought(shape=part, rate=rate) for part in wide_parts(shape, narrower_than_m=_WIDTH_M)]
    return found
