"""The map is in coordinates of an old survey, whose shift to WGS 84 is known to metres only.

Why it matters: a receiver in the cab works in WGS 84. The borders of the map may lie some metres
from where they were drawn, and keep-outs with them.

How to put it right: have the map saved in WGS 84 with the exact shift of the country's survey.
Until then keep that much farther from wells, ditches and neighbours.

Source: common practice, no source; the metres are those that the EPSG dataset gives for the shift.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import shapely

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import on_earth
from vrx.geo.crs import shift_accuracy, short_name
from vrx.model.checked_map import CheckedMap
from vrx.units import length_text

# WGS 84 itself, as maps use it, is known to a metre or two.
_DOUBT_M: Final = 1.0


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    shapes, crs = on.the_shapes, on.the_layer.crs
    middle = on_earth(shapely.box(*shapes.covered.bounds).centroid, shapes.frame)
    doubt_m = shift_accuracy(crs, middle.x, middle.y)
    if doubt_m <= _DOUBT_M:
        return
    yield Seen(
        message=(
            f"The map is in {short_name(crs)}, which stands on another datum than WGS 84, and the shift between them "
            f"is known to {length_text(doubt_m, on.dialect)} here. Where the map lies in the field is good to that "
            "only."
        ),
        remedy=(
            "Have it saved in WGS 84 with the exact shift of the country's survey; until then keep that much farther "
            "from wells, water and neighbours."
        ),
    )


RULE = Rule(id="crs-accuracy", looks_at="file", needs=("layer", "shapes"), look=look)
