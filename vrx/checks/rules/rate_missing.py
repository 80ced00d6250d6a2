"""Ground of the map has no rate: its cell is empty.

Why it matters: displays differ in what they do where a map says nothing; some shut off, some give
the default rate, some keep the last one.

How to put it right: have a rate written for every zone; where nothing is to go on, that rate is 0.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.bad_cells import bad_cells
from vrx.checks.records import area_of, named, on_area, place_of
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    found = [one.index for one in bad_cells(on, "empty")]
    if not found:
        return
    many = "record has" if len(found) == 1 else "records have"
    yield Seen(
        message=(
            f"{len(found)} {many} no rate in column {on.the_rates.column}: {named(on, found)}{on_area(on, found)}."
        ),
        remedy="Ask whoever made the map what goes there, and have it written: 0 where nothing does.",
        area_m2=area_of(on, found),
        where=place_of(on, found),
        indices=tuple(found),
    )


RULE = Rule(id="rate-missing", looks_at="rates", needs=("layer", "rates"), look=look)
