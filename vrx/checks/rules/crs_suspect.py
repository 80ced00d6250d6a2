"""The coordinates of the map do not fit the map coordinates (CRS) that it says it is in.

Why it matters: latitude and longitude may be swapped, or metres be called degrees. The map then
lies in another place than the field, or nowhere on earth.

How to put it right: have the map saved again with the CRS that it was made in, longitude first.

Source: common practice, no source; the region of a CRS is the one that the EPSG dataset gives.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.reader_words import noticed, refused
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.errors import ImpossiblePlaceError
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    yield from refused(on, ImpossiblePlaceError)
    yield from noticed(on, "crs-suspect")


RULE = Rule(id="crs-suspect", looks_at="file", needs=(), look=look)
