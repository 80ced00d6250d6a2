"""Rates of the map lie below 0.

Why it matters: nothing can be taken off the ground. A display shuts off, gives the default rate or
refuses the map.

How to put it right: ask whoever made the map what is meant. Where it is no need, write 0; where it
is a code for missing data, write the rate that is to go on.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from vrx.checks.records import area_of, having_ground, on_area, place_of, told_by_rate
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    with np.errstate(invalid="ignore"):
        below = on.the_rates.rates < -on.the_rates.tolerance
    found = np.flatnonzero(below & having_ground(on)).tolist()
    if found:
        yield Seen(
            message=f"Rates below 0: {told_by_rate(on, found)}{on_area(on, found)}.",
            remedy="Ask whoever made the map what goes there, and have it written: 0 where nothing does.",
            area_m2=area_of(on, found),
            where=place_of(on, found),
            indices=tuple(found),
        )


RULE = Rule(id="rate-negative", looks_at="rates", needs=("layer", "rates"), look=look)
