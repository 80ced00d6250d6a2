"""The map leaves out ground along the boundary of the field.

Why it matters: that ground has no rate: the display gives its default rate there, or shuts off.
Much of it means that the map was made for another boundary, or stops short of the headland.

How to put it right: look where it lies. Have the map drawn up to the boundary; where the map is
right, the boundary is not, and everything that is measured within it.

Source: common practice, no source, for the share of 0.1 %.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from vrx.checks.bare import left_out
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.checks.telling import place_text, share_text, size_text, together
from vrx.model.checked_map import CheckedMap

SMALL_SHARE: Final = 0.001


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    found = left_out(on)
    if not found:
        return
    size = sum(one.area_m2 for one in found)
    share = size / on.the_ground.boundary_area_m2
    where = "at" if len(found) == 1 else f"in {len(found)} places, the largest at"
    yield Seen(
        severity="note" if share <= SMALL_SHARE else "caution",
        message=(
            f"The map leaves out {size_text(size, on)} of the field along its boundary, {share_text(share)} of it, "
            f"{where} {place_text(found[0].shape, on)}."
        ),
        remedy="Look whether the map was made for this boundary; what it leaves out gets the display's default rate.",
        area_m2=size,
        where=together(one.shape for one in found),
    )


RULE = Rule(id="not-covered", looks_at="shapes", needs=("layer", "shapes", "field"), look=look)
