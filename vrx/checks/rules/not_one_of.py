"""A drive changes between products, and in some place not exactly one of them is above 0.

Why it matters: one meter gives one product at a time. Where two are wanted it gives one of them,
and nobody knows which; where none is, the strip stays bare.

How to put it right: have the maps made so that each place has exactly one of these products.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vrx.checks.records import area_of, having_ground, named, on_area, place_of
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.geo.area import true_areas
from vrx.geo.overlaps import united_ground
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    for drive in on.the_plan.machine.drive:
        if drive.one_of:
            if set(drive.one_of) <= on.by_product.keys():
                yield from _of_drive(drive.name, drive.one_of, on)
            else:
                yield Unseen(
                    f"Drive {drive.name} changes between {' and '.join(drive.one_of)}, and this map is for one of "
                    "them: vrx ready looks at all maps of the plan."
                )


def _of_drive(drive: str, products: Sequence[str], on: CheckedMap) -> Iterator[Seen]:
    with np.errstate(invalid="ignore"):
        count = sum((on.by_product[name] > 0).astype(np.int64) for name in products)
    there, listed = having_ground(on), ", ".join(products)
    several = np.flatnonzero((count > 1) & there).tolist()
    if several:
        yield _seen(f"Drive {drive} gives one of {listed} at a place, and several are above 0 in", several, on)
    none = np.flatnonzero((count == 0) & there & ~_all_kept_out(on, products)).tolist()
    if none:
        yield _seen(f"Drive {drive} gives one of {listed} at every place, and none is above 0 in", none, on)


def _all_kept_out(on: CheckedMap, products: Sequence[str]) -> NDArray[np.bool_]:
    """Tell which records lie in keep-outs of all these products, all but what rounding leaves: nothing is right there.

    Keep-outs may overlap: their ground counts once.
    """
    shapes = on.shapes
    found = np.zeros(len(on.the_layer.records), dtype=bool)
    if shapes is None or on.ground is None:
        return found
    binding = [all(area.binds(name) for name in products) for area in on.ground.keep_outs]
    mine: dict[int, list[BaseGeometry]] = {}
    for one in shapes.kept_out:
        if binding[one.keep_out]:
            mine.setdefault(one.index, []).append(one.shape)
    if mine:
        records = list(mine)
        together = np.array([united_ground(listed) for listed in mine.values()], dtype=object)
        found[records] = true_areas(together, shapes.frame) >= 0.99 * shapes.area_m2[records]
    return found


def _seen(start: str, found: list[int], on: CheckedMap) -> Seen:
    return Seen(
        message=f"{start} {named(on, found)}{on_area(on, found)}.",
        remedy="Have the maps made so that each place has exactly one of these products.",
        area_m2=area_of(on, found),
        where=place_of(on, found),
        indices=tuple(found),
    )


RULE = Rule(id="not-one-of", looks_at="belonging", needs=("layer", "plan", "machine"), look=look)
