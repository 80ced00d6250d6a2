"""The whole map has one rate.

Why it matters: it does no more than a rate set by hand, and may not be the map that was meant.

How to put it right: nothing, if it is meant; else ask whoever made the map for the one with rates
by zone.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from vrx.checks.bad_cells import bad_cells
from vrx.checks.records import above_zero, rate_text
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    rates = on.the_rates
    at = np.flatnonzero(above_zero(on))
    unread = any(bad_cells(on, kind) for kind in ("empty", "not-a-number", "two-readings", "no-data-code"))
    if not len(at) or unread or np.ptp(rates.rates[at]) > 2 * rates.tolerance:
        return
    off = bool(((rates.rates <= rates.tolerance) & (rates.rates >= -rates.tolerance)).any())
    yield Seen(
        message=(
            f"All ground {'that gets any ' if off else ''}has one rate, {rate_text(on, int(at[0]))}: the machine would "
            f"do the same with that rate set by hand{', shut off where the map has 0' if off else ''}."
        ),
        remedy="Nothing, if it is meant; else ask for the map with rates by zone.",
    )


RULE = Rule(id="flat-map", looks_at="rates", needs=("layer", "rates"), look=look)
