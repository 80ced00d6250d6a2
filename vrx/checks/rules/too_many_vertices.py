"""A polygon of the map has more corner points (vertices) than the display loads.

Why it matters: a display that meets its limit refuses the map, or draws the polygon cut short, so
that a zone lies elsewhere than it was drawn.

How to put it right: have the borders simplified by less than a metre where the map was made, or
the zone divided. Where the display loads more, say so in the plan: most_vertices in [receiver].

Source: common practice, no source; the display's manual says its limit.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from vrx.checks.parts import parts_of
from vrx.checks.records import place_of
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.model.loadable import MOST_VERTICES
from vrx.words import some

_MOST_TOLD = 12


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    polygons, owner = parts_of(on.the_layer)
    counts = np.zeros(len(on.the_layer.shapes), dtype=np.int64)
    np.maximum.at(counts, owner, shapely.get_num_coordinates(polygons))
    most = MOST_VERTICES if on.plan is None else on.plan.receiver.most_vertices
    found = np.flatnonzero(counts > most)
    if not len(found):
        return
    found = found[np.argsort(-counts[found], kind="stable")]
    have = "polygon has" if len(found) == 1 else "polygons have"
    listed = some((f"{on.called(at)} {counts[at]:,}" for at in found.tolist()), _MOST_TOLD)
    who = "a strict display" if on.plan is None else f"the receiver of {on.plan_name}"
    yield Seen(
        severity="caution" if on.plan is None else "stop",
        message=f"{len(found):,} {have} more vertices than {who} loads ({most:,}): {listed}.",
        remedy=(
            "Look into the display's manual; have the borders simplified where it loads no more."
            if on.plan is None
            else "Have the borders simplified or the zone divided, or correct most_vertices of [receiver]."
        ),
        where=place_of(on, found.tolist()),
        indices=tuple(found.tolist()),
    )


RULE = Rule(id="too-many-vertices", looks_at="file", look=look)
