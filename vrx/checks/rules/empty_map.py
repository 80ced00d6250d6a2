"""The map holds no ground at all.

Why it matters: a display that loads it has no rate anywhere, and gives its default rate over the
whole field.

How to put it right: have the map sent again; the file may have been cut short, or saved with
nothing chosen.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    shapes = on.the_layer.shapes
    remedy = "Ask whoever made the map to save it again, and look at its size."
    if not len(shapes):
        yield Seen(message="The map holds no record.", remedy=remedy)
        return
    count = "Its one record has" if len(shapes) == 1 else f"Of its {len(shapes):,} records none has"
    no = "no" if len(shapes) == 1 else "a"
    if shapely.is_missing(shapes).all():
        yield Seen(message=f"The map is empty: {count[0].lower()}{count[1:]} {no} shape.", remedy=remedy)
    elif on.shapes is None and (shapely.get_dimensions(shapes) == 2).any():  # where none is, they are no polygons
        yield Seen(message=f"The map is empty: {count[0].lower()}{count[1:]} {no} shape with an area.", remedy=remedy)


RULE = Rule(id="empty-map", looks_at="file", look=look)
