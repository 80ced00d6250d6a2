"""The map reaches beyond the boundary of the field, with a rate there.

Why it matters: a display goes by the map and may apply there too: on the neighbour's ground, in a
ditch, on a road.

How to put it right: shut off by hand at the boundary, or load the boundary so that the display
does it. To be safe have the map cut to the boundary; ``vrx check --fix`` leaves that ground.

Source: common practice, no source, for 0.5 m and the share of 0.1 % up to which it is a note.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import place_text, share_text, size_text, together
from vrx.geo.area import rectangle_width_m, true_areas
from vrx.geo.coverage import SETTLE_WIDTH_M
from vrx.geo.overlaps import left_over
from vrx.model.checked_map import CheckedMap

NARROW_M: Final = 0.5
SMALL_SHARE: Final = 0.001


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    shapes = on.the_shapes
    parts = np.array(_with_a_rate(on), dtype=object)
    if not shapes.meets_field or not len(parts):
        return
    area = true_areas(parts, shapes.frame)
    wide = rectangle_width_m(parts) >= NARROW_M
    total, share = float(area.sum()), float(area.sum()) / shapes.covered_m2
    minor = not wide.any() or share < SMALL_SHARE
    largest = parts[int(np.argmax(np.where(wide, area, 0) if wide.any() else area))]
    places = "" if len(parts) == 1 else f" in {len(parts)} places, the largest"
    unknown = "" if on.rates is not None else "; its rates are not known"
    yield Seen(
        severity="note" if minor else "caution",
        message=(
            f"{size_text(total, on)} of the map, {share_text(share)} of it, lie beyond the boundary,{places} at "
            f"{place_text(largest, on)}{unknown}: the display may apply there too."
        ),
        remedy="Shut off at the boundary, or have the map cut to it.",
        area_m2=total,
        where=together(parts),
        indices=_records(parts, on),
    )


def _records(parts: NDArray[np.object_], on: CheckedMap) -> tuple[int, ...]:
    """Return the records that reach beyond with something other than 0."""
    shapes = on.the_shapes.shapes
    near = np.unique(shapely.STRtree(shapes).query(parts)[1])
    some_rate = np.ones(len(shapes), dtype=bool) if on.rates is None else on.rates.rates != 0
    near = near[some_rate[near]]
    # What lies in the field but for a rounding gives nothing beyond it.
    field = shapely.buffer(on.the_ground.boundary, SETTLE_WIDTH_M, quad_segs=2)
    shapely.prepare(field)
    return tuple(near[~shapely.contains_properly(field, shapes[near])].tolist())


def _with_a_rate(on: CheckedMap) -> list[shapely.Polygon]:
    """Return the parts beyond the field without the ground of shapes whose rate is 0."""
    shapes, beyond = on.the_shapes, list(on.the_shapes.beyond)
    if on.rates is None or not beyond:
        return beyond
    off = shapes.shapes[(on.rates.rates == 0) & ~shapely.is_missing(shapes.shapes)]
    near = np.unique(shapely.STRtree(off).query(beyond, predicate="intersects")[1])
    if not len(near):
        return beyond
    nothing = shapely.union_all(off[near])
    return [part for one in beyond for part in left_over(one, nothing, narrower_than_m=SETTLE_WIDTH_M)]


RULE = Rule(id="outside-field", looks_at="shapes", needs=("layer", "shapes", "field"), look=look)
