"""Records of the map have a rate, perhaps, but no shape.

Why it matters: their rate goes nowhere. Ground that somebody meant to treat may be missing from
the map, and some displays refuse a file with empty shapes.

How to put it right: ask whoever made the map whether that ground is missing. Have it drawn, or the
records deleted; ``vrx check --fix`` leaves them out.

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
    missing = shapely.is_missing(on.the_layer.shapes)
    if missing.all():
        return  # which is an empty map
    found = np.flatnonzero(missing).tolist()
    if not found:
        return
    have, they = ("record has", "It is") if len(found) == 1 else ("records have", "They are")
    yield Seen(
        message=f"{len(found)} {have} no shape: {named(on, found)}. {they} left out of areas and totals.",
        remedy="Ask whoever made the map whether ground is missing; have it drawn, or the records deleted.",
        indices=tuple(found),
    )


RULE = Rule(id="no-shape", looks_at="file", look=look)
