"""Areas that should agree differ: the map's, the boundary's, and the one that others state.

Why it matters: totals and orders go by an area. Where two of them differ, a part of the field is
missing, or one of them was measured another way.

How to put it right: look where the map leaves ground out or reaches beyond the boundary; ask how
the stated area was measured, and whether it counts keep-outs.

Source: geodesic areas, Karney2013; the share of 0.5 % is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import fsum
from typing import Final

import numpy as np
import shapely

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import share_text, size_text
from vrx.geo.area import true_areas
from vrx.geo.overlaps import common_ground, left_over
from vrx.model.checked_map import CheckedMap
from vrx.units import number_text

_SHARE: Final = 0.005


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    shapes, ground = on.the_shapes, on.the_ground
    if not shapes.meets_field:
        return
    kept_out, left_open = _keep_outs(on)
    # Keep-outs may be in a map at rate 0, or left out: neither is a difference.
    whole, boundary = shapes.covered_m2 + left_open, ground.boundary_area_m2
    stated = None if on.plan is None else on.plan.field.stated_area
    treated = on.plan is not None and on.plan.field.stated_basis == "treated"
    pairs = [(whole, boundary)]
    if stated is not None:
        less = kept_out if treated else 0.0
        pairs += [(boundary - less, float(stated.si)), (whole - less, float(stated.si))]
    worst = max(abs(one - other) / other for one, other in pairs)
    if worst <= _SHARE:
        return
    told = [f"the map covers {size_text(shapes.covered_m2, on)}", f"the boundary {size_text(boundary, on)}"]
    if kept_out > 0:
        told.append(f"{size_text(boundary - kept_out, on)} of it outside the keep-outs")
    if stated is not None:
        basis = "to treat" if treated else "within the boundary"
        told.append(f"and stated are {number_text(stated.value)} {stated.unit.name} {basis}")
    bare, beyond = (_total(one, on) for one in (shapes.bare, shapes.beyond))
    partly = [f"{size_text(bare, on)} of the field are not covered"] if bare > 0 else []
    partly += [f"{size_text(beyond, on)} of the map lie outside the field"] if beyond > 0 else []
    yield Seen(
        message=(
            f"Areas that should agree differ by up to {share_text(worst)}: {', '.join(told)}."
            + (f" A part of that: {', '.join(partly)}." if partly else "")
        ),
        remedy="Look where the map leaves ground out or reaches beyond the field; ask how the stated one was measured.",
        area_m2=max(abs(one - other) for one, other in pairs),
    )


def _keep_outs(on: CheckedMap) -> tuple[float, float]:
    """Return the ground in keep-outs that bind this product, or all products, and what of it the map leaves open."""
    name = None if on.product is None else on.product.name
    ground, shapes = on.the_ground, on.the_shapes
    areas = [one.shape for one in ground.keep_outs if not one.products or (name is not None and one.binds(name))]
    if not areas:
        return 0.0, 0.0
    together = common_ground(shapely.union_all(areas), ground.boundary)
    open_ground = left_over(together, shapes.covered, narrower_than_m=0.0)
    return _total((together,), on), _total(open_ground, on)


def _total(shapes: tuple[shapely.Geometry, ...], on: CheckedMap) -> float:
    if not shapes:
        return 0.0
    return fsum(true_areas(np.array(shapes, dtype=object), on.the_shapes.frame).tolist())


RULE = Rule(id="area-differs", looks_at="amounts", needs=("layer", "shapes", "field"), look=look)
