"""Parts of a map: ground in one piece with one rate, whatever shapes it is made of, and what is wrong with them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.checks.records import named, rate_text
from vrx.checks.rule import Seen
from vrx.checks.telling import largest_first, size_text, together
from vrx.geo.area import true_areas
from vrx.geo.overlaps import covered_by, left_over, misfits
from vrx.model.checked_map import CheckedMap

Unfit = Callable[[NDArray[np.object_]], NDArray[np.bool_]]
"""Tells which polygons are unfit; what holds a polygon that is fit is fit too."""

# Where less than so wide a strip of a part lies outside keep-outs, all of it counts as kept out.
_BESIDE_M: Final = 0.1
# A map that was not made for the machine has hundreds: a few show what is meant.
_MOST_TOLD: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class RatePart:
    """A part that is unfit.

    Attributes
    ----------
    indices : tuple of int
        Records that it is made of, one at least.
    off : bool
        Its rate is 0.
    drawn : bool
        It lies in an overlay of the plan: a person wants it there, and the build leaves it as drawn.
    """

    shape: BaseGeometry
    area_m2: float
    indices: tuple[int, ...]
    off: bool
    drawn: bool


def unfit_parts(on: CheckedMap, unfit: Unfit) -> list[RatePart]:
    """Return the parts that are unfit, the largest first; ground at rate 0 in a keep-out is none.

    Neighbouring shapes of one rate are taken together. Only rates of which some shape is unfit by itself are united.
    """
    shapes, rates = on.the_shapes.shapes, on.the_rates.rates
    there = np.flatnonzero(~shapely.is_missing(shapes) & np.isfinite(rates))
    polygons, owner = shapely.get_parts(shapes[there], return_index=True)
    owner = there[owner]
    suspect = unfit(polygons)
    _, rate, count = np.unique(rates[owner], return_inverse=True, return_counts=True)
    alone = suspect & (count[rate] == 1)
    parts, made_of = [polygons[alone]], [(at,) for at in owner[alone].tolist()]
    for one in np.unique(rate[suspect & ~alone]).tolist():
        mine = np.flatnonzero(rate == one)
        united = shapely.get_parts(np.array([covered_by(polygons[mine], misfits(polygons[mine]))], dtype=object))
        united = united[unfit(united)]
        inner = shapely.STRtree(shapely.point_on_surface(polygons[mine]))
        part, member = inner.query(united, predicate="intersects")
        parts.append(united)
        made_of += [tuple(np.unique(owner[mine[member[part == at]]]).tolist()) for at in range(len(united))]
    found = np.concatenate(parts)
    areas = true_areas(found, on.the_shapes.frame).tolist() if len(found) else []
    kept_out, overlaid = _kept_out(on), _overlaid(on)
    listed = [
        RatePart(
            shape=shape,
            area_m2=area,
            indices=indices,
            off=bool(rates[indices[0]] == 0),
            drawn=_lies_in(overlaid, shape),
        )
        for shape, area, indices in zip(found, areas, made_of, strict=True)
        if indices and not (rates[indices[0]] == 0 and _lies_in(kept_out, shape))
    ]
    return sorted(listed, key=lambda one: (-round(one.area_m2), one.indices))


def told(parts: Sequence[RatePart], on: CheckedMap, *, cause: str) -> Iterator[Seen]:
    """Tell parts of one cause: the largest one by one, the others of a kind together."""
    few, rest = largest_first([one for one in parts if not (one.off or one.drawn)], _MOST_TOLD)
    off = [one for one in parts if one.off]
    drawn = [one for one in parts if one.drawn and not one.off]
    for some in [[one] for one in few] + [list(one) for one in (rest, off, drawn) if one]:
        yield Seen(
            severity="note" if some[0].off or some[0].drawn else "caution",
            message=f"{_what(some, on)} {cause}.",
            remedy=(
                "The machine may reach over it at its neighbour's rate: shut off by hand there if it matters."
                if some[0].off
                else "The machine may not hold these rates there; draw the overlay along the zones if it matters."
                if some[0].drawn
                else "The machine may not hold this rate there: have the zone drawn wider, or treat it by hand."
            ),
            area_m2=sum(one.area_m2 for one in some),
            where=together(one.shape for one in some),
            indices=tuple(dict.fromkeys(at for one in some for at in one.indices)),
        )


def _what(some: Sequence[RatePart], on: CheckedMap) -> str:
    size = size_text(sum(one.area_m2 for one in some), on)
    records = named(on, dict.fromkeys(at for one in some for at in one.indices), 6)
    if len(some) > 1:
        kind = "parts at rate 0" if some[0].off else "parts of overlays" if some[0].drawn else "more parts"
        return f"{len(some)} {kind}, {size} in all, in {records}, are"
    whose = " of an overlay" if some[0].drawn else ""
    return f"A part{whose} at {rate_text(on, some[0].indices[0])}, {size}, in {records}, is"


def _kept_out(on: CheckedMap) -> BaseGeometry:
    name = on.product.name if on.product is not None else on.product_asked
    areas = [] if on.ground is None else [one.shape for one in on.ground.keep_outs if one.binds(name)]
    return shapely.union_all(areas)


def _overlaid(on: CheckedMap) -> BaseGeometry:
    name = on.product.name if on.product is not None else on.product_asked
    laid = () if on.ground is None or on.plan is None else zip(on.plan.overlay, on.ground.overlays, strict=False)
    return shapely.union_all([area.shape for overlay, area in laid if overlay.is_about(name)])


def _lies_in(ground: BaseGeometry, shape: BaseGeometry) -> bool:
    return not ground.is_empty and not left_over(shape, ground, narrower_than_m=_BESIDE_M)
