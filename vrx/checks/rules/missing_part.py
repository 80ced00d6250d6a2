"""A part of a shapefile is missing beside it.

Why it matters: a shapefile is several files of one name. A display may refuse it where one is
missing, though it can be read here; without the .dbf there are no rates at all.

How to put it right: have all files of that name sent together, or as one .zip.

Source: J-7855.
"""

from __future__ import annotations

from collections.abc import Iterator

from vrx.checks.reader_words import noticed
from vrx.checks.rule import Rule, Seen, Unseen
from vrx.model.checked_map import CheckedMap


def look(on: CheckedMap) -> Iterator[Seen | Unseen]:
    yield from noticed(on, "missing-part")


RULE = Rule(id="missing-part", looks_at="file", look=look)
