"""Cells that should hold rates hold something that is no number, or one that is read in two ways.

Why it matters: one display reads 12,5 as 12, another as 125, a third as nothing; 1,250 is a
thousand times as much to some as to others.

How to put it right: have the cells written as plain numbers with a point. Where all commas are
decimal marks, check the map with --decimal ",": the display has to be told the same.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.bad_cells import bad_cells, cells_text
from vrx.checks.records import area_of, on_area, place_of
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap
from vrx.model.layer import BadCell


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    yield from _seen(bad_cells(on, "not-a-number"), "no number", _remedy(bad_cells(on, "not-a-number")), on)
    twice = "Ask whoever made the map which one is meant, and have it written without a comma: 1250 or 1.25."
    yield from _seen(bad_cells(on, "two-readings"), "a number that is read in two ways", twice, on)


def _remedy(cells: list[BadCell]) -> str:
    if any("," in one.text for one in cells):
        return 'Have the cells written as plain numbers, 12.5. Where every comma is a decimal mark, say --decimal ",".'
    return "Ask whoever made the map what is meant, and have the cells written as plain numbers."


def _seen(cells: list[BadCell], what: str, remedy: str, on: CheckedMap) -> Iterator[Seen]:
    if not cells:
        return
    found = [one.index for one in cells]
    many = "record holds" if len(found) == 1 else "records hold"
    yield Seen(
        message=(
            f"{len(found)} {many} {what} in column {on.the_rates.column}: {cells_text(on, cells)}{on_area(on, found)}."
        ),
        remedy=remedy,
        area_m2=area_of(on, found),
        where=place_of(on, found),
        indices=tuple(found),
    )


RULE = Rule(id="rate-not-a-number", looks_at="rates", needs=("layer", "rates"), look=look)
