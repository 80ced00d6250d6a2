"""What the map says of its map coordinates (CRS) is no system that is known.

Why it matters: where it can't be read, the map lies nowhere. Where it can, but under a name of its
own, a display that goes by names may place it elsewhere.

How to put it right: have the map saved again in WGS 84 longitude and latitude. Where it can be
read here, look in the report whether it lies where the field is.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.reader_words import noticed, refused
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.errors import UnknownCrsError
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    yield from refused(on, UnknownCrsError)
    yield from noticed(on, "crs-unknown")


RULE = Rule(id="crs-unknown", looks_at="file", needs=(), look=look)
