"""Ground of one rate is smaller than the plan's smallest area that is treated by itself.

Why it matters: a machine needs some way to come to a new rate. On so small a spot it does not get
there, and a map of many such spots makes it hunt up and down.

How to put it right: have the spot joined to a neighbour, as vrx build does, or set smallest_area
in the plan where the machine is quicker than that.

Source: common practice, no source; 0.1 ac unless the plan says another area.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.checks.rate_parts import told, unfit_parts
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import size_text
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    smallest_m2 = float(on.the_plan.smallest_area)

    def unfit(polygons: NDArray[np.object_]) -> NDArray[np.bool_]:
        small: NDArray[np.bool_] = shapely.area(polygons) < smallest_m2
        return small

    cause = f"smaller than the plan's smallest_area, {size_text(smallest_m2, on)}"
    yield from told(unfit_parts(on, unfit), on, cause=cause)


RULE = Rule(id="tiny-part", looks_at="shapes", needs=("layer", "shapes", "rates", "plan"), look=look)
