"""Records of the map hold points or lines, not ground.

Why it matters: a rate goes onto ground. What a display makes of a point or a line is its own
affair: nothing as a rule, and its neighbours' ground gets the default rate.

How to put it right: ask for the map as polygons; have points turned into zones where the map was
made. A line or point that is there by mistake is deleted.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from vrx.checks.records import named
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    shapes = on.the_layer.shapes
    kinds = shapely.get_dimensions(shapes)
    if on.shapes is not None:
        # Collections are mended, which is told as a broken shape.
        kinds = np.where(shapely.get_type_id(shapes) == shapely.GeometryType.GEOMETRYCOLLECTION, -1, kinds)
    points, lines = (np.flatnonzero(kinds == kind).tolist() for kind in (0, 1))
    found = sorted(points + lines)
    if not found:
        return
    what = " or ".join(word for word, some in (("points", points), ("lines", lines)) if some)
    none = not (shapely.get_dimensions(shapes) > 1).any()
    holds = "record holds" if len(found) == 1 else "records hold"
    yield Seen(
        severity="stop" if none else "caution",
        message=(
            f"{len(found)} {holds} {what}, not ground: {named(on, found)}."
            + (" The map has no polygon at all." if none else " They are left out of areas and totals.")
        ),
        remedy=(
            "Ask whoever made the map for polygons with rates."
            if none
            else "Ask whether ground is missing there; have it drawn as polygons, or the records deleted."
        ),
        indices=tuple(found),
    )


RULE = Rule(id="not-polygons", looks_at="file", look=look)
