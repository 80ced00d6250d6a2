"""Small gaps between the shapes of the map: shapes that were drawn not quite to meet.

Why it matters: little as a rule. A display may switch to its default rate for a moment when it
crosses one, and the map's own acres miss that ground.

How to put it right: nothing, if the map is loaded once. ``vrx check --fix`` gives such ground to a
neighbour where shapes enclose it; a map that is used again is better drawn so that its shapes
meet. What counts as small is fill_gaps in the plan, 0.05 ac unless said.

Source: common practice, no source; gaps narrower than 2 cm come from rounding and are not told.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from vrx.checks.bare import slivers
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import size_text, together
from vrx.geo.area import rectangle_width_m
from vrx.model.checked_map import CheckedMap
from vrx.units import length_text


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    small = slivers(on)
    if not small:
        return
    widest = float(rectangle_width_m(np.array([one.shape for one in small], dtype=object)).max())
    size = sum(one.area_m2 for one in small)
    yield Seen(
        message=(
            f"{len(small)} small gap{'s'[: len(small) > 1]} between shapes, {size_text(size, on)} in all, up to "
            f"{length_text(widest, on.dialect)} wide."
        ),
        remedy="The display may change to its default rate there for a moment. vrx check --fix gives such ground to a "
        "neighbour where shapes enclose it.",
        area_m2=size,
        where=together(one.shape for one in small),
    )


RULE = Rule(id="sliver", looks_at="shapes", needs=("layer", "shapes"), look=look)
