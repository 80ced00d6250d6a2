"""Ground of one rate is narrower than the narrowest group of drives that carries the product.

Why it matters: a group puts out one rate over its whole width. On a narrower strip its neighbours
get that rate too, or the strip gets theirs.

How to put it right: have the strip drawn as wide as the machine, or joined to a neighbour; vrx
build does so with thin_parts = "join". Where it matters, treat it by hand.

Source: common practice, no source: a part is too narrow where a disc of the width finds no room.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.checks.rate_parts import told, unfit_parts
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.geo.room import has_room
from vrx.model.checked_map import CheckedMap
from vrx.units import length_text


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    width = on.the_plan.machine.narrowest_m(on.the_product.name)
    if width is None:
        yield Unseen("How wide the machine is, is not known: a plan says it with width or drives in [machine].")
        return
    smallest_m2 = float(on.the_plan.smallest_area)

    def unfit(polygons: NDArray[np.object_]) -> NDArray[np.bool_]:
        return ~has_room(polygons, width)

    # Of smaller ones tiny-part tells.
    parts = [one for one in unfit_parts(on, unfit) if shapely.area(one.shape) >= smallest_m2]
    drives = on.the_plan.machine.drives_of(on.the_product.name)
    whose = "of the narrowest group of drives" if drives else "of the machine"
    yield from told(parts, on, cause=f"narrower than the {length_text(width, on.dialect)} {whose}")


RULE = Rule(id="thin-part", looks_at="shapes", needs=("layer", "shapes", "rates", "product", "plan"), look=look)
