"""A number that stands for missing data, such as -9999, is written where a rate should be.

Why it matters: a display takes it for a rate. What it does then, nobody knows.

How to put it right: ask whoever made the map what goes there, and have that rate written: 0 where
nothing goes on.

Source: common practice, no source; the codes are those of the trade's files.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.bad_cells import bad_cells, cells_text
from vrx.checks.records import area_of, on_area, place_of
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    cells = bad_cells(on, "no-data-code")
    if not cells:
        return
    found = [one.index for one in cells]
    many = "record holds" if len(found) == 1 else "records hold"
    yield Seen(
        message=(
            f"{len(found)} {many} a code for missing data in column {on.the_rates.column}: "
            f"{cells_text(on, cells)}{on_area(on, found)}."
        ),
        remedy="Ask whoever made the map what goes there, and have it written: 0 where nothing does.",
        area_m2=area_of(on, found),
        where=place_of(on, found),
        indices=tuple(found),
    )


RULE = Rule(id="rate-no-data-code", looks_at="rates", needs=("layer", "rates"), look=look)
